// The number pad for measuring in gloves. Digits are large; what can't be taken back lightly stands apart, above them.
import { useRef } from "preact/hooks";
import { html } from "./html.js";
import { Icon } from "./icons.js";
import { Kept } from "./kept.js";
import { t } from "./words.js";

const DIGITS = ["1", "2", "3", "4", "5", "6", "7", "8", "9"];

/**
 * The text after one key.
 * @param {string} text  What stands there, with the establishment's decimal sign.
 * @param {string} key   A digit, the decimal sign, or "erase".
 * @param {{ decimalSign: string, maxDecimals: number, maxDigits?: number, keepsZeros?: boolean }} limits
 * @returns {string}  The same text where the key has no place.
 */
function afterKey(text, key, { decimalSign, maxDecimals, maxDigits = 6, keepsZeros = false }) {
  if (key === "erase") return text.slice(0, -1);
  const [, decimals] = text.split(decimalSign);
  if (key === decimalSign) {
    if (decimals !== undefined || maxDecimals === 0) return text;
    return `${text || "0"}${decimalSign}`;
  }
  if (decimals !== undefined && decimals.length >= maxDecimals) return text;
  if (text.replace(decimalSign, "").length >= maxDigits) return text;
  return text === "0" && !keepsZeros ? key : `${text}${key}`;
}

/**
 * The pad. The page above it shows the value.
 * @param {{ text: string, onText: (text: string) => void, decimalSign: "." | ",", maxDecimals: number, nextLabel: string,
 *   onNext: () => void, canNext?: boolean, maxDigits?: number, keepsZeros?: boolean, isLeft?: boolean, apart?: { label: string, onPress: () => void }[] }} props
 *   isLeft  For the left thumb: the large key at the left edge.
 *   keepsZeros  A code, not a number: leading zeros count.
 *   apart  Keys such as Undo, Dead, Not measured.
 */
export function NumberPad({
  text,
  onText,
  decimalSign,
  maxDecimals,
  nextLabel,
  onNext,
  canNext = true,
  maxDigits = 6,
  keepsZeros = false,
  isLeft = false,
  apart = [],
}) {
  // the keys stay as they are while digits are typed: they ask here for what is to be done
  const latest = useRef({ text, onText, onNext });
  latest.current = { text, onText, onNext };
  /** @param {string} key */
  const press = (key) =>
    latest.current.onText(
      afterKey(latest.current.text, key, { decimalSign, maxDecimals, maxDigits, keepsZeros }),
    );
  const keys = () => html`<div class="pad-keys">
      ${DIGITS.slice(0, 3).map((digit) => html`<${Key} name=${digit} onPress=${press} />`)}
      <button type="button" class="pad-key pad-erase" aria-label=${t("pad.erase")} onClick=${() => press("erase")}><${Icon} name="erase" /></button>
      <button type="button" class="pad-key pad-next" aria-disabled=${canNext ? undefined : "true"} onClick=${() => latest.current.onNext()}>${nextLabel}</button>
      ${DIGITS.slice(3).map((digit) => html`<${Key} name=${digit} onPress=${press} />`)}
      <button type="button" class="pad-key" aria-label=${t("pad.decimal_sign")} aria-disabled=${maxDecimals === 0 ? "true" : undefined} onClick=${() => press(decimalSign)}>${decimalSign}</button>
      <button type="button" class="pad-key is-zero" onClick=${() => press("0")}>0</button>
    </div>`;
  /** @param {KeyboardEvent} event */
  const typed = (event) => {
    if (/^\d$/.test(event.key)) press(event.key);
    else if (event.key === "." || event.key === ",") press(decimalSign);
    else if (event.key === "Backspace") press("erase");
    else return;
    event.preventDefault();
  };
  return html`<div class=${`pad${isLeft ? " is-left" : ""}`} role="group" aria-label=${t("pad.name")} onKeyDown=${typed}>
    ${
      apart.length > 0 &&
      html`<div class="pad-apart">${apart.map(({ label, onPress }) => html`<button type="button" class="btn" onClick=${onPress}>${label}</button>`)}</div>`
    }
    <${Kept} by=${[decimalSign, maxDecimals, maxDigits, keepsZeros, canNext, nextLabel]} draw=${keys} />
  </div>`;
}

/** @param {{ name: string, onPress: (key: string) => void }} props */
function Key({ name, onPress }) {
  return html`<button type="button" class="pad-key" onClick=${() => onPress(name)}>${name}</button>`;
}
