// One record of a register: what is on file, what is missing, what hangs on it, and the way to change it.
import { useSignal } from "@preact/signals";
import { useState } from "preact/hooks";
import { choiceLabel, fieldLabel } from "../forms/labels.js";
import { useRecord, useRecords, useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { EmptyState, Message, StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";
import { Ingredients, NoRei } from "./application-facts.js";
import { BenchArea } from "./bench-area.js";
import { Calibrations } from "./calibrations.js";
import { Certificates } from "./certificates.js";
import { SetPin } from "./enrol.js";
import { HousePlan } from "./house-plan.js";
import { LabelFiles } from "./label-files.js";
import { LabelUses } from "./label-uses.js";
import { LotLife, LotNow } from "./lot-life.js";
import { may } from "./may.js";
import { SetPassword } from "./people.js";
import { ProgramOrders } from "./program-orders.js";
import { recordName, useValueWords } from "./record-words.js";
import { AddLink } from "./register-list.js";
import { backOf, isRetired, REGISTERS } from "./registers.js";
import { BatchesOf, BatchLeft, Cost, CountsOf } from "./stock-parts.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

// What a label says: where it is empty, the label in the hand is read.
const READ_THE_LABEL = new Set([
  "ppe_mixing", "ppe_applying", "first_aid", "signal_word", "respirator", "restricted_use", "double_notice", "early_entry_ppe",
  "tank_mixing", "adjuvants", "water_wait", "hours_limited", "stage_limited", "registration_number", "label_on",
]); // biome-ignore format: a list of names
// What somebody will look for in an emergency, though no paper asks for it.
const WANTED = new Set([
  "establishment.medical_facility",
  "establishment.pesticide_agency",
  "establishment.poison_line",
  "establishment.eyewash",
  "establishment.spill",
  "establishment.country",
]);

/** The page of one record of a kind. @param {string} kind */
export const recordPage =
  (kind) =>
  (/** @type {{ frame: any, id: string }} */ { frame, id }) =>
    html`<${RecordPage} kind=${kind} frame=${frame} id=${id} />`;

/** @param {{ kind: string, frame: any, id: string }} props */
export function RecordPage({ kind, frame, id }) {
  const { session } = useTepal();
  const row = useRecord(kind, id);
  const words = useValueWords();
  const register = REGISTERS[kind];
  const back = backOf(register, row?.shown.fields ?? {});
  const backTo = html`<${Button} kind="quiet" icon="back" href=${back.href}>${t(back.words)}<//>`;
  if (!row) {
    return frame(
      null,
      html`<${Page} title=${t(`kind.${kind}`)} actions=${backTo}>
        ${row === null && html`<${EmptyState} icon=${register.icon} title=${t("register.not_here")} />`}<//>`,
    );
  }
  const { fields } = row.shown;
  const word = may(session.value, register.guard);
  return frame(
    null,
    html`<${Page} title=${titleOf(kind, fields)} under=${t(`kind.${kind}`)} actions=${backTo} isReading=${kind !== "house"}>
      ${row.pending.length > 0 && html`<div><${StateChip} tone="waiting" icon="phone">${t("office.state.only_here")}<//></div>`}
      ${fields.retired === true && html`<${Message} tone="plain" title=${t("register.is_retired")}><p>${t("register.is_retired_why")}</p><//>`}
      <${Before} kind=${kind} row=${row} />
      <${Facts} kind=${kind} fields=${fields} words=${words} />
      <${After} kind=${kind} row=${row} />
      <section class="stack acts">
        ${word === "ask" && html`<p class="muted">${t("register.ask_why")}</p>`}
        ${word === "no" && html`<p class="muted">${t("office.read_only")}</p>`}
        ${
          word !== "no" &&
          html`<div class="row"><${Button} icon="pencil" href=${`${register.base}/${id}/change`}>${t(word === "ask" ? "register.propose_change" : "register.change")}<//>
          <${Retire} row=${row} /></div>`
        }
      </section>
    <//>`,
  );
}

/** @param {string} kind @param {Record<string, any>} fields */
function titleOf(kind, fields) {
  if (kind === "certificate") return choiceLabel("certificate.sort", fields.sort ?? "other");
  if (kind === "stock_count") return t("kind.stock_count");
  return recordName(kind, fields) || t(`kind.${kind}`);
}

/** What one comes for, above the facts. @param {{ kind: string, row: RecordRow }} props */
function Before({ kind, row }) {
  if (kind === "house") return html`<${HousePlan} house=${row} />`;
  if (kind === "lot")
    return html`<${LotNow} row=${row} /><div><${Button} icon="ruler" href=${`/lots/${row.id}/watch`}>${t("watch.title")}<//></div>`;
  if (kind === "batch") return html`<${BatchLeft} row=${row} />`;
  return null;
}

/** What hangs on the record, below the facts. @param {{ kind: string, row: RecordRow }} props */
function After({ kind, row }) {
  const { id } = row;
  switch (kind) {
    case "sprayer":
      return html`<${Calibrations} sprayer=${row} />`;
    case "tank_mix":
      return html`<div><${Button} icon="mix" href=${`/mix?mix=${id}`}>${t("mix.open")}<//></div>`;
    case "program":
      return html`<${ProgramOrders} row=${row} />`;
    case "house":
      return html`<${Bays} house=${id} /><${Benches} house=${id} />`;
    case "lot":
      return html`<${LotLife} row=${row} />`;
    case "product":
      return html`<${LabelFiles} product=${row} /><${BatchesOf} product=${row} />`;
    case "batch":
      return html`<${CountsOf} batch=${row} />`;
    case "member":
      return html`<${Certificates} member=${id} /><${SetPassword} row=${row} /><${SetPin} row=${row} />`;
    default:
      return null;
  }
}

/** Out of use, or back. @param {{ row: RecordRow }} props */
function Retire({ row }) {
  const tepal = useTepal();
  const words = useValueWords();
  const [failure, setFailure] = useState("");
  const mayRetire = may(tepal.session.value, REGISTERS[row.kind].guard) === "yes";
  if (!mayRetire || !words.specs(row.kind).some((spec) => spec.name === "retired")) return null;
  const isRetired = row.shown.fields.retired === true;
  const turn = () =>
    tepal.save.change(row, { retired: isRetired ? null : true }).then(
      () => setFailure(""),
      (/** @type {unknown} */ error) => setFailure(t("office.not_saved", { cause: String(error) })),
    );
  return html`<${Button} icon=${isRetired ? "undo" : "close"} onPress=${turn}>${t(isRetired ? "register.bring_back" : "register.retire")}<//>
    ${failure && html`<${Message} tone="stopped" title=${failure} live=${true} />`}`;
}

/** @param {{ kind: string, fields: Record<string, any>, words: any }} props */
function Facts({ kind, fields, words }) {
  const { sections, fields: names } = REGISTERS[kind];
  if (!sections) {
    return html`<dl class="facts">${names.map((name) => html`<${Fact} key=${name} kind=${kind} name=${name} fields=${fields} words=${words} />`)}</dl>`;
  }
  const isEmpty = (/** @type {string} */ name) =>
    name !== "uses" && factOf(kind, name, fields, words) === null;
  return html`<div class="stack-5">${sections
    .filter((section) => !section.fields.every(isEmpty))
    .map(
      (section) => html`<section class="stack" key=${section.title}><h2>${t(section.title)}</h2>
      <dl class="facts">${section.fields.map((name) => html`<${Fact} key=${name} kind=${kind} name=${name} fields=${fields} words=${words} />`)}</dl>
      ${section.fields.includes("uses") && html`<${LabelUses} uses=${fields.uses ?? []} words=${words} />`}</section>`,
    )}</div>`;
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
  if (name === "uses") return null;
  if (name === "ingredients") return html`<${Ingredients} product=${fields} words=${words} />`;
  if (name === "rei" && value === null && kind === "product") return html`<${NoRei} kind=${fields.kind} />`;
  if (name === "components") return html`<${Components} rows=${value ?? []} words=${words} />`;
  if (kind === "batch" && name === "cost" && value !== null) return html`<${Cost} amount=${value} />`;
  if (kind === "bench" && name === "area") return html`<${BenchArea} fields=${fields} />`;
  if (value !== null && value.length !== 0) return words.text(kind, name, value);
  if (isProduct && READ_THE_LABEL.has(name))
    return html`<span class="missing"><${Icon} name="caution" />${t("emergency.read_label")}</span>`;
  const isRequired = words.specs(kind).find((/** @type {any} */ spec) => spec.name === name)?.required;
  const isWanted = isRequired || WANTED.has(`${kind}.${name}`);
  return isWanted ? html`<span class="missing">${t("office.not_on_file")}</span>` : null;
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

/** The bays of a house. @param {{ house: string }} props */
function Bays({ house }) {
  const rows = (useRecords("bay") ?? []).filter(
    ({ shown }) => shown.fields.house === house && shown.state !== "void" && !isRetired(shown.fields),
  );
  const words = useValueWords();
  return html`<section class="stack"><h2>${t("register.bays", { n: rows.length })}</h2>
    ${
      rows.length > 0 &&
      html`<ul class="list">${rows.map(
        ({ id, shown: { fields } }) =>
          html`<li key=${id}><a class="list-row" href=${`/bays/${id}`}><span class="spread"><b>${recordName("bay", fields) || t("office.not_on_file")}</b>
            <span>${[words.text("bay", "length", fields.length), words.text("bay", "width", fields.width)].filter(Boolean).join(" × ")}</span></span><${Icon} name="forward" /></a></li>`,
      )}</ul>`
    }
    <${AddLink} kind="bay" query=${`?house=${house}`} /></section>`;
}

/** The benches of a house. @param {{ house: string }} props */
export function Benches({ house }) {
  const every = (useRecords("bench") ?? []).filter(
    (row) => row.shown.fields.house === house && row.shown.state !== "void",
  );
  const withRetired = useSignal(false);
  const retired = every.filter(({ shown }) => isRetired(shown.fields)).length;
  const rows = withRetired.value ? every : every.filter(({ shown }) => !isRetired(shown.fields));
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
    <div class="row"><${AddLink} kind="bench" query=${`?house=${house}`} />
    ${
      retired > 0 &&
      html`<${Button} kind="quiet" onPress=${() => {
        withRetired.value = !withRetired.value;
      }}>${t(withRetired.value ? "register.hide_retired" : "register.show_retired", { n: retired })}<//>`
    }</div></section>`;
}
