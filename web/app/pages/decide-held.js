// What waits or stands apart: an entry, or the entries of one group, with what they would change, why they are held, and the
// two answers. The server takes the answer to one of a group for all of them.
import { useSignal } from "@preact/signals";
import { useDraft, useRecord, useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message, StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";
import { aboutRecord } from "./about-record.js";
import { useOwnDecision } from "./decide-conflict.js";
import { Differences, heldReason } from "./history.js";
import { isHeldForPassword } from "./password-session.js";
import { momentText } from "./record-words.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** @param {{ rows: RecordRow[], words: any, mayDecide: boolean }} props  One or more rows. */
export function HeldQuestion({ rows, words, mayDecide }) {
  const [row] = /** @type {[RecordRow]} */ (rows);
  const tepal = useTepal();
  const { language } = useSettings();
  const { outcome, reason, member, action, text } = /** @type {any} */ (row.shown.fields);
  const entry = read(text);
  const draftKey = `decide/${row.id}`;
  const draft = useDraft(draftKey, { reason: "" });
  const wrong = useSignal("");
  const own = useOwnDecision(row.id);
  const who = words.nameOf("member", member) ?? t("office.somebody");
  const isReasonOwed = reason === "reason_owed" && !entry.reason;

  /** @param {"accept" | "refuse"} decision */
  async function decide(decision) {
    const given = draft.value.reason.trim();
    if (given === "" && (isReasonOwed || decision === "refuse")) {
      wrong.value = t(decision === "refuse" ? "decide.refuse_reason" : "decide.accept_reason");
      return;
    }
    try {
      const act = tepal.save.act(
        row.kind,
        row.id,
        "decide",
        { decision: { was: null, to: decision } },
        given || null,
      );
      await tepal.save.all([act], { draft: draftKey });
    } catch (error) {
      wrong.value = t("office.not_saved", { cause: String(error) });
    }
  }

  return html`<article class="card case">
    <div class="spread"><h3>${who} · ${action ? t(`held.action.${action}`) : t("held.unreadable")}</h3>
      <${StateChip} tone=${outcome === "quarantined" ? "caution" : "waiting"} icon=${outcome === "quarantined" ? "stop" : "clock"}>${t(`office.outcome.${outcome === "quarantined" ? "quarantined" : "waiting"}`)}<//></div>
    <p class="muted small">${momentText(entry.made_at, language.value)}${words.nameOf("device", row.shown.fields.device) ? ` · ${words.nameOf("device", row.shown.fields.device)}` : ""}</p>
    <p>${heldReason(reason)}</p>
    ${rows.length > 1 && html`<p><b>${t("decide.together", { n: rows.length })}</b></p>`}
    ${rows.map((one) => html`<${Asks} key=${one.id} row=${one} words=${words} />`)}
    ${entry.reason && html`<p>${t("office.reason_was")} <b>${entry.reason}</b></p>`}
    ${isHeldForPassword(own) && html`<${Message} tone="waiting" icon="lock" title=${t("password.holds")} live=${true}><p>${t("password.holds_why")}</p><//>`}
    ${own?.outcome === "quarantined" && html`<${Message} tone="caution" title=${t("decide.did_not_take")} live=${true}><p>${heldReason(own.outcome_reason)}</p><//>`}
    ${
      mayDecide &&
      html`<${TextField} label=${t("answer.reason")} isOptional=${!isReasonOwed} hint=${t(isReasonOwed ? "decide.reason_owed_hint" : "decide.refuse_hint")} value=${draft.value.reason} maxLength=${500}
          error=${wrong.value || undefined} onValue=${(/** @type {string} */ value) => {
            wrong.value = "";
            draft.merge({ reason: value });
          }} />
        <div class="row"><${Button} icon="check" onPress=${() => decide("accept")}>${t("decide.accept")}<//>
          <${Button} kind="danger" icon="close" onPress=${() => decide("refuse")}>${t("decide.refuse")}<//></div>`
    }
  </article>`;
}

/** The record that one entry speaks of, and what would become of it. @param {{ row: RecordRow, words: any }} props */
function Asks({ row, words }) {
  const { language } = useSettings();
  const { of_kind: kind, of_id: id, action, text } = /** @type {any} */ (row.shown.fields);
  const { changes, fields } = read(text);
  const about = useRecord(kind ?? "held", id ?? row.id);
  const isVoiding = action === "void" || (action === "request" && Object.keys(changes).length === 0);
  return html`<p>${kind ? aboutRecord(kind, id, about?.shown.fields ?? fields, language.value, Boolean(about)) : ""}</p>
    ${isVoiding && html`<p><b>${t("held.would_void")}</b></p>`}
    <${WouldChange} kind=${kind} changes=${changes} isNew=${!about} words=${words} />`;
}

/** @param {{ kind: string | undefined, changes: Record<string, any>, isNew: boolean, words: any }} props */
function WouldChange({ kind, changes, isNew, words }) {
  if (!kind || Object.keys(changes).length === 0) return null;
  return html`<div><p class="muted small">${t(isNew ? "held.would_enter" : "held.would_change")}</p><${Differences} found=${words.differences(kind, changes)} /></div>`;
}

/**
 * The entry in a held text; empty where the text is none, which is what it is held for.
 * @param {string | undefined} text
 * @returns {{ made_at: any, reason: string | null, changes: Record<string, any>, fields: Record<string, any> }}
 */
function read(text) {
  try {
    const { made_at = null, reason = null, changes = {} } = JSON.parse(text ?? "");
    const fields = Object.fromEntries(
      Object.entries(changes).map(([name, change]) => [name, /** @type {any} */ (change)?.to]),
    );
    return { made_at, reason, changes, fields };
  } catch {
    return { made_at: null, reason: null, changes: {}, fields: {} };
  }
}
