/**
 * Strength of a product from any label statement: how much active ingredient a measure holds.
 * Twin: server/tepal/domain/strength.py. A per cent figure says nothing without its basis, so a
 * missing basis is an error that asks for it: 23 % w/w and 25 % w/v stand side by side on one
 * paclobutrazol label, and mixing them up is an error of 9 %. Where a label states an active
 * ingredient both as a salt and as acid equivalent, the one that the target counts must be named.
 * @module
 */

import { OutOfRangeError, TepalError, textOf } from "./errors.js";
import { positive, within } from "./ranges.js";
import { decimalValue, quantityValue, unitOf } from "./units.js";

/**
 * Active ingredient in one measure of product: mg/mL of a liquid (g/L), mg/g of a dry one.
 * @typedef {object} Strength
 * @property {string} ai
 * @property {string} expressed_as what the label counts: as_labelled, salt or acid_equivalent
 * @property {number} mg_per_measure
 */
/** @typedef {Readonly<Record<string, any>>} JsonRecord */

// Own bounds, no source: no liquid formulation is lighter than petrol or heavier than a slurry.
export const MIN_DENSITY_G_PER_ML = 0.5;
export const MAX_DENSITY_G_PER_ML = 2.5;
export const MAX_STRENGTH_G_PER_L = 2000.0;

// International pound over US gallon, both exact (NIST Handbook 44, appendix C).
const G_PER_LB = 453.59237;
const L_PER_US_GAL = 3.785411784;

/** A label's strength is incomplete, contradictory or impossible. */
export class StrengthError extends TepalError {}

/**
 * @param {number} pct
 * @param {string} name
 */
function percent(pct, name) {
  const number = positive(pct, name);
  if (number > 100) {
    throw new StrengthError(
      "strength.above_100_percent",
      `${name} is ${number} %; a strength cannot be above 100 %.`,
      { name, value: number },
    );
  }
  return number;
}

/**
 * Return g a.i. per litre of a liquid labelled in % w/w, from its density in g/mL: % x 10 x density.
 * @param {number} strengthPctWW
 * @param {number} density
 */
export function gPerLFromWW(strengthPctWW, density) {
  const pct = percent(strengthPctWW, "strength_pct_w_w");
  const gPerMl = within(density, "density_g_per_ml", MIN_DENSITY_G_PER_ML, MAX_DENSITY_G_PER_ML);
  return pct * 10 * gPerMl;
}

/**
 * Return g a.i. per litre of a liquid labelled in % w/v (g in 100 mL): % x 10.
 * @param {number} strengthPctWV
 */
export function gPerLFromWV(strengthPctWV) {
  return percent(strengthPctWV, "strength_pct_w_v") * 10;
}

/**
 * Return g a.i. per litre of a liquid labelled in lb a.i. per US gallon (x 119.826).
 * @param {number} strengthLbPerGal
 */
export function gPerLFromLbPerGal(strengthLbPerGal) {
  return (positive(strengthLbPerGal, "strength_lb_per_gal") * G_PER_LB) / L_PER_US_GAL;
}

/**
 * Return mg a.i. per gram of a dry product labelled in % w/w: % x 10.
 * @param {number} strengthPctWW
 */
export function mgPerGFromWW(strengthPctWW) {
  return percent(strengthPctWW, "strength_pct_w_w") * 10;
}

/**
 * Return the density in g/mL of a liquid whose label prints both bases: % w/v / % w/w.
 * @param {number} strengthPctWW
 * @param {number} strengthPctWV
 */
export function densityFromWWAndWV(strengthPctWW, strengthPctWV) {
  const wV = percent(strengthPctWV, "strength_pct_w_v");
  return wV / percent(strengthPctWW, "strength_pct_w_w");
}

/**
 * Return the density that a product's record states, in g/mL; null where it states none.
 * @param {JsonRecord} product
 * @returns {number | null}
 */
export function densityGPerMl(product) {
  const stated = product.density ?? null;
  if (stated === null) return null;
  const gPerMl = quantityValue(stated, "mass_concentration", "density") / 1000000;
  return within(gPerMl, "density_g_per_ml", MIN_DENSITY_G_PER_ML, MAX_DENSITY_G_PER_ML);
}

/** @param {JsonRecord} product */
function isDryProduct(product) {
  const form = product.physical_form;
  if (form !== "liquid" && form !== "dry") {
    throw new StrengthError(
      "strength.physical_form_missing",
      "The product is neither marked liquid nor dry; say which it is.",
      { product: product.name ?? null },
    );
  }
  return form === "dry";
}

/**
 * @param {JsonRecord} stated
 * @param {JsonRecord} product
 * @param {boolean} isDry
 * @param {string} ai
 * @returns {number}
 */
function mgPerMeasure(stated, product, isDry, ai) {
  const quantity = stated.strength;
  if (typeof quantity !== "object" || quantity === null || Array.isArray(quantity)) {
    throw new StrengthError("strength.missing", `${ai}: the strength is missing; copy it from the label.`, {
      ai,
    });
  }
  const { dimension } = unitOf(quantity.unit);
  if (dimension === "fraction") {
    const pct = decimalValue(quantity.value, "strength");
    return mgPerMeasureFromPercent(pct, stated.basis, product, isDry, ai);
  }
  if (dimension === "mass_fraction") {
    // g/kg says by itself that it is by weight
    const pct = quantityValue(quantity, "mass_fraction", "strength") / 10;
    return mgPerMeasureFromPercent(pct, "w_w", product, isDry, ai);
  }
  const gPerL = quantityValue(quantity, "mass_concentration", "strength") / 1000;
  if (isDry) {
    throw new StrengthError(
      "strength.volume_for_dry_product",
      `${ai}: a strength per volume needs a liquid; a dry product is labelled in % w/w.`,
      { ai },
    );
  }
  const density = densityGPerMl(product);
  const highest = density === null ? MAX_STRENGTH_G_PER_L : density * 1000;
  if (positive(gPerL, "strength_g_per_l") > highest) {
    throw new OutOfRangeError(
      "strength.above_possible",
      `${ai}: ${gPerL} g/L is more than a litre of the product can weigh.`,
      { ai, value: gPerL, highest },
    );
  }
  return gPerL;
}

/**
 * @param {number} pct
 * @param {unknown} basis
 * @param {JsonRecord} product
 * @param {boolean} isDry
 * @param {string} ai
 * @returns {number}
 */
function mgPerMeasureFromPercent(pct, basis, product, isDry, ai) {
  if (basis !== "w_w" && basis !== "w_v") {
    throw new StrengthError(
      "strength.basis_missing",
      `${ai}: ${pct} % can be by weight (w/w) or in a volume (w/v); copy it from the label.`,
      { ai, value: pct },
    );
  }
  if (isDry) {
    if (basis === "w_v") {
      throw new StrengthError(
        "strength.volume_for_dry_product",
        `${ai}: % w/v needs a liquid; a dry product is labelled in % w/w.`,
        { ai },
      );
    }
    return mgPerGFromWW(pct);
  }
  if (basis === "w_v") return gPerLFromWV(pct);
  const density = densityGPerMl(product);
  if (density === null) {
    throw new StrengthError(
      "strength.density_missing",
      `${ai}: a liquid labelled in % w/w needs its density (label or SDS) to be measured by volume.`,
      { ai },
    );
  }
  return gPerLFromWW(pct, density);
}

/**
 * Return the strength of every active ingredient of a product's record, in the order of the record.
 * `product` has `physical_form` 'liquid' or 'dry'; `density` where the label is in % w/w;
 * `ingredients`, each with `ai`, `strength` {value, unit}, `basis` 'w_w' or 'w_v' for a per cent
 * figure, and `expressed_as` ('salt' or 'acid_equivalent') where the label says so. The same `ai` may
 * stand twice, once for each. Errors: see the Python twin.
 * @param {JsonRecord} product
 * @returns {ReadonlyArray<Strength>}
 */
export function strengthsOf(product) {
  const isDry = isDryProduct(product);
  /** @type {Strength[]} */
  const found = [];
  const ingredients = product.ingredients || [];
  if (
    !Array.isArray(ingredients) ||
    !ingredients.every((one) => typeof one === "object" && one !== null && !Array.isArray(one))
  ) {
    throw new StrengthError(
      "strength.ingredients_not_a_list",
      "The ingredients of a product are a list of records.",
    );
  }
  for (const ingredient of ingredients) {
    const ai = ingredient.ai;
    if (typeof ai !== "string" || ai === "") {
      throw new StrengthError("strength.ai_missing", "An ingredient of the product has no name.");
    }
    const expressedAs = textOf(ingredient.expressed_as) || "as_labelled";
    const mg = mgPerMeasure(ingredient, product, isDry, ai);
    found.push(Object.freeze({ ai, expressed_as: expressedAs, mg_per_measure: mg }));
  }
  const density = isDry ? null : densityGPerMl(product);
  const highest = isDry ? 1000.0 : density === null ? MAX_STRENGTH_G_PER_L : density * 1000;
  // Salt and acid equivalent state the same substance twice: only the larger one is weighed.
  /** @type {Map<string, number>} */
  const largest = new Map();
  for (const strength of found) {
    largest.set(strength.ai, Math.max(largest.get(strength.ai) ?? 0, strength.mg_per_measure));
  }
  let total = 0;
  for (const mg of largest.values()) total += mg;
  if (total > highest * (1 + 1e-9)) {
    throw new StrengthError(
      "strength.more_than_the_product",
      "The active ingredients together weigh more than the product.",
      { value: total, highest },
    );
  }
  return Object.freeze(found);
}
