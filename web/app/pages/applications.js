// The applications of a month: the office's book where it can be reached, else what this phone holds, named as such.
import { useLocation } from "preact-iso";
import { useRecords, useTepal } from "../state/context.js";
import { Amount } from "../ui/amounts.js";
import { Button, GoButton } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { clockTime, dayName, monthName } from "../ui/when.js";
import { t } from "../ui/words.js";
import { appliedOf, dayOf, inConflict, Place, placesOf, RecordState, timesOf } from "./applied.js";
import { failureText } from "./device.js";
import { useWrittenNumbers } from "./establishment.js";
import { useOnline, useWide } from "./online.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("./applied.js").Applied} Applied */
/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** @param {{ frame: any, query: Record<string, string> }} props */
export function ApplicationsPage({ frame, query }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const { route } = useLocation();
  const isWide = useWide();
  const present = tepal.wall().local.slice(0, 7);
  const month = /^\d{4}-(0[1-9]|1[0-2])$/.test(query.month ?? "") ? query.month : present;
  const online = useOnline(`/applications?month=${month}`);
  const rows = useRecords("application");
  const conflicts = inConflict(useRecords("conflict"));
  const found = together(online.reply?.applications ?? [], rows ?? [], month);
  const months = monthsOf(online.reply?.months ?? [], rows ?? [], present, month);
  const paper = tepal.api.url(`/reports/month?month=${month}&language=${language.value}`);

  return frame(
    null,
    html`<${Page} title=${t("place.applications")} under=${sourceText(online, tepal)}
      actions=${html`<div class="head-act"><${PrintMonth} paper=${paper} online=${online} /></div>`}>
      <label class="field month-field"><span class="field-label">${t("office.month")}</span>
        <select class="input" value=${month} onChange=${(/** @type {any} */ event) => route(`/applications?month=${event.currentTarget.value}`, true)}>
          ${months.map((one) => html`<option value=${one} selected=${one === month}>${monthName(one, language.value)}</option>`)}
        </select></label>
      ${
        online.failed &&
        html`<${Message} tone="waiting" icon="offline" title=${t("office.only_this_phone")} live=${true}>
          <p>${failureText(online.failed)}</p><p>${t("office.only_this_phone_why")}</p>
          <${Button} icon="sync" onPress=${online.again}>${t("office.ask_again")}<//><//>`
      }
      ${online.isAsking && found.length === 0 ? html`<p class="muted" role="status">${t("office.asking")}</p>` : html`<${Days} found=${found} month=${month} conflicts=${conflicts} isWide=${isWide} />`}
    <//>`,
  );
}

/**
 * The paper is made by the office: a link while it answers, else a button that asks again.
 * @param {{ paper: string, online: import("./online.js").Online }} props
 */
function PrintMonth({ paper, online }) {
  return online.failed
    ? html`<${GoButton} isOff=${true} onPress=${online.again}>${t("office.print_month")}<//>`
    : html`<${GoButton} href=${paper} isNewTab=${true}>${t("office.print_month")}<//>`;
}

/** @param {{ found: Applied[], month: string, conflicts: Set<string>, isWide: boolean }} props */
function Days({ found, month, conflicts, isWide }) {
  const { language } = useSettings();
  const fieldsOf = useFieldsOf();
  const numberFormat = useWrittenNumbers();
  if (found.length === 0) {
    return html`<${EmptyState} icon="book" title=${t("office.none_in_month", { month: monthName(month, language.value) })}>
      <p>${t("office.none_in_month_why")}</p><${Button} href="/apply" icon="sprayer">${t("today.apply")}<//><//>`;
  }
  /** @type {Map<string, Applied[]>} */
  const days = new Map();
  for (const applied of found)
    days.set(dayOf(applied.fields), [...(days.get(dayOf(applied.fields)) ?? []), applied]);
  const shared = { fieldsOf, numberFormat, conflicts };
  const named = [...days].map(([day, ones]) => ({
    name: day ? dayName(Date.parse(`${day}T12:00:00Z`), language.value, "UTC") : t("office.no_day"),
    ones,
  }));
  return html`<p class="muted" role="status">${t("office.n_applications", { n: found.length })}</p>
    ${
      isWide
        ? html`<${Table} days=${named} ...${shared} />`
        : named.map(
            ({ name, ones }) => html`<section class="day" key=${name}><h2>${name}</h2>
              <div class="stack">${ones.map((applied) => html`<${Card} key=${applied.id} applied=${applied} ...${shared} />`)}</div></section>`,
          )
    }`;
}

/** @param {{ days: { name: string, ones: Applied[] }[], fieldsOf: any, numberFormat: string, conflicts: Set<string> }} props */
function Table({ days, ...shared }) {
  return html`<div class="table-frame"><table class="table book">
    <thead><tr><th>${t("office.column.times")}</th><th>${t("office.column.where")}</th><th>${t("office.column.mix")}</th>
      <th class="num">${t("office.column.volume")}</th><th>${t("office.column.by")}</th><th>${t("office.column.record")}</th></tr></thead>
    ${days.map(
      ({
        name,
        ones,
      }) => html`<tbody key=${name}><tr class="day-row"><th colspan="6" scope="rowgroup">${name}</th></tr>
        ${ones.map((applied) => html`<${Row} key=${applied.id} applied=${applied} ...${shared} />`)}</tbody>`,
    )}</table></div>`;
}

/** @param {{ applied: Applied, fieldsOf: any, numberFormat: string, conflicts: Set<string> }} props */
function Row({ applied, fieldsOf, numberFormat, conflicts }) {
  const { fields } = applied;
  return html`<tr class=${`act-row${applied.state === "void" ? " is-void" : ""}`}>
    <td><a class="cell-link q" href=${`/applications/${applied.id}`}>${timesOf(fields)}</a></td>
    <td><div class="stack-1">${placesOf(fields.lines ?? [], fieldsOf).map((place) => html`<${Place} place=${place} />`)}</div></td>
    <td>${mixOf(fields)}</td>
    <td class="num"><${Amount} stored=${fields.volume} numberFormat=${numberFormat} /></td>
    <td>${operatorOf(fields, fieldsOf)}</td>
    <td><${RecordState} applied=${applied} hasConflict=${conflicts.has(applied.id)} /></td>
  </tr>`;
}

/** @param {{ applied: Applied, fieldsOf: any, numberFormat: string, conflicts: Set<string> }} props */
function Card({ applied, fieldsOf, numberFormat, conflicts }) {
  const { fields } = applied;
  return html`<a class=${`card${applied.state === "void" ? " is-void" : ""}`} href=${`/applications/${applied.id}`}>
    <span class="spread"><b class="q">${timesOf(fields)}</b><${Amount} stored=${fields.volume} numberFormat=${numberFormat} /></span>
    ${placesOf(fields.lines ?? [], fieldsOf).map((place) => html`<${Place} place=${place} />`)}
    <span>${mixOf(fields)}<span class="muted"> · ${operatorOf(fields, fieldsOf)}</span></span>
    <${RecordState} applied=${applied} hasConflict=${conflicts.has(applied.id)} />
  </a>`;
}

/** @param {Record<string, any>} fields */
const mixOf = (fields) =>
  fields.mix_name ||
  (fields.products ?? []).map((/** @type {any} */ product) => product.name).join(" + ") ||
  t("office.no_mix");

/** @param {Record<string, any>} fields @param {(kind: string, id: string) => any} fieldsOf */
const operatorOf = (fields, fieldsOf) =>
  fields.operator_name || fieldsOf("member", fields.operator)?.name || t("office.not_on_file");

/** A function (kind, id) -> the record's fields on this phone. */
export function useFieldsOf() {
  /** @type {Record<string, RecordRow[]>} */
  const lists = {};
  for (const kind of ["lot", "bench", "house", "member"]) lists[kind] = useRecords(kind) ?? [];
  return (/** @type {string} */ kind, /** @type {string} */ id) =>
    lists[kind].find((row) => row.id === id)?.shown.fields;
}

/**
 * The office's rows and this phone's, each once, newest day first and by time within the day. This phone's row stands
 * where it knows at least as much: it holds what was entered here and not sent yet.
 * @param {any[]} answered @param {RecordRow[]} rows @param {string} month
 * @returns {Applied[]}
 */
function together(answered, rows, month) {
  const here = new Map(rows.map((row) => [row.id, row]));
  const found = new Map();
  for (const record of answered) {
    const row = here.get(record.id);
    const isNewer = row && (row.pending.length > 0 || row.shown.revision >= record.revision);
    found.set(
      record.id,
      isNewer ? appliedOf(row, record.amended) : { ...record, isAmended: record.amended, isUnsent: false },
    );
  }
  for (const row of rows) {
    if (!found.has(row.id) && dayOf(row.shown.fields).startsWith(month)) found.set(row.id, appliedOf(row));
  }
  const startOf = (/** @type {Applied} */ one) => one.fields.started_at?.local ?? "";
  return [...found.values()].sort(
    (a, b) => dayOf(b.fields).localeCompare(dayOf(a.fields)) || startOf(a).localeCompare(startOf(b)),
  );
}

/** @param {string[]} answered @param {RecordRow[]} rows @param {string} present @param {string} chosen */
function monthsOf(answered, rows, present, chosen) {
  const here = rows.map((row) => dayOf(row.shown.fields).slice(0, 7)).filter(Boolean);
  return [...new Set([...answered, ...here, present, chosen])].sort().reverse();
}

/** @param {import("./online.js").Online} online @param {import("../state/tepal.js").Tepal} tepal */
function sourceText(online, tepal) {
  if (online.reply !== null && online.failed === null) return t("office.whole_book");
  const at = tepal.heard.value;
  return at === null
    ? t("sync.never_heard")
    : t("office.phone_heard", { time: clockTime(Date.parse(at.server)) });
}
