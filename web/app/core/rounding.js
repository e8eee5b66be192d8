/**
 * The only place that rounds or formats a quantity, and reads a typed number.
 * Twin: server/tepal/domain/rounding.py. Rounding is half up (away from zero) on the shortest
 * decimal digits that stand for the binary64 value (what Python's `repr` and `String` print), so that
 * 2.675 rounds to 2.68 in both languages; `toFixed`, `Math.round` and `Intl` are never used.
 * A number format is `{decimal: "." or ",", thousands: "," "." " " "'" or ""}` of the establishment,
 * never of the language.
 * @module
 */

import { TepalError, textOf } from "./errors.js";
import { finite, positive } from "./ranges.js";
import { unitOf } from "./units.js";

/** @typedef {{decimal: string, thousands: string}} NumberFormat */

/** A typed number cannot be read, or can be read in two ways. */
export class NumberFormatError extends TepalError {}

/** @type {Readonly<NumberFormat>} */
export const PLAIN_FORMAT = Object.freeze({ decimal: ".", thousands: "" });

// Between number and unit, and between thousands: a space that never breaks the line.
const NO_BREAK_SPACE = "\u00a0";
const SPACES = /[\u0020\u00a0\u2009\u202f]/g;

/**
 * Return [negative, whole, exponent] with |value| = whole * 10**exponent, digits shortest.
 * @param {number} value
 * @returns {[boolean, bigint, number]}
 */
function shortestDigits(value) {
  const text = String(Math.abs(finite(value, "value")));
  const [mantissa, power] = text.split("e");
  const [whole, fraction = ""] = mantissa.split(".");
  const digits = (whole + fraction).replace(/^0+/, "");
  const exponent = (power ? Number(power) : 0) - fraction.length;
  const shortest = digits.replace(/0+$/, "");
  if (shortest === "") return [false, 0n, 0];
  return [value < 0, BigInt(shortest), exponent + digits.length - shortest.length];
}

/**
 * Return [negative, whole] with whole = |value| * 10**nDecimals rounded half up.
 * @param {number} value
 * @param {number} nDecimals
 * @returns {[boolean, bigint]}
 */
function scaled(value, nDecimals) {
  const [negative, whole, exponent] = shortestDigits(value);
  const shift = exponent + nDecimals;
  if (shift >= 0) return [negative, whole * 10n ** BigInt(shift)];
  const unit = 10n ** BigInt(-shift);
  return [negative, (2n * whole + unit) / (2n * unit)];
}

/**
 * Return `value` rounded half up (away from zero) to `nDecimals` decimal places.
 * @param {number} value
 * @param {number} nDecimals
 */
export function roundHalfUp(value, nDecimals) {
  const [negative, whole] = scaled(value, nDecimals);
  const number = Number(`${whole}e${-nDecimals}`);
  return negative && whole !== 0n ? -number : number;
}

/**
 * Return `value` rounded half up as plain text with '.', exactly `nDecimals` places.
 * @param {number} value
 * @param {number} nDecimals
 */
export function decimalText(value, nDecimals) {
  const [negative, whole] = scaled(value, nDecimals);
  const digits = String(whole).padStart(nDecimals + 1, "0");
  const split = digits.length - nDecimals;
  const text = digits.slice(0, split) + (nDecimals > 0 ? `.${digits.slice(split)}` : "");
  return negative && whole !== 0n ? `-${text}` : text;
}

/**
 * Return how many decimal places the shortest digits of `value` have (0.05 has 2).
 * @param {number} value
 */
export function decimalsOf(value) {
  const exponent = shortestDigits(value)[2];
  return exponent < 0 ? -exponent : 0;
}

/**
 * Return the decimal places that show `nSignificant` digits of `value`, never below 0.
 * @param {number} value
 * @param {number} nSignificant
 */
export function significantDecimals(value, nSignificant) {
  const [, whole, exponent] = shortestDigits(value);
  if (whole === 0n) return 0;
  const leading = String(whole).length - 1 + exponent;
  return Math.max(0, nSignificant - 1 - leading);
}

/**
 * Return `value` rounded half up to a whole number of divisions of an instrument, both in the
 * instrument's unit and above zero. At most half a division away from `value`; 0 where `value` is
 * less than half a division. Computed on decimal digits, so 0.3 stays 0.3.
 * @param {number} value
 * @param {number} resolution the smallest division that is read
 */
export function forMeasuring(value, resolution) {
  const [, valueWhole, valuePower] = shortestDigits(positive(value, "value"));
  const [, stepWhole, stepPower] = shortestDigits(positive(resolution, "resolution"));
  const power = Math.min(valuePower, stepPower);
  const valueUnits = valueWhole * 10n ** BigInt(valuePower - power);
  const stepUnits = stepWhole * 10n ** BigInt(stepPower - power);
  const steps = (2n * valueUnits + stepUnits) / (2n * stepUnits);
  return Number(`${steps * stepUnits}e${power}`);
}

/**
 * @param {unknown} numberFormat
 * @returns {[string, string]}
 */
function separators(numberFormat) {
  const { decimal, thousands } = /** @type {NumberFormat} */ (numberFormat ?? {});
  if (
    ![".", ","].includes(decimal) ||
    !["", ".", ",", " ", "'"].includes(thousands) ||
    decimal === thousands
  ) {
    throw new NumberFormatError(
      "number.unknown_format",
      "A number format has a decimal mark '.' or ',' and another thousands separator.",
    );
  }
  return [decimal, thousands];
}

/**
 * Return `value` with `nDecimals` places in the establishment's number format. Thousands are
 * separated only where `isGrouped` says so: measured amounts never are.
 * @param {number} value
 * @param {number} nDecimals
 * @param {NumberFormat} numberFormat
 * @param {boolean} [isGrouped]
 */
export function formatNumber(value, nDecimals, numberFormat, isGrouped = false) {
  const [decimal, thousands] = separators(numberFormat);
  const text = decimalText(value, nDecimals);
  const sign = text.startsWith("-") ? "-" : "";
  const [digits, fraction = ""] = text.replace(/^-/, "").split(".");
  let whole = digits;
  if (isGrouped && thousands !== "") {
    /** @type {string[]} */
    const groups = [];
    while (whole.length > 3) {
      groups.unshift(whole.slice(-3));
      whole = whole.slice(0, -3);
    }
    groups.unshift(whole);
    whole = groups.join(thousands === " " ? NO_BREAK_SPACE : thousands);
  }
  return sign + whole + (fraction ? decimal + fraction : "");
}

/**
 * Return the places that show four significant digits without trailing zeros.
 * @param {number} value
 */
function shownDecimals(value) {
  let places = significantDecimals(value, 4);
  while (places > 0 && decimalText(value, places).endsWith("0")) places -= 1;
  return places;
}

/**
 * Return the context of an error or finding as texts that fill a catalogue's message. Numbers get four
 * significant digits in the establishment's format; lists are joined by commas; null is an empty text.
 * @param {Readonly<Record<string, unknown>>} context
 * @param {NumberFormat} numberFormat
 * @returns {Record<string, string>}
 */
export function formatContext(context, numberFormat) {
  return Object.fromEntries(
    Object.entries(context).map(([key, value]) => [key, contextText(value, numberFormat)]),
  );
}

/**
 * @param {unknown} value
 * @param {NumberFormat} numberFormat
 * @returns {string}
 */
function contextText(value, numberFormat) {
  if (Array.isArray(value)) return value.map((item) => contextText(item, numberFormat)).join(", ");
  if (typeof value === "number") return formatNumber(value, shownDecimals(value), numberFormat);
  return textOf(value);
}

/**
 * Return a value with its unit's symbol, such as '12.5 mL'. Without `nDecimals` four significant
 * digits are shown and trailing zeros dropped; for a measured amount hand in the decimals of the
 * instrument's resolution, and no grouping.
 * @param {number} value
 * @param {string} unit
 * @param {NumberFormat} numberFormat
 * @param {number | null} [nDecimals]
 * @param {boolean} [isGrouped]
 */
export function formatQuantity(value, unit, numberFormat, nDecimals = null, isGrouped = false) {
  const { symbol } = unitOf(unit);
  const places = nDecimals ?? shownDecimals(value);
  const text = formatNumber(value, places, numberFormat, isGrouped);
  return symbol === "" ? text : text + NO_BREAK_SPACE + symbol;
}

/**
 * @param {string} code
 * @param {unknown} text
 * @param {string} message
 * @param {Record<string, unknown>} [context]
 */
function unreadable(code, text, message, context = {}) {
  return new NumberFormatError(code, message, { text: textOf(text), ...context });
}

/**
 * Return what a person typed as stored decimal text: '.' mark, no separators, no exponent.
 * Throws `NumberFormatError`: `number.ambiguous` ('1,200' and '1.200' can be 1200 or 1.2; both
 * readings are given), `number.other_decimal_mark` ('0,5' where the establishment writes '0.5', or
 * the reverse), `number.not_a_number` (anything else).
 * @param {unknown} text
 * @param {NumberFormat} numberFormat
 * @returns {string}
 */
export function parseDecimal(text, numberFormat) {
  const [decimal, thousands] = separators(numberFormat);
  if (typeof text !== "string") {
    throw unreadable("number.not_a_number", text, "A number is typed as text.");
  }
  const typed = text.replace(SPACES, " ").replace(/^ +| +$/g, "");
  const shape = /^([+-]?)([0-9][0-9., ']{0,40}|[.,][0-9]{1,20})$/.exec(typed);
  if (shape === null) {
    throw unreadable("number.not_a_number", text, `"${text}" is not a number; type digits only.`);
  }
  const sign = shape[1] === "-" ? "-" : "";
  const body = shape[2];
  if (/^[0-9]{1,20}$/.test(body)) return sign + body;
  // One mark before exactly three digits: thousands to one reader, a decimal mark to the other.
  if (/^[1-9][0-9]{0,2}[.,][0-9]{3}$/.test(body)) {
    const [whole, part] = body.split(/[.,]/);
    const readings = [sign + whole + part, `${sign}${whole}.${part}`];
    throw unreadable(
      "number.ambiguous",
      text,
      `"${text}" can be ${readings[0]} or ${readings[1]}; say which.`,
      { readings },
    );
  }
  const separator = thousands === "." ? "\\." : thousands;
  const grouped = thousands ? `[1-9][0-9]{0,2}(?:${separator}[0-9]{3})+|` : "";
  const own = new RegExp(`^(${grouped}[0-9]{1,20})(?:\\${decimal}([0-9]{1,20}))?$`).exec(body);
  if (own !== null) {
    const whole = own[1].replace(/[^0-9]/g, "");
    return sign + whole + (own[2] ? `.${own[2]}` : "");
  }
  if (/^[.,][0-9]{1,20}$/.test(body) && body[0] === decimal) return `${sign}0.${body.slice(1)}`;
  const other = decimal === "." ? "," : ".";
  const plain = new RegExp(`^[0-9]{0,20}\\${other}[0-9]{1,20}$`);
  const mirrored = new RegExp(`^[1-9][0-9]{0,2}(\\${decimal}[0-9]{3})+\\${other}[0-9]{1,20}$`);
  if (plain.test(body) || mirrored.test(body)) {
    throw unreadable("number.other_decimal_mark", text, `"${text}": the decimal mark here is "${decimal}".`, {
      decimal,
    });
  }
  throw unreadable("number.not_a_number", text, `"${text}" is not a number in this format.`);
}

/**
 * Return the number a person typed; errors as in `parseDecimal`.
 * @param {unknown} text
 * @param {NumberFormat} numberFormat
 */
export function parseNumber(text, numberFormat) {
  return Number(parseDecimal(text, numberFormat));
}
