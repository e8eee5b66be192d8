/**
 * Likely slips: a number that is off by a factor people really confuse gets a question.
 * Twin: server/tepal/domain/slips.py. The question compares what someone stated with what arithmetic
 * gives; it names a slip only where the factor fits within 3 %, and asks without a name where none
 * fits.
 * @module
 */

import { Finding } from "./errors.js";
import { positive } from "./ranges.js";

// Kitchen-measure tables are up to 6.4 % off through honest rounding (University of Missouri G7510),
// so a difference is a question only above the 7 % that such a table is allowed.
export const QUESTION_ABOVE = 0.07;
// A slip is named only where its factor fits this well.
export const FIT = 0.03;

// Exact ratios of units (NIST Handbook 44); slips of ten, five (another row of a table), thousand.
/** @type {ReadonlyArray<readonly [string, number]>} */
const FACTORS = [
  ["us_imperial_gallon", 4.54609 / 3.785411784],
  ["litre_us_gallon", 3.785411784],
  ["neighbouring_row", 5.0],
  ["decimal_place", 10.0],
  ["square_foot_square_metre", 1 / 0.09290304],
  ["gram_ounce", 28.349523125],
  ["millilitre_fluid_ounce", 29.5735295625],
  ["decimal_place", 100.0],
  ["thousand", 1000.0],
];

/**
 * Return the code of the slip whose factor fits `ratio` or its inverse best, within 3 %.
 * @param {number} ratio stated over computed, > 0
 * @param {number | null} [densityGPerMl] density of the product: w/w taken for w/v
 * @returns {string | null}
 */
export function likelySlip(ratio, densityGPerMl = null) {
  const off = positive(ratio, "ratio");
  const size = off >= 1 ? off : 1 / off;
  const factors = [...FACTORS];
  if (densityGPerMl !== null) {
    const density = positive(densityGPerMl, "density_g_per_ml");
    // First in the list: where it fits as well as another slip, the known density is likelier.
    factors.unshift(["w_w_w_v", density >= 1 ? density : 1 / density]);
  }
  /** @type {string | null} */
  let best = null;
  let bestMisfit = FIT;
  for (const [code, factor] of factors) {
    const misfit = Math.abs(size / factor - 1);
    if (misfit < bestMisfit) {
      best = code;
      bestMisfit = misfit;
    }
  }
  return best;
}

/**
 * Return the question that a stated number deserves, or null where it agrees: `slip.<code>` with a
 * named slip, or `slip.unexplained`; context has `stated`, `computed` and `ratio`.
 * @param {number} stated what someone wrote, > 0
 * @param {number} computed what arithmetic gives, same unit, > 0
 * @param {number | null} [densityGPerMl] where known, the w/w - w/v difference is looked for, also
 *   below 7 % if it fits better than agreement
 * @returns {Finding | null}
 */
export function slipQuestion(stated, computed, densityGPerMl = null) {
  const ratio = positive(stated, "stated") / positive(computed, "computed");
  const size = ratio >= 1 ? ratio : 1 / ratio;
  const off = size - 1;
  /** @type {string | null} */
  let slip = null;
  if (off > QUESTION_ABOVE) {
    slip = likelySlip(ratio, densityGPerMl);
  } else if (densityGPerMl !== null && isBasisSlip(size, densityGPerMl)) {
    slip = "w_w_w_v";
  } else {
    return null;
  }
  return new Finding(
    slip === null ? "slip.unexplained" : `slip.${slip}`,
    "caution",
    `${stated} was stated where ${computed} is expected, a factor of ${ratio}; check it.`,
    null,
    null,
    { stated, computed, ratio },
  );
}

/**
 * Return whether a small difference fits the density better than it fits agreement.
 * @param {number} size
 * @param {number} densityGPerMl
 */
function isBasisSlip(size, densityGPerMl) {
  const density = positive(densityGPerMl, "density_g_per_ml");
  const factor = density >= 1 ? density : 1 / density;
  return factor - 1 > FIT && Math.abs(size / factor - 1) < FIT && size - 1 > (factor - 1) / 2;
}
