// Stored quantities as they are shown: the digits that were typed, with the establishment's decimal sign and the unit's
// symbol. Nothing is rounded or grouped here; the unit's code is looked up in the one table of units.
import { localDecimal, numberFormatOf } from "../core/number_format.js";
import { UNITS } from "../core/units.js";
import { html } from "./html.js";
import { Quantity } from "./quantity.js";

/** @typedef {{ value: string, unit: string }} Stored */

/**
 * A stored decimal ("7.92") with the sign that the establishment writes ("7,92").
 * @param {string} text
 * @param {string} numberFormat  "1234.5" or "1234,5", as the establishment's record has it.
 */
export const decimalShown = (text, numberFormat) => localDecimal(text, numberFormatOf(numberFormat));

/** @param {string} code  UCUM. */
export const unitShown = (code) => UNITS[code]?.symbol ?? code;

/**
 * "7.92 L" on one line, for sentences and tables of text.
 * @param {Stored} stored
 * @param {string} numberFormat
 */
export function storedText(stored, numberFormat) {
  const unit = unitShown(stored.unit);
  const value = decimalShown(stored.value, numberFormat);
  return unit === "" ? value : `${value}\u00a0${unit}`;
}

/**
 * A stored quantity in the face of amounts.
 * @param {{ stored: Stored | null | undefined, numberFormat: string }} props
 */
export function Amount({ stored, numberFormat }) {
  if (!stored) return null;
  return html`<${Quantity} value=${decimalShown(stored.value, numberFormat)} unit=${unitShown(stored.unit)} />`;
}
