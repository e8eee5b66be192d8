// Controls that take one value in. Each is controlled: it shows `value` and calls `onValue` with what was typed, as typed.
// Checking and converting is done by forms/ and the pages; a control only shows the error it is given.
import { useId } from "preact/hooks";
import { html } from "./html.js";
import { Icon } from "./icons.js";
import { t } from "./words.js";

/**
 * What every control takes.
 * @typedef {object} FieldProps
 * @property {string} label
 * @property {string} [hint]        How to answer; stays visible while typing.
 * @property {string} [error]       What is wrong, what is allowed, what to do.
 * @property {boolean} [isOptional]
 * @property {"optional" | "needed" | "none"} [mark]  The word beside the label; "optional" where isOptional by default. A long
 *   form in which most is optional marks what is needed instead.
 * @property {boolean} [isOff]      Shown but not to be changed.
 */

/**
 * Label, hint and error round a control.
 * @param {FieldProps & { id: string, children?: any, also?: any, below?: any }} props
 *   also   A derived value below the control, such as the amount in the other units.
 *   below  What answers the error, such as two readings to choose from.
 */
export function Field({ id, label, hint, error, isOptional = false, mark, also, below, children }) {
  return html`<div class="field" data-invalid=${error ? "true" : undefined}>
    <label class="field-label" for=${id}>${label}${markOf({ isOptional, mark })}</label>
    ${hint && html`<p class="field-hint" id=${`${id}-hint`}>${hint}</p>`}
    ${children}
    ${also && html`<p class="field-hint">${also}</p>`}
    ${error && html`<${FieldError} id=${id} error=${error} />`}
    ${below}
  </div>`;
}

/**
 * The word beside a label, with the space that a screen reader needs between them.
 * @param {{ isOptional?: boolean, mark?: "optional" | "needed" | "none" }} props
 */
export function markOf({ isOptional = false, mark = isOptional ? "optional" : "none" }) {
  if (mark === "none") return null;
  return html`${" "}<span class="field-optional">${t(mark === "needed" ? "control.needed" : "control.optional")}</span>`;
}

/** @param {{ id: string, error: string }} props */
function FieldError({ id, error }) {
  return html`<p class="field-error" id=${`${id}-error`}><${Icon} name="stop" /><span>${error}</span></p>`;
}

/**
 * What ties a control to its words.
 * @param {string} id
 * @param {{ hint?: string, error?: string, isOptional?: boolean, isOff?: boolean }} props
 */
export function described(id, { hint, error, isOptional, isOff }) {
  const by = [hint && `${id}-hint`, error && `${id}-error`].filter(Boolean).join(" ");
  return {
    id,
    disabled: isOff,
    "aria-describedby": by || undefined,
    "aria-invalid": error ? "true" : undefined,
    "aria-required": isOptional ? undefined : "true",
  };
}

/**
 * The text of the control that an event came from.
 * @param {Event} event
 */
const textOf = (event) => /** @type {HTMLInputElement} */ (event.currentTarget).value;

/**
 * One line of text, or several with `isLong`.
 * @param {FieldProps & { value: string, onValue: (value: string) => void, isLong?: boolean, maxLength?: number,
 *   type?: "text" | "password" | "search", autocomplete?: string, inputMode?: string }} props
 */
export function TextField(props) {
  const { value, onValue, isLong = false, maxLength, type = "text", autocomplete = "off", inputMode } = props;
  const id = useId();
  const shared = {
    class: "input",
    value,
    maxLength,
    onInput: (/** @type {Event} */ event) => onValue(textOf(event)),
    ...described(id, props),
  };
  return html`<${Field} id=${id} ...${wordsOf(props)}>
    ${isLong ? html`<textarea ...${shared} />` : html`<input type=${type} autocomplete=${autocomplete} inputmode=${inputMode} ...${shared} />`}
  <//>`;
}

/** @param {FieldProps} props */
const wordsOf = ({ label, hint, error, isOptional, mark }) => ({ label, hint, error, isOptional, mark });

/**
 * A whole or decimal number without a unit, as typed.
 * @param {FieldProps & { value: string, onValue: (value: string) => void, isWhole?: boolean, also?: string, below?: any }} props
 */
export function NumberField(props) {
  const { value, onValue, isWhole = false, also, below } = props;
  const id = useId();
  return html`<${Field} id=${id} ...${wordsOf(props)} also=${also} below=${below}>
    <input class="input input-number" inputmode=${isWhole ? "numeric" : "decimal"} autocomplete="off" value=${value}
      onInput=${(/** @type {Event} */ event) => onValue(textOf(event))} ...${described(id, props)} />
  <//>`;
}

/**
 * A number with its unit. What was typed is kept as typed; the other system stands below.
 * @param {FieldProps & { value: { value: string, unit: string }, onValue: (value: { value: string, unit: string }) => void,
 *   units: { code: string, label: string }[], also?: string, below?: any }} props
 */
export function QuantityField(props) {
  const { label, value, onValue, units, also, below } = props;
  const id = useId();
  return html`<${Field} id=${id} ...${wordsOf(props)} also=${also} below=${below}>
    <div class="with-unit">
      <input class="input input-number" inputmode="decimal" autocomplete="off" value=${value.value}
        onInput=${(/** @type {Event} */ event) => onValue({ value: textOf(event), unit: value.unit })} ...${described(id, props)} />
      ${
        units.length === 1
          ? html`<span class="unit-fixed">${units[0].label}</span>`
          : html`<select class="input" aria-label=${t("control.unit_of", { label })} disabled=${props.isOff} value=${value.unit}
              onChange=${(/** @type {Event} */ event) => onValue({ ...value, unit: textOf(event) })}>
              ${units.map(({ code, label: unit }) => html`<option value=${code} selected=${code === value.unit}>${unit}</option>`)}
            </select>`
      }
    </div>
  <//>`;
}

/**
 * A calendar day, `YYYY-MM-DD` or "".
 * @param {FieldProps & { value: string, onValue: (value: string) => void }} props
 */
export function DateField(props) {
  const id = useId();
  return html`<${Field} id=${id} ...${wordsOf(props)}>
    <input class="input" type="date" value=${props.value} onInput=${(/** @type {Event} */ event) => props.onValue(textOf(event))} ...${described(id, props)} />
  <//>`;
}

/**
 * A moment: day and local time of day, `YYYY-MM-DDTHH:MM` or "", with a button for now.
 * @param {FieldProps & { value: string, onValue: (value: string) => void, now: () => string }} props
 *   now  The present moment in the same form; pages get it from the clock they were handed.
 */
export function InstantField(props) {
  const id = useId();
  const { value, onValue, now, isOff } = props;
  return html`<${Field} id=${id} ...${wordsOf(props)}>
    <div class="with-button">
      <input class="input" type="datetime-local" value=${value} onInput=${(/** @type {Event} */ event) => onValue(textOf(event))} ...${described(id, props)} />
      <button type="button" class="btn" disabled=${isOff} onClick=${() => onValue(now())}>${t("control.now")}</button>
    </div>
  <//>`;
}
