/**
 * When the restricted-entry interval (REI) of an application ends. Twin:
 * server/tepal/domain/restriction.py. The longest interval of a mix counts (40 CFR 170.407(c), read in
 * the state copy WAC 16-233-116), from the end of the application, in elapsed hours.
 * @module
 */

import { notNegative } from "./ranges.js";

/**
 * Return the longest interval of a mix in hours, or null where one is not on file: unknown is never
 * treated as zero.
 * @param {ReadonlyArray<number | null>} intervalsH
 * @returns {number | null}
 */
export function longestReiH(intervalsH) {
  /** @type {number | null} */
  let longest = null;
  for (const interval of intervalsH) {
    if (interval === null) return null;
    const hours = notNegative(interval, "rei_h");
    longest = longest === null || hours > longest ? hours : longest;
  }
  return longest;
}

/**
 * Return when the interval ends, ms since 1970, or null where the interval is not on file.
 * @param {number} endedMs
 * @param {number | null} reiH
 * @returns {number | null}
 */
export function reiEndMs(endedMs, reiH) {
  if (reiH === null) return null;
  return endedMs + notNegative(reiH, "rei_h") * 3_600_000;
}
