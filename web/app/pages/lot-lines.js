// The lines of a lot on a day; none where its dates contradict each other.
import { lotHeightLines } from "../core/heights.js";

/** @param {any} lot @param {string} day */
export function linesOn(lot, day) {
  try {
    return lotHeightLines(lot, day);
  } catch {
    return null;
  }
}
