/**
 * What stays in the tank and where it may go. Twin: server/tepal/domain/leftover.py. The options are
 * general statements with their source; the label of the product decides, and the app shows its text
 * beside them.
 * @module
 */

import { notNegative, positive } from "./ranges.js";

/**
 * One thing to do (or not to do) with solution that is left; `code` names it in catalogues.
 * @typedef {{code: string, message: string, source: string}} LeftoverOption
 */

/** @type {Readonly<LeftoverOption>} */
const ON_LABELLED_CROP = Object.freeze({
  code: "leftover.labelled_crop",
  message: "Apply it to another lot only where the label allows crop, site and total amount.",
  source: "common practice (no source)",
});
/** @type {Readonly<LeftoverOption>} */
const TODAY = Object.freeze({
  code: "leftover.same_day",
  message: "Use it the same day; a mixed growth regulator is not stored.",
  source: "Michigan State University, PGR dilution guide",
});
/** @type {Readonly<LeftoverOption>} */
const LABEL = Object.freeze({
  code: "leftover.as_label_says",
  message: "Dispose of the rest and of rinse water as the label says; never into water or a drain.",
  source: "US label texts",
});
/** @type {Readonly<LeftoverOption>} */
const BATH = Object.freeze({
  code: "leftover.bath_spreads_disease",
  message: "A bath that many plants went through can carry disease to the next ones.",
  source: "North Carolina State University, HIL 529",
});

/**
 * Return what may be done with the rest, most useful first; the label line always stands.
 * @param {string} method
 * @param {number} leftoverL
 * @returns {ReadonlyArray<Readonly<LeftoverOption>>}
 */
export function leftoverOptions(method, leftoverL) {
  const rest = notNegative(leftoverL, "leftover_l");
  const options = rest > 0 ? [ON_LABELLED_CROP, TODAY] : [];
  if (rest > 0 && ["liner_dip", "bulb_dip", "sub_irrigation"].includes(method)) options.push(BATH);
  return Object.freeze([...options, LABEL]);
}

/**
 * Return what is left of a mixed volume after use; below zero is refused as impossible.
 * @param {number} mixedL
 * @param {number} usedL
 */
export function leftInTankL(mixedL, usedL) {
  const mixed = positive(mixedL, "mixed_l");
  const used = notNegative(usedL, "used_l");
  return notNegative(mixed - used, "left_l");
}

/**
 * Return how far the volume really used lies from the planned one, in per cent of it.
 * @param {number} plannedL
 * @param {number} usedL
 */
export function usedDeviationPct(plannedL, usedL) {
  const planned = positive(plannedL, "planned_l");
  return ((notNegative(usedL, "used_l") - planned) / planned) * 100;
}
