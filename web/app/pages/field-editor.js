// One field of a record as a control of its own: for an amendment, and for a third value where two differ.
import { problemText } from "../forms/problem-words.js";
import { RecordForm } from "../forms/record-form.js";
import { typedOf, wireOf } from "../forms/typed.js";
import { html } from "../ui/html.js";
import { useFormSetting } from "./form-setting.js";

/** @typedef {import("../forms/checks.js").FieldSpec} FieldSpec */

const WHOLE_LISTS = new Set(["list", "group", "digest"]);

/**
 * @param {string} words  Kind, or kind and list: what the field's label is looked up under.
 * @param {FieldSpec | undefined} spec
 * @param {any} typed     What was typed so far; null shows `current`.
 * @param {any} current   The stored value to start from.
 */
export function useFieldEditor(words, spec, typed, current) {
  const setting = useFormSetting();
  const one = spec ? [{ ...spec, required: false }] : [];
  const name = spec?.name ?? "";
  const shown = typed ?? typedOf(one, { [name]: current }, setting.ways)[name];
  const { values, problems } = wireOf(one, { [name]: shown }, setting.ways, { [name]: current });
  return {
    isOffered: spec !== undefined && !WHOLE_LISTS.has(spec.type),
    /** @param {(typed: any) => void} onTyped */
    control: (
      onTyped,
    ) => html`<${RecordForm} kind=${words} specs=${one.map((inner) => ({ ...inner, required: true }))} typed=${{ [name]: shown }}
      onTyped=${(/** @type {any} */ next) => onTyped(next[name])} setting=${{ ...setting, problems: typed === null ? {} : problems, missing: [] }} />`,
    /** @returns {{ value: any } | { problem: string }} */
    read: () => (problems[name] ? { problem: problemText(problems[name]) } : { value: values[name] ?? null }),
  };
}
