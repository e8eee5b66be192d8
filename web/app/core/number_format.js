/**
 * The number formats an establishment may choose, and what each means. Twin:
 * server/tepal/domain/number_format.py. Numbers follow the establishment's format, never the language.
 * @module
 */

/** @typedef {import("./rounding.js").NumberFormat} NumberFormat */

/** What `establishment.number_format` stands for; written as 1234.5 is written in it.
 * @type {Readonly<Record<string, NumberFormat>>} */
export const NUMBER_FORMATS = Object.freeze({
  1234.5: Object.freeze({ decimal: ".", thousands: "" }),
  "1234,5": Object.freeze({ decimal: ",", thousands: "" }),
});

/**
 * Return the format of a code; an establishment that has not chosen writes 1234.5.
 * @param {string | null | undefined} code
 * @returns {NumberFormat}
 */
export function numberFormatOf(code) {
  return NUMBER_FORMATS[code ?? ""] ?? NUMBER_FORMATS["1234.5"];
}

/**
 * Return a stored decimal ("1.05") as people there read it ("1,05"); no digit changes.
 * @param {string} decimal
 * @param {NumberFormat} numberFormat
 */
export function localDecimal(decimal, numberFormat) {
  return decimal.replace(".", numberFormat.decimal);
}
