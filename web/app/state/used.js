// What was really used of a tank, against what was planned for the places. Pure.
import { usedDeviationPct } from "../core/leftover.js";
import { quantityValue } from "../core/units.js";

/** @typedef {{value: string, unit: string}} Quantity */

/**
 * Null where the record does not say how much was mixed. Planned is what the places were to get; behind an injector, where
 * the tank holds stock, it is what was mixed.
 * @param {Record<string, any>} fields  Of the application.
 * @param {Quantity} left               What is left in the tank.
 * @returns {{mixed_l: number, planned_l: number, left_l: number, used_l: number, off_pct: number} | null}
 *   off_pct  Of the planned volume; used_l is 0 where more is said to be left than was mixed.
 */
export function usedOf(fields, left) {
  if (!fields.volume) return null;
  const litres = (/** @type {Quantity} */ one) => quantityValue(one, "volume", "volume") / 1000;
  const mixed = litres(fields.volume);
  const lines = (fields.lines ?? []).filter((/** @type {any} */ line) => line.volume);
  const onPlaces = lines.reduce(
    (/** @type {number} */ sum, /** @type {any} */ line) => sum + litres(line.volume),
    0,
  );
  const planned = fields.method === "injector" || onPlaces === 0 ? mixed : onPlaces;
  const leftL = litres(left);
  const used = Math.max(0, mixed - leftL);
  return {
    mixed_l: mixed,
    planned_l: planned,
    left_l: leftL,
    used_l: used,
    off_pct: usedDeviationPct(planned, used),
  };
}
