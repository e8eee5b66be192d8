// The establishment's way with numbers: one format for the whole house, never the language's.

/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */

/** What `establishment.number_format` stands for. @type {Record<string, NumberFormat>} */
const FORMATS = Object.freeze({
  1234.5: Object.freeze({ decimal: ".", thousands: "" }),
  "1234,5": Object.freeze({ decimal: ",", thousands: "" }),
});

/**
 * @param {any} establishment the session's establishment
 * @returns {NumberFormat}
 */
export const numberFormatOf = (establishment) => FORMATS[establishment?.number_format] ?? FORMATS["1234.5"];

/**
 * A decimal as it is stored ("1.05") as people here read it ("1,05").
 * @param {string} decimal @param {NumberFormat} format
 */
export const localDecimal = (decimal, format) => decimal.replace(".", format.decimal);
