// The questions of a plan: contrasts of its own, and what of it may not change without a reason once there are values. Pure.

import { decimalOf, fieldsOf, planOf } from "./trial-plan.js";

/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */
/** @typedef {import("./trial-plan.js").Plan} Plan */
/** @typedef {import("./trial-plan.js").PlannedContrast} PlannedContrast */

/** What of the plan decides which questions are asked and how they are judged: changed after data, it needs a reason. */
const JUDGED = [
  "primary_response",
  "comparison",
  "control",
  "two_sided",
  "alpha",
  "interaction_scale",
  "covariate",
  "contrasts",
];

/**
 * Which of these a plan would change; [] while some number of it cannot be read.
 * @param {Plan} plan @param {Record<string, any>} stored @param {NumberFormat} numberFormat @returns {string[]}
 */
export function judgedChanges(plan, stored, numberFormat) {
  try {
    const now = /** @type {Record<string, any>} */ (fieldsOf(plan, numberFormat));
    const before = /** @type {Record<string, any>} */ (fieldsOf(planOf(stored, numberFormat), numberFormat));
    return JUDGED.filter(
      (name) => JSON.stringify(now[name] ?? null) !== JSON.stringify(before[name] ?? null),
    );
  } catch {
    return [];
  }
}

/**
 * What is wrong with a contrast, and the sum of its weights: a code, "" for nothing.
 * @param {PlannedContrast} contrast @param {PlannedContrast[]} all @param {NumberFormat} numberFormat
 * @returns {{code: "" | "name" | "twice" | "none" | "number" | "sum", sum: number}}
 */
export function contrastProblem(contrast, all, numberFormat) {
  const name = contrast.name.trim();
  /** @type {number[]} */
  let weights = [];
  try {
    weights = Object.values(contrast.weights).flatMap((text) => {
      const weight = decimalOf(text, numberFormat);
      return weight === null ? [] : [Number(weight)];
    });
  } catch {
    return { code: "number", sum: 0 };
  }
  // decimals of at most 9 places: anything smaller is the computer's own rounding
  const sum = Math.round(weights.reduce((a, b) => a + b, 0) * 1e9) / 1e9;
  if (weights.some((weight) => Math.abs(weight) > 1000)) return { code: "number", sum };
  if (!weights.some((weight) => weight > 0) || !weights.some((weight) => weight < 0))
    return { code: "none", sum };
  if (sum !== 0) return { code: "sum", sum };
  if (!name) return { code: "name", sum };
  if (all.some((other) => other !== contrast && other.name.trim() === name)) return { code: "twice", sum };
  return { code: "", sum };
}

/**
 * The plan without one of its treatments; the weights of those behind it move up with their numbers.
 * @param {Plan} plan @param {number} at  Its place, from 0.
 */
export function withoutTreatment(plan, at) {
  const moved = (/** @type {Record<string, string>} */ weights) =>
    Object.fromEntries(
      Object.entries(weights)
        .filter(([number]) => Number(number) !== at + 1)
        .map(([number, weight]) => [
          String(Number(number) > at + 1 ? Number(number) - 1 : Number(number)),
          weight,
        ]),
    );
  return {
    treatments: plan.treatments.filter((_, i) => i !== at),
    contrasts: plan.contrasts.map((one) => ({ ...one, weights: moved(one.weights) })),
    layout: null,
  };
}
