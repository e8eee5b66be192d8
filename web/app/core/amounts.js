/**
 * An amount as both systems of measures read it. Twin: server/tepal/domain/amounts.py. Texts follow
 * the establishment's number format; amounts carry no thousands separator.
 * @module
 */

import { formatQuantity } from "./rounding.js";
import { shownIn } from "./units.js";

/** @typedef {import("./rounding.js").NumberFormat} NumberFormat */
/**
 * One amount as both systems of measures read it; `metric` and `us` are formatted texts.
 * @typedef {{base: number, metric: string, us: string}} AmountText
 */

/**
 * Return an amount in mL, g or another base unit as text in both systems of measures.
 * @param {number} base
 * @param {string} dimension
 * @param {NumberFormat} numberFormat
 * @returns {Readonly<AmountText>}
 */
export function amountText(base, dimension, numberFormat) {
  const metric = shownIn(base, dimension, "metric");
  const us = shownIn(base, dimension, "us");
  return Object.freeze({
    base,
    metric: formatQuantity(metric.value, metric.unit, numberFormat),
    us: formatQuantity(us.value, us.unit, numberFormat),
  });
}
