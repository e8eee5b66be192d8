/**
 * Injectors and stock solutions, with the two published meanings of 1:100 kept apart.
 * Twin: server/tepal/domain/injector.py. '1:100' is read in two ways: one part of stock in 100 parts
 * of final solution (factor 100; University of Massachusetts), or one part injected into 100 parts of
 * water (factor 101; GrowerTalks 2018). The meaning is asked for and stored, never guessed: they
 * differ by 1 % at 1:100 and by 6.3 % at 1:15.
 * @module
 */

import { productMl } from "./dilution.js";
import { TepalError } from "./errors.js";
import { notNegative, positive, positiveUpTo, within } from "./ranges.js";
import { decimalValue } from "./units.js";

export const MEANINGS = Object.freeze(["part_in_total", "part_to_water"]);

/** An injector ratio that could mean two things, or a meaning that is not known. */
export class InjectorError extends TepalError {}

/**
 * Return how many times the injector dilutes the stock.
 * @param {unknown} ratio number or decimal text, 1 to 10000: the 100 of '1:100'
 * @param {unknown} meaning 'part_in_total' (factor = ratio) or 'part_to_water' (factor = ratio + 1)
 * @returns {number}
 */
export function injectorFactor(ratio, meaning) {
  const number = typeof ratio === "string" ? decimalValue(ratio, "ratio") : ratio;
  const parts = within(number, "ratio", 1, 10000);
  if (typeof meaning !== "string" || !MEANINGS.includes(meaning)) {
    throw new InjectorError(
      "injector.meaning_missing",
      "1 part in the total, or 1 part to the water? The two differ; say which the injector means.",
      { ratio: parts },
    );
  }
  return meaning === "part_in_total" ? parts : parts + 1;
}

/**
 * Return the relative difference of the final concentration between the two meanings.
 * @param {number} ratio
 */
export function injectorMeaningDifference(ratio) {
  const parts = within(ratio, "ratio", 1, 10000);
  return 1 - parts / (parts + 1);
}

/**
 * Return a ratio as per cent of the final solution (meaning 'part_in_total').
 * @param {number} ratio
 */
export function injectorPct(ratio) {
  return 100 / within(ratio, "ratio", 1, 10000);
}

/**
 * Return the concentration of the stock: target x factor.
 * @param {number} targetMgPerL
 * @param {number} factor
 */
export function stockMgPerL(targetMgPerL, factor) {
  return positive(targetMgPerL, "target_mg_per_l") * positive(factor, "factor");
}

/**
 * Return the mL of a liquid product in a stock of `stockL` behind an injector.
 * @param {number} targetMgPerL
 * @param {number} factor
 * @param {number} stockL
 * @param {number} strengthGPerL
 */
export function stockProductMl(targetMgPerL, factor, stockL, strengthGPerL) {
  return productMl(stockMgPerL(targetMgPerL, factor), stockL, strengthGPerL);
}

/**
 * Return the grams of a dry product in a stock of `stockL` behind an injector.
 * @param {number} targetMgPerL
 * @param {number} factor
 * @param {number} stockL
 * @param {number} strengthMgPerG
 */
export function stockDryG(targetMgPerL, factor, stockL, strengthMgPerG) {
  const stock = stockMgPerL(targetMgPerL, factor);
  const strength = positiveUpTo(strengthMgPerG, "strength_mg_per_g", 1000);
  return (stock * positive(stockL, "stock_l")) / strength;
}

/**
 * Return the ratio that a flow check finds: diluted volume over stock drawn in that time.
 * @param {number} dilutedL
 * @param {number} stockDrawnL
 */
export function injectorFlowRatio(dilutedL, stockDrawnL) {
  return positive(dilutedL, "diluted_l") / positive(stockDrawnL, "stock_drawn_l");
}

/**
 * Return the EC that the stock adds: reading behind the injector minus the raw water's.
 * @param {number} ecOut
 * @param {number} ecWater
 */
export function netEcMsPerCm(ecOut, ecWater) {
  return positive(ecOut, "ec_out") - notNegative(ecWater, "ec_water");
}

/**
 * Return how far the net EC lies from the chart's value, in per cent of the chart's.
 * @param {number} ecOut
 * @param {number} ecWater
 * @param {number} ecChart
 */
export function injectorEcDeviationPct(ecOut, ecWater, ecChart) {
  const chart = positive(ecChart, "ec_chart");
  return ((netEcMsPerCm(ecOut, ecWater) - chart) / chart) * 100;
}
