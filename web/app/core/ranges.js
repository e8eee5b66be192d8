/**
 * Bounds of single numbers: what every formula asks of its inputs before it computes.
 * Twin: server/tepal/domain/ranges.py. A number that is text, missing, not finite or out of bounds
 * throws `OutOfRangeError` with the code `domain.out_of_range`; nothing is clamped. No quantity of this
 * trade is above 1e12 or, unless it is zero, below 1e-12 in any unit used here, so that no formula
 * overflows.
 * @module
 */

import { OutOfRangeError } from "./errors.js";

// Own bounds, no source: a billion cubic metres, a picogram.
export const MAX_NUMBER = 1e12;
export const MIN_NUMBER = 1e-12;

/**
 * @param {unknown} value
 * @param {string} name
 * @param {string} allowed
 * @returns {number}
 */
function numberIn(value, name, allowed) {
  if (typeof value !== "number" || !Number.isFinite(value)) {
    throw new OutOfRangeError("domain.out_of_range", `${name} is not a finite number; allowed: ${allowed}.`, {
      name,
      value: null,
      allowed,
    });
  }
  return value;
}

/**
 * @param {number} number
 * @param {string} name
 * @param {string} allowed
 */
function refuse(number, name, allowed) {
  return new OutOfRangeError("domain.out_of_range", `${name} is ${number}; allowed: ${allowed}.`, {
    name,
    value: number,
    allowed,
  });
}

/**
 * Return `value` if it is a finite number of either sign.
 * @param {unknown} value
 * @param {string} name
 */
export function finite(value, name) {
  return numberIn(value, name, "a finite number");
}

/**
 * Return `value` if it is above zero and no larger than any real quantity.
 * @param {unknown} value
 * @param {string} name
 */
export function positive(value, name) {
  const number = numberIn(value, name, "> 0");
  if (number < MIN_NUMBER || number > MAX_NUMBER) throw refuse(number, name, "> 0");
  return number;
}

/**
 * Return `value` if it is `positive` and not above `high`.
 * @param {unknown} value
 * @param {string} name
 * @param {number} high
 */
export function positiveUpTo(value, name, high) {
  const allowed = `> 0 to ${high}`;
  const number = numberIn(value, name, allowed);
  if (number < MIN_NUMBER || number > high) throw refuse(number, name, allowed);
  return number;
}

/**
 * Return `value` if it is zero, or `positive`.
 * @param {unknown} value
 * @param {string} name
 */
export function notNegative(value, name) {
  const number = numberIn(value, name, ">= 0");
  if (number !== 0 && (number < MIN_NUMBER || number > MAX_NUMBER)) throw refuse(number, name, ">= 0");
  return number;
}

/**
 * Return `value` if it lies in `low` to `high`, both included.
 * @param {unknown} value
 * @param {string} name
 * @param {number} low
 * @param {number} high
 */
export function within(value, name, low, high) {
  const allowed = `${low} to ${high}`;
  const number = numberIn(value, name, allowed);
  if (number < low || number > high) throw refuse(number, name, allowed);
  return number;
}

/**
 * Return `value` if it is a whole number, 1 or more, below 2^53.
 * @param {unknown} value
 * @param {string} name
 */
export function wholeNumber(value, name) {
  const number = numberIn(value, name, "a whole number, 1 or more");
  if (number < 1 || number > 9007199254740991 || number !== Math.floor(number)) {
    throw refuse(number, name, "a whole number, 1 or more");
  }
  return number;
}
