// The history of a record, from the office: who, when, on which device, what it was and what it became, and why.
import { html } from "../ui/html.js";
import { StateChip } from "../ui/state.js";
import { clockTime, dayAt, shortDay } from "../ui/when.js";
import { hasWords, t } from "../ui/words.js";
import { momentText } from "./record-words.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("./record-words.js").Difference} Difference */

/**
 * @param {{ entries: any[], kind: string, words: ReturnType<typeof import("./record-words.js").useValueWords> }} props
 */
export function History({ entries, kind, words }) {
  return html`<ol class="history">${[...entries].reverse().map((entry) => html`<${Entry} key=${entry.seq} entry=${entry} kind=${kind} words=${words} />`)}</ol>`;
}

/** @param {{ entry: any, kind: string, words: any }} props */
function Entry({ entry, kind, words }) {
  const { language } = useSettings();
  const received = Date.parse(entry.received_at);
  const receivedText = `${shortDay(dayAt(received), language.value)}, ${clockTime(received)}`;
  const isFirst = entry.action === "create";
  return html`<li class="history-entry">
    <p><b>${entry.member_name || t("office.somebody")}</b> · ${actionText(entry, kind)} <${Outcome} entry=${entry} /></p>
    <p class="muted small">${t("office.made_at", { at: momentText(entry.made_at, language.value) || "–", device: entry.device_label || t("office.some_device") })}${" · "}${t("office.received_at", { at: receivedText, seq: entry.seq })}</p>
    ${
      isFirst
        ? html`<details><summary>${t("office.first_values")}</summary><${Differences} found=${words.differences(kind, entry.changes)} /></details>`
        : html`<${Differences} found=${differencesOf(entry, kind, words)} />`
    }
    ${entry.reason && html`<p>${t("office.reason_was")} <b>${reasonText(entry)}</b></p>`}
  </li>`;
}

/** A person's reason as written; the office's own ones are codes. @param {any} entry */
function reasonText(entry) {
  const code = `${entry.kind}.reason.${entry.reason}`;
  return hasWords(code) ? t(code) : entry.reason;
}

/** @param {any} entry @param {string} kind @param {any} words @returns {Difference[]} */
function differencesOf(entry, kind, words) {
  if (entry.kind === kind) return words.differences(kind, entry.changes);
  const decision = entry.changes?.decision?.to;
  if (entry.kind === "conflict" && decision)
    return words.differences(kind, { [entry.about.field]: { was: decision.over, to: decision.value } });
  return words.differences(kind, entry.about?.changes);
}

/** @param {any} entry @param {string} kind */
function actionText(entry, kind) {
  if (entry.kind === kind) return t(`action.${entry.action}`);
  if (entry.kind === "conflict") return t("office.decided_two_values");
  return t(entry.changes?.decision?.to === "accept" ? "office.accepted_held" : "office.refused_held");
}

/** @param {{ entry: any }} props */
function Outcome({ entry }) {
  if (entry.outcome === "conflicted")
    return html`<${StateChip} tone="caution" icon="differ">${t("office.outcome.conflicted")}<//>`;
  if (entry.outcome === "waiting")
    return html`<${StateChip} tone="waiting">${t("office.outcome.waiting")}<//>`;
  if (entry.outcome === "quarantined")
    return html`<${StateChip} tone="caution">${t("office.outcome.quarantined")}<//>`;
  return null;
}

/**
 * Why an entry is held, in words. @param {string | null | undefined} reason
 */
export function heldReason(reason) {
  const code = `held.reason.${reason}`;
  return hasWords(code) ? t(code) : t("held.reason.other", { code: reason ?? "?" });
}

/** From and to, one line a value. @param {{ found: Difference[] }} props */
export function Differences({ found }) {
  if (found.length === 0) return null;
  return html`<dl class="differences">${found.map(
    ({ label, was, to }) => html`<div><dt>${label}</dt>
      <dd>${was !== null && html`<del class="old"><span class="visually-hidden">${t("office.was")} </span>${was}</del> <span aria-hidden="true">→</span> `}<ins class="new">${to ?? t("office.nothing")}</ins></dd></div>`,
  )}</dl>`;
}
