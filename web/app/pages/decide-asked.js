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

/** @param {{ rows: RecordRow[], words: any }} props */
export function Asked({ rows, words }) {
  if (rows.length === 0) return null;
  const newest = [...rows].sort((a, b) => (b.confirmed?.revision ?? 0) - (a.confirmed?.revision ?? 0));
  return html`<section class="stack"><h2>${t("asked.title")}</h2><p class="muted">${t("asked.under")}</p>
    <ul class="list">${newest.slice(0, MOST).map((row) => html`<${One} key=${row.id} row=${row} words=${words} />`)}</ul></section>`;
}

/** @param {{ row: RecordRow, words: any }} props */
function One({ row, words }) {
  const { language } = useSettings();
  const fields = /** @type {any} */ (row.shown.fields);
  const about = useRecord(fields.of_kind ?? "held", fields.of_id ?? row.id);
  const { decision, decided_by: by, decision_reason: why } = fields;
  const name = words.nameOf("member", by) ?? t("office.somebody");
  return html`<li class="list-row"><span class="grows choice-text">
      <b>${fields.of_kind ? aboutRecord(fields.of_kind, fields.of_id, about?.shown.fields ?? asked(fields.text), language.value) : t("held.unreadable")}</b>
      <span class="choice-detail">${t(`held.action.${fields.action ?? "change"}`)}${decision && by ? ` · ${t("asked.by", { name })}` : ""}</span>
      ${!decision && html`<span class="choice-detail">${heldReason(fields.reason)}</span>`}
      ${why && html`<span class="choice-detail">${t("asked.why")} <b>${why}</b></span>`}</span>
    ${
      decision
        ? html`<${StateChip} tone=${decision === "refuse" ? "stopped" : "passed"}>${t(decision === "refuse" ? "asked.refused" : "asked.accepted")}<//>`
        : html`<${StateChip} tone="waiting">${t("office.outcome.waiting")}<//>`
    }</li>`;
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
