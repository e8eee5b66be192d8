/**
 * Amounts of product for a wanted concentration, and the concentration an amount gives.
 * Twin: server/tepal/domain/dilution.py. Concentrations are mg a.i. per litre of final solution; the
 * final volume includes the product (fill part of the water, add the product, fill up to the volume).
 * A strength in g/L is the same number as mg/mL. No answer is rounded; round only with
 * `rounding.forMeasuring`.
 * @module
 */

import { OutOfRangeError } from "./errors.js";
import { notNegative, positive, positiveUpTo } from "./ranges.js";

/** The wanted concentration is above what the product itself holds. */
export class TargetAboveStrengthError extends OutOfRangeError {}

/**
 * @param {number} targetMgPerL
 * @param {number} highestMgPerL
 */
function refuseAbove(targetMgPerL, highestMgPerL) {
  if (targetMgPerL > highestMgPerL) {
    throw new TargetAboveStrengthError(
      "dilution.target_above_strength",
      `The target of ${targetMgPerL} mg/L is above the product's own strength of ` +
        `${highestMgPerL} mg/L; check the target and the strength.`,
      { target_mg_per_l: targetMgPerL, strength_mg_per_l: highestMgPerL },
    );
  }
}

/**
 * Return the mL of a liquid product for a target concentration in a final volume.
 * C1 x V1 = C2 x V2 with V2 the final volume.
 * @param {number} targetMgPerL mg/L, > 0
 * @param {number} finalL L, > 0, product included
 * @param {number} strengthGPerL g/L, > 0
 * @returns {number} mL
 */
export function productMl(targetMgPerL, finalL, strengthGPerL) {
  const target = positive(targetMgPerL, "target_mg_per_l");
  const volume = positive(finalL, "final_l");
  const strength = positive(strengthGPerL, "strength_g_per_l");
  refuseAbove(target, strength * 1000);
  return (target * volume) / strength;
}

/**
 * Return the grams of a dry product (mg a.i. per g = % w/w x 10) for a target concentration.
 * @param {number} targetMgPerL
 * @param {number} finalL
 * @param {number} strengthMgPerG
 * @returns {number} g
 */
export function productG(targetMgPerL, finalL, strengthMgPerG) {
  const target = positive(targetMgPerL, "target_mg_per_l");
  const volume = positive(finalL, "final_l");
  const strength = positiveUpTo(strengthMgPerG, "strength_mg_per_g", 1000);
  refuseAbove(target, strength * 1000);
  return (target * volume) / strength;
}

/**
 * Return mg a.i. per litre that an amount of liquid product gives in a final volume.
 * @param {number} amountMl
 * @param {number} strengthGPerL
 * @param {number} finalL
 */
export function concentrationMgPerL(amountMl, strengthGPerL, finalL) {
  const amount = positive(amountMl, "amount_ml");
  const strength = positive(strengthGPerL, "strength_g_per_l");
  const volume = positive(finalL, "final_l");
  if (amount > volume * 1000) {
    throw new OutOfRangeError(
      "dilution.product_above_volume",
      `${amount} mL of product do not fit into ${volume} L.`,
      { amount_ml: amount, final_l: volume },
    );
  }
  return (amount * strength) / volume;
}

/**
 * Return mg a.i. per litre that an amount of dry product gives in a final volume.
 * @param {number} amountG
 * @param {number} strengthMgPerG
 * @param {number} finalL
 */
export function concentrationDryMgPerL(amountG, strengthMgPerG, finalL) {
  const amount = positive(amountG, "amount_g");
  const strength = positiveUpTo(strengthMgPerG, "strength_mg_per_g", 1000);
  return (amount * strength) / positive(finalL, "final_l");
}

/**
 * Return the strength in g/L that a printed rate (mL for mg/L in a volume) implies.
 * @param {number} targetMgPerL
 * @param {number} finalL
 * @param {number} amountMl
 */
export function impliedStrengthGPerL(targetMgPerL, finalL, amountMl) {
  const target = positive(targetMgPerL, "target_mg_per_l");
  return (target * positive(finalL, "final_l")) / positive(amountMl, "amount_ml");
}

/**
 * Return the mL of a stock solution for a target concentration in a final volume: as `productMl`,
 * for a stock made in the house.
 * @param {number} targetMgPerL
 * @param {number} finalL
 * @param {number} stockMgPerMl
 */
export function stockVolumeMl(targetMgPerL, finalL, stockMgPerMl) {
  return productMl(targetMgPerL, finalL, stockMgPerMl);
}

/**
 * Return how much of a concentrate of `sourcePct` makes `total` of `wantedPct`.
 * C1 x V1 = C2 x V2 (US Army course MD0173); `total` and the answer share any one unit.
 * @param {number} wantedPct
 * @param {number} total
 * @param {number} sourcePct
 */
export function dilutedAmount(wantedPct, total, sourcePct) {
  const wanted = positive(wantedPct, "wanted_pct");
  const source = positive(sourcePct, "source_pct");
  refuseAbove(wanted * 10000, source * 10000);
  return (wanted * positive(total, "total")) / source;
}

/**
 * Return the mL of an adjuvant at a per cent by volume (v/v) of the final volume.
 * @param {number} pctVV
 * @param {number} finalL
 */
export function adjuvantMl(pctVV, finalL) {
  const pct = positiveUpTo(pctVV, "pct_v_v", 100);
  return pct * 10 * positive(finalL, "final_l");
}

/**
 * Return a printed amount per `baseVolume` scaled to `volume` (same unit as the base).
 * @param {number} baseAmount
 * @param {number} baseVolume
 * @param {number} volume
 */
export function scaledAmount(baseAmount, baseVolume, volume) {
  const amount = positive(baseAmount, "base_amount");
  return (amount * positive(volume, "volume")) / positive(baseVolume, "base_volume");
}

/**
 * Return what the target becomes if the product is poured onto the full volume of water.
 * Own arithmetic: the amount meant for 1 L of final solution then stands in 1 L plus its own mL.
 * @param {number} targetMgPerL
 * @param {number} amountMlPerL
 */
export function addedToFullVolumeMgPerL(targetMgPerL, amountMlPerL) {
  const target = positive(targetMgPerL, "target_mg_per_l");
  const amount = notNegative(amountMlPerL, "amount_ml_per_l");
  return target / (1 + amount / 1000);
}

/**
 * Return the price of one mg a.i. from the price of a litre of product.
 * @param {number} pricePerL
 * @param {number} strengthGPerL
 */
export function costPerMg(pricePerL, strengthGPerL) {
  const price = notNegative(pricePerL, "price_per_l");
  return price / (positive(strengthGPerL, "strength_g_per_l") * 1000);
}

/**
 * Return the price of the a.i. that one pot, plant or bulb gets.
 * @param {number} pricePerMg
 * @param {number} mgPerItem
 */
export function costPerItem(pricePerMg, mgPerItem) {
  return notNegative(pricePerMg, "price_per_mg") * positive(mgPerItem, "mg_per_item");
}
