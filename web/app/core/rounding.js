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
 * Return [negative, digits, exponent] with |value| = digits * 10**exponent, digits shortest, "" for 0.
 * Texts and not BigInt, because a plan formats some two hundred amounts on a slow phone.
 * @param {number} value
 * @returns {[boolean, string, number]}
 */
function shortestDigits(value) {
  const text = String(Math.abs(finite(value, "value")));
  const e = text.indexOf("e");
  const mantissa = e < 0 ? text : text.slice(0, e);
  const point = mantissa.indexOf(".");
  const all = point < 0 ? mantissa : mantissa.slice(0, point) + mantissa.slice(point + 1);
  const nFraction = point < 0 ? 0 : mantissa.length - point - 1;
  let start = 0;
  while (start < all.length && all[start] === "0") start += 1;
  let end = all.length;
  while (end > start && all[end - 1] === "0") end -= 1;
  if (start === end) return [false, "", 0];
  const power = e < 0 ? 0 : Number(text.slice(e + 1));
  return [value < 0, all.slice(start, end), power - nFraction + all.length - end];
}

/**
 * Return [negative, whole] with whole the digits of |value| * 10**nDecimals rounded half up.
 * @param {number} value
 * @param {number} nDecimals
 * @returns {[boolean, string]}
 */
function scaled(value, nDecimals) {
  const [negative, digits, exponent] = shortestDigits(value);
  const shift = exponent + nDecimals;
  if (digits === "") return [false, "0"];
  if (shift >= 0) return [negative, digits + "0".repeat(shift)];
  const cut = digits.length + shift;
  if (cut < 0) return [false, "0"];
  const head = cut === 0 ? "0" : digits.slice(0, cut);
  if (digits[cut] < "5") return [negative && head !== "0", head];
  // A number of 15 digits is exact in binary64.
  return [negative, head.length > 15 ? String(BigInt(head) + 1n) : String(Number(head) + 1)];
}

/**
 * Return `value` rounded half up (away from zero) to `nDecimals` decimal places.
 * @param {number} value
 * @param {number} nDecimals
 */
export function roundHalfUp(value, nDecimals) {
  const [negative, whole] = scaled(value, nDecimals);
  const number = Number(`${whole}e${-nDecimals}`);
  return negative ? -number : number;
}

/**
 * Return `value` rounded half up as plain text with '.', exactly `nDecimals` places.
 * @param {number} value
 * @param {number} nDecimals
 */
export function decimalText(value, nDecimals) {
  const [negative, whole] = scaled(value, nDecimals);
  const digits = whole.padStart(nDecimals + 1, "0");
  const split = digits.length - nDecimals;
  const text = digits.slice(0, split) + (nDecimals > 0 ? `.${digits.slice(split)}` : "");
  return negative ? `-${text}` : text;
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
  const [, digits, exponent] = shortestDigits(value);
  if (digits === "") return 0;
  const leading = digits.length - 1 + exponent;
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
  const [, valueDigits, valuePower] = shortestDigits(positive(value, "value"));
  const [, stepDigits, stepPower] = shortestDigits(positive(resolution, "resolution"));
  const power = Math.min(valuePower, stepPower);
  const valueUnits = BigInt(valueDigits + "0".repeat(valuePower - power));
  const stepUnits = BigInt(stepDigits + "0".repeat(stepPower - power));
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
  const places = significantDecimals(value, 4);
  if (places === 0) return 0;
  const text = decimalText(value, places);
  let nZeros = 0;
  while (nZeros < places && text[text.length - 1 - nZeros] === "0") nZeros += 1;
  return places - nZeros;
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
