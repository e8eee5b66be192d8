/**
 * What is left of a delivered batch, and what a use of it cost. Twin: server/tepal/domain/stock.py.
 * Amounts of one batch are in one base unit throughout (mL or g); the caller converts by density where a
 * product is bought in one measure and used in the other.
 * @module
 */

import { finite, notNegative, positive } from "./ranges.js";

/**
 * An amount that was used, or that somebody counted, and when (ms since 1970).
 * @typedef {{at_ms: number, amount: number}} StockMove
 */

/**
 * Return what should be left of a batch: delivered less everything used; a count replaces what was
 * reckoned up to its moment, and only uses after it are taken off. Below zero where more was recorded as
 * used than there was.
 * @param {number} delivered
 * @param {ReadonlyArray<StockMove>} used
 * @param {ReadonlyArray<StockMove>} counted
 * @returns {number}
 */
export function batchLeft(delivered, used, counted) {
  let left = notNegative(delivered, "delivered");
  /** @type {number | null} */
  let since = null;
  for (const move of counted) {
    const at = finite(move.at_ms, "at_ms");
    if (since === null || at >= since) {
      left = notNegative(move.amount, "amount");
      since = at;
    }
  }
  for (const move of used) {
    const amount = notNegative(move.amount, "amount");
    if (since === null || finite(move.at_ms, "at_ms") > since) left -= amount;
  }
  return left;
}

/**
 * Return what a use cost: the share of the batch's price that its amount is.
 * @param {number} cost
 * @param {number} delivered
 * @param {number} used
 * @returns {number}
 */
export function costOfUse(cost, delivered, used) {
  const share = notNegative(used, "used") / positive(delivered, "delivered");
  return notNegative(cost, "cost") * share;
}
