/**
 * How long an application stays on the central display, and by when it has to be there. Twin:
 * server/tepal/domain/display_window.py, which names the sources (40 CFR 170.311(b)(5)).
 * @module
 */

import { finite } from "./ranges.js";
import { longestReiH } from "./restriction.js";

const HOUR_MS = 3_600_000;
const DUE_H = 24;
const KEPT_H = 30 * 24;

/**
 * Return by when an application has to be on display, ms since 1970.
 * @param {number} endedMs
 * @returns {number}
 */
export function displayDueMs(endedMs) {
  return finite(endedMs, "ended_ms") + DUE_H * HOUR_MS;
}

/**
 * Return until when an application stays on display, ms since 1970; null where an interval is not on
 * file: no end can be stated, so it stays until one is.
 * @param {number} endedMs
 * @param {ReadonlyArray<number | null>} intervalsH of each product that has one to have; empty: nothing
 *   applied has an interval
 * @returns {number | null}
 */
export function displayUntilMs(endedMs, intervalsH) {
  const end = finite(endedMs, "ended_ms");
  if (intervalsH.length === 0) return end + KEPT_H * HOUR_MS;
  const longest = longestReiH(intervalsH);
  return longest === null ? null : end + (longest + KEPT_H) * HOUR_MS;
}
