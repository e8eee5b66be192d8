// What became of one plant's values: who entered what, when, and why it changed. From the office.
import { numberFormatOf } from "../core/number_format.js";
import { cellText, MISSING } from "../state/trial-grid.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { failureText } from "./device.js";
import { useWrittenNumbers } from "./establishment.js";
import { useOnline } from "./online.js";
import { momentText } from "./record-words.js";
import { useSettings } from "./settings-context.js";

/** Why there is no value, in the reader's language. @returns {Record<string, string>} */
export const missingWords = () => Object.fromEntries(MISSING.map((why) => [why, t(`missing_why.${why}`)]));

/** @param {{ id: string, trial: any }} props */
export function CellHistory({ id, trial }) {
  const online = useOnline(`/records/observation/${id}/history`);
  const { language } = useSettings();
  const numberFormat = numberFormatOf(useWrittenNumbers());
  if (online.failed)
    return html`<${Message} tone="waiting" icon="offline" title=${t("office.no_history")}><p>${failureText(online.failed)}</p><//>`;
  if (online.isAsking) return html`<p role="status">${t("apply.reading")}</p>`;
  const nameOf = (/** @type {string} */ field) => {
    const code = field.replace(/^m_/, "");
    const known = trial.measurements?.find((/** @type {any} */ one) => one.code === code)?.name;
    return known ?? t(`grid.field.${["note", "stage", "condition"].includes(code) ? code : "other"}`);
  };
  const shown = (/** @type {any} */ value) =>
    cellText(value, numberFormat, missingWords()) || t("office.nothing");
  return html`<ol class="history">${(online.reply.entries ?? []).toReversed().map(
    (/** @type {any} */ entry) => html`<li class="history-entry" key=${entry.seq}>
      <p><b>${entry.member_name || t("office.somebody")}</b> · <span class="muted">${momentText(entry.made_at, language.value) || "–"}</span></p>
      <dl class="differences">${Object.entries(entry.changes ?? {})
        .filter(([field]) => !["trial", "assessment", "plot", "plant"].includes(field))
        .map(
          ([field, { was, to }]) =>
            html`<div key=${field}><dt>${nameOf(field)}</dt><dd>${was !== null && html`<del class="old">${shown(was)}</del> → `}<ins class="new">${shown(to)}</ins></dd></div>`,
        )}</dl>
      ${entry.reason && html`<p>${t("office.reason_was")} <b>${entry.reason}</b></p>`}</li>`,
  )}</ol>`;
}
