// Why there is no value, and what else was seen: each with a reason that stays with the plant.
import { useSignal } from "@preact/signals";
import { fieldOf } from "../state/measure.js";
import { GoButton } from "../ui/buttons.js";
import { ChoiceField } from "../ui/choices.js";
import { TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Sheet } from "../ui/sheet.js";
import { t } from "../ui/words.js";

/**
 * A plant that died or was thrown away has no value for anything that is still open; a measurement that was not taken
 * lacks this one only.
 * @param {{ m: import("./measuring.js").Measuring, isDead: boolean, definition: any, onClose: () => void }} props
 */
export function MissingSheet({ m, isDead, definition, onClose }) {
  /** @param {{missing: string, note: string | null}} reason */
  function keep(reason) {
    if (!isDead) return m.enter({ [fieldOf(definition.code)]: reason });
    const own = m.own ?? {};
    const open = m.stop.definitions.filter((one) => (own[fieldOf(one.code)] ?? null) === null);
    return m.enter({
      condition: reason.missing,
      condition_why: reason.note,
      ...Object.fromEntries(open.map((one) => [fieldOf(one.code), reason])),
    });
  }
  return html`<${ReasonSheet} code=${m.stop.code} isDead=${isDead} onReason=${keep} onClose=${onClose} />`;
}

/**
 * Why there is no value. Of a dead plant the word is enough; all else needs a few more.
 * @param {{ code: string, isDead: boolean, onReason: (reason: {missing: string, note: string | null}) => void, onClose: () => void }} props
 */
export function ReasonSheet({ code, isDead, onReason, onClose }) {
  const why = useSignal(isDead ? "dead" : "not_measured");
  const note = useSignal("");
  const whys = isDead ? ["dead", "discarded"] : ["not_measured", "lost"];
  const wasTried = useSignal(false);
  const needsNote = why.value !== "dead" && note.value.trim() === "";

  function save() {
    wasTried.value = true;
    if (needsNote) return;
    onReason({ missing: why.value, note: note.value.trim() || null });
    onClose();
  }
  return html`<${Sheet} title=${t(isDead ? "measure.dead_title" : "measure.missing_title", { code })} onClose=${onClose}>
    <${ChoiceField} label=${t("measure.why")} value=${why.value} choices=${whys.map((value) => ({ value, label: t(`missing_why.${value}`) }))}
      onValue=${(/** @type {string} */ value) => {
        why.value = value;
      }} />
    <${TextField} label=${t("measure.reason")} isOptional=${why.value === "dead"} maxLength=${400} value=${note.value}
      onValue=${(/** @type {string} */ value) => {
        note.value = value;
      }} error=${needsNote && wasTried.value ? t("measure.reason_first") : ""} />
    <${GoButton} isOff=${needsNote} onPress=${save}>${t("measure.save_reason")}<//>
  <//>`;
}

/** @param {{ m: import("./measuring.js").Measuring, onClose: () => void }} props */
export function NoteSheet({ m, onClose }) {
  const note = useSignal(String(m.own?.note ?? ""));
  const stage = useSignal(String(m.own?.stage ?? ""));
  const isChanged = note.value.trim() !== (m.own?.note ?? "") || stage.value.trim() !== (m.own?.stage ?? "");
  function save() {
    if (isChanged) m.addWords({ note: note.value.trim() || null, stage: stage.value.trim() || null });
    onClose();
  }
  return html`<${Sheet} title=${t("measure.note_title", { code: m.stop.code })} onClose=${onClose}>
    <${TextField} label=${t("measure.note")} isLong=${true} maxLength=${2000} value=${note.value} onValue=${(
      /** @type {string} */ value,
    ) => {
      note.value = value;
    }} />
    <${TextField} label=${t("measure.stage")} isOptional=${true} maxLength=${120} value=${stage.value} onValue=${(
      /** @type {string} */ value,
    ) => {
      stage.value = value;
    }} />
    <${GoButton} onPress=${save}>${t("measure.save_note")}<//>
  <//>`;
}
