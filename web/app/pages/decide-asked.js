// What a person asked for or proposed, and the answer: waiting, accepted or refused, by whom and why.
import { useRecord } from "../state/context.js";
import { html } from "../ui/html.js";
import { StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";
import { aboutRecord } from "./about-record.js";
import { heldReason } from "./history.js";
import { useSettings } from "./settings-context.js";

const MOST = 30; // the newest answers; older ones stay in the record's history

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** @param {{ questions: RecordRow[][], words: any }} props  What belongs together is one line with one answer. */
export function Asked({ questions, words }) {
  if (questions.length === 0) return null;
  const newest = [...questions].sort((a, b) => newestOf(b) - newestOf(a));
  return html`<section class="stack"><h2>${t("asked.title")}</h2><p class="muted">${t("asked.under")}</p>
    <ul class="list">${newest.slice(0, MOST).map((rows) => html`<${One} key=${rows[0]?.id} rows=${rows} words=${words} />`)}</ul></section>`;
}

/** @param {RecordRow[]} rows */
const newestOf = (rows) => Math.max(...rows.map((row) => row.confirmed?.revision ?? 0));

/** @param {{ rows: RecordRow[], words: any }} props */
function One({ rows, words }) {
  const fields = /** @type {any} */ (rows[0]?.shown.fields);
  const { decision, decided_by: by, decision_reason: why } = fields;
  const name = words.nameOf("member", by) ?? t("office.somebody");
  return html`<li class="list-row"><span class="grows choice-text">
      ${rows.map((row) => html`<${About} key=${row.id} row=${row} />`)}
      <span class="choice-detail">${t(`held.action.${fields.action ?? "change"}`)}${decision && by ? ` · ${t("asked.by", { name })}` : ""}</span>
      ${!decision && html`<span class="choice-detail">${heldReason(fields.reason)}</span>`}
      ${why && html`<span class="choice-detail">${t("asked.why")} <b>${why}</b></span>`}</span>
    ${
      decision
        ? html`<${StateChip} tone=${decision === "refuse" ? "stopped" : "passed"}>${t(decision === "refuse" ? "asked.refused" : "asked.accepted")}<//>`
        : html`<${StateChip} tone="waiting">${t("office.outcome.waiting")}<//>`
    }</li>`;
}

/** @param {{ row: RecordRow }} props */
function About({ row }) {
  const { language } = useSettings();
  const { of_kind: kind, of_id: id, text } = /** @type {any} */ (row.shown.fields);
  const about = useRecord(kind ?? "held", id ?? row.id);
  return html`<b>${kind ? aboutRecord(kind, id, about?.shown.fields ?? asked(text), language.value, Boolean(about)) : t("held.unreadable")}</b>`;
}

/** The values that were asked for. @param {string | undefined} text */
function asked(text) {
  try {
    const { changes = {} } = JSON.parse(text ?? "");
    return Object.fromEntries(
      Object.entries(changes).map(([name, change]) => [name, /** @type {any} */ (change)?.to]),
    );
  } catch {
    return {};
  }
}
