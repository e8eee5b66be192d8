/**
 * Sizes of plants: growth indices and per cent of control. Twin: server/tepal/domain/growth.py. The
 * three published indices are not interchangeable; store which one a number is.
 * @module
 */

import { notNegative, positive } from "./ranges.js";

/**
 * Return (height + width 1 + width 2) / 3 (common in ornamental trials; from memory).
 * @param {number} height
 * @param {number} width1
 * @param {number} width2
 */
export function growthIndexMean3(height, width1, width2) {
  const total = positive(height, "height") + positive(width1, "width_1");
  return (total + positive(width2, "width_2")) / 3;
}

/**
 * Return (mean width + height) / 2 (Arboriculture & Urban Forestry, table note).
 * @param {number} height
 * @param {number} width1
 * @param {number} width2
 */
export function growthIndexMean2(height, width1, width2) {
  const meanWidth = (positive(width1, "width_1") + positive(width2, "width_2")) / 2;
  return (meanWidth + positive(height, "height")) / 2;
}

/**
 * Return height + mean width (a hobby-grower page): a sum, not a mean.
 * @param {number} height
 * @param {number} width1
 * @param {number} width2
 */
export function growthIndexSum(height, width1, width2) {
  const meanWidth = (positive(width1, "width_1") + positive(width2, "width_2")) / 2;
  return positive(height, "height") + meanWidth;
}

/**
 * Return how much smaller the treated is than the control, in per cent of the control.
 * @param {number} control
 * @param {number} treated
 */
export function reductionPct(control, treated) {
  const size = positive(control, "control");
  return ((size - notNegative(treated, "treated")) / size) * 100;
}

/**
 * Return the reduction where a report prints the treated as per cent of the control.
 * @param {number} treatedPctOfControl
 */
export function reductionPctFromControlPct(treatedPctOfControl) {
  return 100 - notNegative(treatedPctOfControl, "treated_pct_of_control");
}
