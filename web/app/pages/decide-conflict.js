// Two values for one field, side by side: who, when, in words and units. Choose one, or type a third.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { fieldLabel } from "../forms/labels.js";
import { useDraft, useRecord, useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { ChoiceField } from "../ui/choices.js";
import { TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { aboutRecord } from "./about-record.js";
import { useFieldEditor } from "./field-editor.js";
import { useOnline } from "./online.js";
import { isHeldForPassword } from "./password-session.js";
import { momentText } from "./record-words.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {{ choice: string | null, typed: any, reason: string }} Draft */

/** @param {{ row: RecordRow, words: any, mayDecide: boolean }} props */
export function Conflict({ row, words, mayDecide }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const {
    of_kind: kind,
    of_id: id,
    field,
    current,
    other,
    member,
    made_at,
    reason,
  } = /** @type {any} */ (row.shown.fields);
  const record = useRecord(kind, id);
  const online = useOnline(`/records/${kind}/${id}/history`, row.shown.revision);
  const draftKey = `decide/${row.id}`;
  const draft = useDraft(draftKey, /** @type {Draft} */ ({ choice: null, typed: null, reason: "" }));
  const spec = words.specs(kind).find((/** @type {any} */ one) => one.name === field);
  const third = useFieldEditor(kind, spec, draft.value.typed, current);
  const wrong = useSignal("");
  const own = useOwnDecision(row.id);
  const over = record?.shown.fields[field] ?? null;
  const set = (/** @type {Partial<Draft>} */ part) => {
    wrong.value = "";
    draft.merge(part);
  };

  const firstBy = byOf(online.reply?.entries, field, over, tepal);
  const sideBySide = words.differences(kind, { [field]: { was: over, to: other } });
  const choices = [
    {
      value: "current",
      label: t("decide.keep"),
      detail: sideBySide.map((/** @type {any} */ one) => one.was ?? t("office.nothing")).join(" · "),
    },
    {
      value: "other",
      label: t("decide.take"),
      detail: sideBySide.map((/** @type {any} */ one) => one.to ?? t("office.nothing")).join(" · "),
    },
    ...(third.isOffered ? [{ value: "third", label: t("decide.third") }] : []),
  ];

  async function save() {
    const { choice } = draft.value;
    if (choice === null) {
      wrong.value = t("decide.choose_first");
      return;
    }
    const read = choice === "third" ? third.read() : { value: choice === "other" ? other : over };
    if ("problem" in read) {
      wrong.value = read.problem;
      return;
    }
    const to = { value: read.value ?? null, over };
    try {
      const act = tepal.save.act(
        row.kind,
        row.id,
        "decide",
        { decision: { was: null, to } },
        draft.value.reason.trim() || null,
      );
      await tepal.save.all([act], { draft: draftKey });
    } catch (error) {
      wrong.value = t("office.not_saved", { cause: String(error) });
    }
  }

  return html`<article class="card case">
    <h3>${fieldLabel(`${kind}.${field}`)}</h3>
    <p>${aboutRecord(kind, id, record?.shown.fields ?? null, language.value)}</p>
    <div class="rivals">
      <${Side} title=${t("decide.on_record")} texts=${sideBySide.map((/** @type {any} */ one) => ({ label: one.label, text: one.was }))} by=${firstBy.name} at=${momentText(firstBy.made_at, language.value)} reason=${firstBy.reason} />
      <${Side} title=${t("decide.other_value")} texts=${sideBySide.map((/** @type {any} */ one) => ({ label: one.label, text: one.to }))} by=${words.nameOf("member", member)} at=${momentText(made_at, language.value)} reason=${reason} />
    </div>
    ${sideBySide.length === 0 && html`<p class="muted">${t("decide.same_now")}</p>`}
    ${isHeldForPassword(own) && html`<${Message} tone="waiting" icon="lock" title=${t("password.holds")} live=${true}><p>${t("password.holds_why")}</p><//>`}
    ${
      mayDecide &&
      html`<${ChoiceField} label=${t("decide.yours")} choices=${choices} value=${draft.value.choice} onValue=${(/** @type {string} */ choice) => set({ choice })} />
        ${draft.value.choice === "third" && third.control((/** @type {any} */ typed) => set({ typed }))}
        <${TextField} label=${t("answer.reason")} isOptional=${true} value=${draft.value.reason} maxLength=${500} onValue=${(/** @type {string} */ text) => set({ reason: text })} />
        ${wrong.value && html`<${Message} tone="stopped" title=${wrong.value} live=${true} />`}
        <div><${Button} icon="check" isOff=${draft.value.choice === null} onPress=${save}>${t("decide.do")}<//></div>`
    }
  </article>`;
}

/** @param {{ title: string, texts: { label: string, text: string | null }[], by: string | null, at: string, reason?: string | null }} props */
function Side({ title, texts, by, at, reason }) {
  return html`<div class="side">
    <p class="muted small">${title}</p>
    ${texts.map(({ label, text }) => html`<p>${texts.length > 1 && html`<span class="muted small">${label}: </span>`}<b class="side-value">${text ?? t("office.nothing")}</b></p>`)}
    <p class="small">${[by, at].filter(Boolean).join(", ") || t("decide.by_unknown")}</p>
    ${reason && html`<p class="small">${t("office.reason_was")} ${reason}</p>`}
  </div>`;
}

/**
 * Who put the value there that stands on record, as far as the office's history says.
 * @param {any[] | undefined} entries @param {string} field @param {any} value @param {import("../state/tepal.js").Tepal} tepal
 * @returns {{ name: string | null, made_at: any, reason: string | null }}
 */
function byOf(entries, field, value, tepal) {
  const same = (/** @type {any} */ to) =>
    Object.keys(tepal.book.changesBetween({ v: to }, { v: value })).length === 0;
  const found = (entries ?? []).findLast(
    (entry) => entry.changes?.[field] && entry.outcome !== "waiting" && same(entry.changes[field].to),
  );
  return { name: found?.member_name ?? null, made_at: found?.made_at ?? null, reason: found?.reason ?? null };
}

/** The last decision on a case that this phone sent, with what became of it. @param {string} id */
export function useOwnDecision(id) {
  const tepal = useTepal();
  const found = useSignal(/** @type {any} */ (undefined));
  const { unsent, heardAt } = tepal.sync.value;
  useEffect(() => {
    tepal.book.recentlySent().then((rows) => {
      found.value = rows.findLast((row) => row.record === id && row.action === "decide");
    });
  }, [id, unsent, heardAt]);
  return found.value;
}
