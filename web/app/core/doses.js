/**
 * Doses per pot, plant, bulb, tray and area, and the volumes behind them.
 * Twin: server/tepal/domain/doses.py. mg = mg/L x mL / 1000 (MSU, PGR drench guidelines; North Carolina
 * State University HIL 529: the dose is concentration times volume, and both must be right).
 * @module
 */

import { OutOfRangeError } from "./errors.js";
import { positive, wholeNumber } from "./ranges.js";

/**
 * Return mg a.i. per pot, plant or bulb from the concentration and the mL each gets.
 * @param {number} mgPerL
 * @param {number} mlPerItem
 */
export function mgPerItem(mgPerL, mlPerItem) {
  return (positive(mgPerL, "mg_per_l") * positive(mlPerItem, "ml_per_item")) / 1000;
}

/**
 * Return the concentration that gives `mg` per item with `mlPerItem` of solution.
 * @param {number} mg
 * @param {number} mlPerItem
 */
export function mgPerLForItem(mg, mlPerItem) {
  return (positive(mg, "mg_per_item") * 1000) / positive(mlPerItem, "ml_per_item");
}

/**
 * Return the mL of a solution that carry `mg` a.i.
 * @param {number} mg
 * @param {number} mgPerL
 */
export function mlPerItemForDose(mg, mgPerL) {
  return (positive(mg, "mg_per_item") * 1000) / positive(mgPerL, "mg_per_l");
}

/**
 * Return mg a.i. per square metre from the concentration and the volume per area.
 * @param {number} mgPerL
 * @param {number} mlPerM2
 */
export function mgPerM2(mgPerL, mlPerM2) {
  return (positive(mgPerL, "mg_per_l") * positive(mlPerM2, "ml_per_m2")) / 1000;
}

/**
 * Return the concentration that gives `mg` per square metre at a volume per area.
 * @param {number} mg
 * @param {number} mlPerM2
 */
export function mgPerLForM2(mg, mlPerM2) {
  return (positive(mg, "mg_per_m2") * 1000) / positive(mlPerM2, "ml_per_m2");
}

/**
 * Return the litres for an area at a volume per area (spray, sprench).
 * @param {number} areaM2
 * @param {number} mlPerM2
 */
export function areaVolumeL(areaM2, mlPerM2) {
  return (positive(areaM2, "area_m2") * positive(mlPerM2, "ml_per_m2")) / 1000;
}

/**
 * Return the litres for a number of pots, plants, trays or bulbs (drench, dip).
 * @param {number} nItems
 * @param {number} mlPerItem
 */
export function itemVolumeL(nItems, mlPerItem) {
  return (wholeNumber(nItems, "n_items") * positive(mlPerItem, "ml_per_item")) / 1000;
}

/**
 * Return how many items a litre serves; not rounded.
 * @param {number} mlPerItem
 */
export function itemsPerL(mlPerItem) {
  return 1000 / positive(mlPerItem, "ml_per_item");
}

/**
 * Return how many items a volume serves (a bath by what each takes up); not rounded.
 * @param {number} volumeL
 * @param {number} mlPerItem
 */
export function itemsFromVolume(volumeL, mlPerItem) {
  return (positive(volumeL, "volume_l") * 1000) / positive(mlPerItem, "ml_per_item");
}

/**
 * Return what a bath still holds after dipping `nItems` that take up `mlPerItem` each. Throws
 * `OutOfRangeError` (`doses.bath_too_small`) where they take up more than the bath holds.
 * @param {number} bathL
 * @param {number} nItems
 * @param {number} mlPerItem
 */
export function bathLeftL(bathL, nItems, mlPerItem) {
  const bath = positive(bathL, "bath_l");
  const left = bath - itemVolumeL(nItems, mlPerItem);
  if (left < 0) {
    throw new OutOfRangeError(
      "doses.bath_too_small",
      `The items take up ${-left} L more than the bath of ${bath} L holds.`,
      { bath_l: bath, missing_l: -left },
    );
  }
  return left;
}
