// Controls that offer a closed set: one of a few, several of a few, yes or no, and a thing from a register.
import { useId, useState } from "preact/hooks";
import { markOf } from "./fields.js";
import { html } from "./html.js";
import { Icon } from "./icons.js";
import { Sheet } from "./sheet.js";
import { Stake } from "./stake.js";
import { t } from "./words.js";

/** @typedef {{ value: string, label: string, detail?: string }} Choice */
/** @typedef {import("./fields.js").FieldProps} FieldProps */

/**
 * Legend, hint and error round a group.
 * @param {FieldProps & { id: string, children?: any }} props
 */
function Group({ id, label, hint, error, isOptional, mark, isOff = false, children }) {
  const by = [hint && `${id}-hint`, error && `${id}-error`].filter(Boolean).join(" ");
  return html`<fieldset class="field" data-invalid=${error ? "true" : undefined} aria-describedby=${by || undefined} disabled=${isOff}>
    <legend class="field-label">${label}${markOf({ isOptional, mark })}</legend>
    ${hint && html`<p class="field-hint" id=${`${id}-hint`}>${hint}</p>`}
    ${children}
    ${error && html`<p class="field-error" id=${`${id}-error`}><${Icon} name="stop" /><span>${error}</span></p>`}
  </fieldset>`;
}

/**
 * One of a few, each a target of its own: nothing is hidden in a menu.
 * @param {FieldProps & { value: string | null, onValue: (value: string) => void, choices: Choice[], isShort?: boolean }} props
 *   isShort  Words of one or two syllables, side by side.
 */
export function ChoiceField({ value, onValue, choices, isShort = false, ...words }) {
  const id = useId();
  return html`<${Group} id=${id} ...${words}>
    <div class=${`choices${isShort ? " is-short" : ""}${words.error ? " is-wrong" : ""}`}>
      ${choices.map(
        (choice) => html`<label class="choice">
          <input type="radio" name=${id} value=${choice.value} checked=${choice.value === value} onChange=${() => onValue(choice.value)} />
          <${ChoiceText} ...${choice} />
        </label>`,
      )}
    </div>
  <//>`;
}

/** @param {Choice} props */
function ChoiceText({ label, detail }) {
  return html`<span class="choice-text"><span>${label}</span>${detail && html`<span class="choice-detail">${detail}</span>`}</span>`;
}

/**
 * Several of a few.
 * @param {FieldProps & { values: string[], onValues: (values: string[]) => void, choices: Choice[] }} props
 */
export function SeveralField({ values, onValues, choices, ...words }) {
  const id = useId();
  /** @param {string} value */
  const toggle = (value) =>
    onValues(values.includes(value) ? values.filter((other) => other !== value) : [...values, value]);
  return html`<${Group} id=${id} ...${words}>
    <div class=${`choices${words.error ? " is-wrong" : ""}`}>
      ${choices.map(
        (choice) => html`<label class="choice">
          <input type="checkbox" value=${choice.value} checked=${values.includes(choice.value)} onChange=${() => toggle(choice.value)} />
          <${ChoiceText} ...${choice} />
        </label>`,
      )}
    </div>
  <//>`;
}

/**
 * Yes or no, with nothing chosen until the person chooses: an untouched tick box would say "no" for them.
 * @param {FieldProps & { value: boolean | null, onValue: (value: boolean) => void }} props
 */
export function YesNoField({ value, onValue, ...words }) {
  return html`<${ChoiceField} ...${words} isShort=${true} value=${value === null ? null : value ? "yes" : "no"}
    onValue=${(/** @type {string} */ answer) => onValue(answer === "yes")}
    choices=${[{ value: "yes", label: t("control.yes") }, { value: "no", label: t("control.no") }]} />`;
}

/** @typedef {{ id: string, name: string, code?: string, detail?: string, isRetired?: boolean }} Option */

/** What is searched in an option: made once, since each key that is typed asks thousands. @type {WeakMap<Option, string>} */
const searched = new WeakMap();
const PICKED_FIRST = 60; // rows of a picker that are drawn; the search brings up the others

/** @param {Option} option */
function textIn(option) {
  let text = searched.get(option);
  if (text === undefined) {
    text = plain(`${option.code ?? ""} ${option.name} ${option.detail ?? ""}`);
    searched.set(option, text);
  }
  return text;
}

/**
 * The options in which every word of the search occurs, in name, code or detail; accents and case don't matter.
 * @param {Option[]} options
 * @param {string} search
 * @returns {Option[]}
 */
export function matching(options, search) {
  const wanted = plain(search).split(/\s+/).filter(Boolean);
  if (wanted.length === 0) return options;
  return options.filter((option) => {
    const text = textIn(option);
    return wanted.every((word) => text.includes(word));
  });
}

const SLICE_MS = 4; // of a slow phone's time between two frames

/**
 * Make what is searched before the first letter comes, in slices that leave the phone free: when the search is tapped.
 * @param {Option[]} options
 */
export function prepareSearch(options) {
  let at = 0;
  function slice() {
    const until = performance.now() + SLICE_MS;
    while (at < options.length && performance.now() < until) {
      textIn(options[at]);
      at += 1;
    }
    if (at < options.length) setTimeout(slice);
  }
  slice();
}

/** Without accents and case, as a search compares. @param {string} text */
export const plain = (text) =>
  (MAY_HAVE_MARKS.test(text) ? text.normalize("NFD").replace(/\p{M}/gu, "") : text).toLowerCase();

/** Letters beyond plain ones; no dashes, quotes, "·" and "×". Only these come apart into a letter
 * and a mark. Most names have none, and a long register has thousands of names. */
const MAY_HAVE_MARKS = /[\u00c0-\u00d6\u00d8-\u200f\u2028-\uffff]/;

/**
 * A thing from a register (a lot, a product, a house), found by typing a part of its name or code.
 * @param {FieldProps & { value: string | null, onValue: (id: string | null) => void, options: Option[], emptyText?: string }} props
 *   emptyText  What to say where the register is empty.
 */
export function RefField({ value, onValue, options, emptyText, ...words }) {
  const id = useId();
  const [isOpen, setOpen] = useState(false);
  const picked = options.find((option) => option.id === value);
  return html`<div class="field" data-invalid=${words.error ? "true" : undefined}>
    <span class="field-label" id=${id}>${words.label}${markOf(words)}</span>
    ${words.hint && html`<p class="field-hint">${words.hint}</p>`}
    <button type="button" class="input picked" aria-labelledby=${`${id} ${id}-value`} aria-haspopup="dialog" disabled=${words.isOff}
      aria-invalid=${words.error ? "true" : undefined} aria-describedby=${words.error ? `${id}-error` : undefined} onClick=${() => setOpen(true)}>
      <span id=${`${id}-value`}>${picked ? html`<${OptionText} option=${picked} />` : html`<span class="muted">${t("pick.choose")}</span>`}</span>
      <${Icon} name="down" />
    </button>
    ${words.error && html`<p class="field-error" id=${`${id}-error`}><${Icon} name="stop" /><span>${words.error}</span></p>`}
    ${
      isOpen &&
      html`<${Picker} title=${words.label} options=${options} value=${value} isOptional=${words.isOptional} emptyText=${emptyText}
        onClose=${() => setOpen(false)}
        onPick=${(/** @type {string | null} */ picks) => {
          setOpen(false);
          onValue(picks);
        }} />`
    }
  </div>`;
}

/** @param {{ option: Option }} props */
function OptionText({ option }) {
  return html`<span class="named">${option.code && html`<${Stake} code=${option.code} tone="passed" />`}
    <span class="choice-text"><span>${option.name}</span>${option.detail && html`<span class="choice-detail">${option.detail}</span>`}</span></span>`;
}

/**
 * Several things from a register: those picked stand as a list, more are found by typing a part of the name.
 * @param {FieldProps & { values: string[], onValues: (ids: string[]) => void, options: Option[], emptyText?: string }} props
 */
export function SeveralRefField({ values, onValues, options, emptyText, ...words }) {
  const id = useId();
  const [isOpen, setOpen] = useState(false);
  const picked = values.map(
    (one) => options.find((option) => option.id === one) ?? { id: one, name: t("pick.unknown") },
  );
  return html`<${Group} id=${id} ...${words}>
    ${
      picked.length > 0 &&
      html`<ul class="list">${picked.map(
        (option) => html`<li class="list-row" key=${option.id}><${OptionText} option=${option} />
          <button type="button" class="btn btn-icon" aria-label=${t("pick.take_off", { name: option.name })}
            onClick=${() => onValues(values.filter((one) => one !== option.id))}><${Icon} name="close" /></button></li>`,
      )}</ul>`
    }
    <button type="button" class="btn" aria-haspopup="dialog" onClick=${() => setOpen(true)}><${Icon} name="plus" /><span>${t("pick.add")}</span></button>
    ${
      isOpen &&
      html`<${Picker} title=${words.label} options=${options.filter((option) => !values.includes(option.id))} value=${null} emptyText=${emptyText}
        onClose=${() => setOpen(false)}
        onPick=${(/** @type {string | null} */ picks) => {
          setOpen(false);
          if (picks) onValues([...values, picks]);
        }} />`
    }
  <//>`;
}

/**
 * @param {{ title: string, options: Option[], value: string | null, isOptional?: boolean, emptyText?: string,
 *   onClose: () => void, onPick: (id: string | null) => void }} props
 */
function Picker({ title, options, value, isOptional, emptyText, onClose, onPick }) {
  const [search, setSearch] = useState("");
  const offered = options.filter((option) => !option.isRetired || option.id === value);
  const found = matching(offered, search);
  return html`<${Sheet} title=${title} onClose=${onClose}>
    ${
      offered.length > 6 &&
      html`<input class="input" type="search" autocomplete="off" autofocus aria-label=${t("pick.search")} placeholder=${t("pick.search")} value=${search}
        onInput=${(/** @type {Event} */ event) => setSearch(/** @type {HTMLInputElement} */ (event.currentTarget).value)} />`
    }
    <p class="visually-hidden" role="status">${t("pick.found", { n: found.length })}</p>
    <div class="list">
      ${isOptional && html`<button type="button" class="list-row" onClick=${() => onPick(null)}><span class="muted">${t("pick.none")}</span></button>`}
      ${found.slice(0, PICKED_FIRST).map(
        (
          option,
        ) => html`<button type="button" class="list-row" aria-pressed=${option.id === value} onClick=${() => onPick(option.id)}>
          <${OptionText} option=${option} />${option.id === value && html`<${Icon} name="check" />`}
        </button>`,
      )}
    </div>
    ${found.length > PICKED_FIRST && html`<p class="muted">${t("pick.more", { n: found.length - PICKED_FIRST })}</p>`}
    ${found.length === 0 && html`<p class="muted">${offered.length === 0 ? (emptyText ?? t("pick.empty")) : t("pick.nothing_found", { search })}</p>`}
  <//>`;
}
