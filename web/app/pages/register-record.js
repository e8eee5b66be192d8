// One record of a register: what is on file, what is missing, and the way to change it.
import { fieldLabel } from "../forms/labels.js";
import { useRecord, useRecords, useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { EmptyState, StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";
import { Ingredients, NoRei } from "./application-facts.js";
import { BenchArea } from "./bench-area.js";

import { Calibrations } from "./calibrations.js";

import { SetPin } from "./enrol.js";

import { may } from "./may.js";
import { SetPassword } from "./people.js";
import { ProgramOrders } from "./program-orders.js";
import { recordName, useValueWords } from "./record-words.js";
import { AddLink } from "./register-list.js";
import { listOf, REGISTERS } from "./registers.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

const READ_THE_LABEL = new Set(["ppe_mixing", "ppe_applying", "first_aid", "signal_word"]);

/** The page of one record of a kind. @param {string} kind */
export const recordPage =
  (kind) =>
  (/** @type {{ frame: any, id: string }} */ { frame, id }) =>
    html`<${RecordPage} kind=${kind} frame=${frame} id=${id} />`;

/** @param {{ kind: string, frame: any, id: string }} props */
function RecordPage({ kind, frame, id }) {
  const { session } = useTepal();
  const row = useRecord(kind, id);
  const words = useValueWords();
  const register = REGISTERS[kind];
  const back = html`<${Button} kind="quiet" icon="back" href=${listOf(register)}>${t(`register.list.${kind}`)}<//>`;
  if (!row) {
    return frame(
      null,
      html`<${Page} title=${t(`kind.${kind}`)} actions=${back}>
        ${row === null && html`<${EmptyState} icon=${register.icon} title=${t("register.not_here")} />`}<//>`,
    );
  }
  const { fields } = row.shown;
  const word = may(session.value, register.guard);
  return frame(
    null,
    html`<${Page} title=${recordName(kind, fields) || t(`kind.${kind}`)} under=${t(`kind.${kind}`)} actions=${back} isReading=${true}>
      ${row.pending.length > 0 && html`<div><${StateChip} tone="waiting" icon="phone">${t("office.state.only_here")}<//></div>`}
      <dl class="facts">${register.fields.map((name) => html`<${Fact} key=${name} kind=${kind} name=${name} fields=${fields} words=${words} />`)}</dl>
      ${kind === "sprayer" && html`<${Calibrations} sprayer=${row} />`}
      ${kind === "tank_mix" && html`<div><${Button} icon="mix" href=${`/mix?mix=${id}`}>${t("mix.open")}<//></div>`}
      ${kind === "program" && html`<${ProgramOrders} row=${row} />`}
      ${kind === "house" && html`<${Benches} house=${id} />`}
      ${kind === "lot" && html`<div><${Button} icon="ruler" href=${`/lots/${id}/watch`}>${t("watch.title")}<//></div><p class="muted small">${t("register.lot_record")}</p>`}
      ${kind === "member" && html`<${SetPassword} row=${row} /><${SetPin} row=${row} />`}
      <section class="stack acts">
        ${word === "ask" && html`<p class="muted">${t("register.ask_why")}</p>`}
        ${word === "no" && html`<p class="muted">${t("office.read_only")}</p>`}
        ${word !== "no" && html`<div><${Button} icon="pencil" href=${`${register.base}/${id}/change`}>${t(word === "ask" ? "register.propose_change" : "register.change")}<//></div>`}
      </section>
    <//>`,
  );
}

/** @param {{ kind: string, name: string, fields: Record<string, any>, words: any }} props */
function Fact({ kind, name, fields, words }) {
  const shown = factOf(kind, name, fields, words);
  if (shown === null) return null;
  return html`<div><dt>${fieldLabel(`${kind}.${name}`)}</dt><dd>${shown}</dd></div>`;
}

/** @param {string} kind @param {string} name @param {Record<string, any>} fields @param {any} words */
function factOf(kind, name, fields, words) {
  const value = fields[name] ?? null;
  const isProduct = kind === "product" && (fields.kind ?? "product") === "product";
  if (name === "ingredients") return html`<${Ingredients} product=${fields} words=${words} />`;
  if (name === "rei" && value === null) return html`<${NoRei} kind=${fields.kind} />`;
  if (name === "components") return html`<${Components} rows=${value ?? []} words=${words} />`;
  if (kind === "bench" && name === "area") return html`<${BenchArea} fields=${fields} />`;
  if (value !== null) return words.text(kind, name, value);
  if (isProduct && READ_THE_LABEL.has(name))
    return html`<span class="missing"><${Icon} name="caution" />${t("emergency.read_label")}</span>`;
  const isRequired = words.specs(kind).find((/** @type {any} */ spec) => spec.name === name)?.required;
  return isRequired ? html`<span class="missing">${t("office.not_on_file")}</span>` : null;
}

/** Partners of a mix, each with its target. @param {{ rows: any[], words: any }} props */
function Components({ rows, words }) {
  if (rows.length === 0) return html`<span class="missing">${t("office.not_on_file")}</span>`;
  return html`${rows.map(
    (
      row,
      at,
    ) => html`<span class="ingredient" key=${at}>${words.nameOf("product", row.product) ?? t("office.not_on_phone")}
      <b>${" "}${row.matches ? t("register.matches", { n: row.matches }) : (words.inner("tank_mix", "components", "target", row.target) ?? t("office.not_on_file"))}</b></span>`,
  )}`;
}

/** The benches of a house. @param {{ house: string }} props */
export function Benches({ house }) {
  const rows = (useRecords("bench") ?? []).filter(
    (row) => row.shown.fields.house === house && row.shown.state !== "void",
  );
  const sorted = [...rows].sort((a, b) =>
    recordName("bench", a.shown.fields).localeCompare(recordName("bench", b.shown.fields), undefined, {
      numeric: true,
    }),
  );
  return html`<section class="stack"><h2>${t("register.benches", { n: rows.length })}</h2>
    ${
      sorted.length > 0 &&
      html`<ul class="list">${sorted.map(
        ({
          id,
          shown: { fields },
        }) => html`<li key=${id}><a class="list-row" href=${`/benches/${id}`}><span class="spread"><b>${recordName("bench", fields) || t("office.not_on_file")}</b>
          <span><${BenchArea} fields=${fields} /></span></span><${Icon} name="forward" /></a></li>`,
      )}</ul>`
    }
    <${AddLink} kind="bench" query=${`?house=${house}`} /></section>`;
}
