// A quantity as it was typed and as it is stored, for hand-built pages. Pure.
import { localDecimal } from "../core/number_format.js";
import { parseDecimal } from "../core/rounding.js";
import { numberProblem } from "./typed.js";

/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */
/** @typedef {{value: string, unit: string}} Stored */
/** What was typed; `read` is the reading that the person chose. @typedef {{value: string, unit: string, read?: string}} Typed */

/**
 * What was typed as it is stored, or what is wrong with it; both null while nothing is typed.
 * @param {Typed} typed @param {NumberFormat} numberFormat
 * @param {{mayBeZero?: boolean, mayBeBelow?: boolean}} [bounds]
 * @returns {{stored: Stored | null, problem: import("./checks.js").Problem | null}}
 */
export function readQuantity(typed, numberFormat, { mayBeZero = false, mayBeBelow = false } = {}) {
  if (typed.value.trim() === "") return { stored: null, problem: null };
  try {
    const value = typed.read ?? parseDecimal(typed.value, numberFormat);
    const isGood = mayBeBelow || Number(value) > 0 || (mayBeZero && Number(value) === 0);
    return isGood
      ? { stored: { value, unit: typed.unit }, problem: null }
      : { stored: null, problem: { code: "not_above_zero", params: {} } };
  } catch (error) {
    return { stored: null, problem: numberProblem(error, typed.value, numberFormat) };
  }
}

/**
 * The two readings of an ambiguous number, for `Readings`; [] where the problem is another one.
 * @param {import("./checks.js").Problem | null | undefined} problem @param {NumberFormat} numberFormat
 */
export const readingsIn = (problem, numberFormat) =>
  problem?.code === "number.ambiguous"
    ? [problem.params.one, problem.params.other].map((value) => ({
        value: String(value),
        shown: localDecimal(String(value), numberFormat),
      }))
    : [];
