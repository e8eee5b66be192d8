/**
 * The layout of a small trial, drawn on the phone: completely randomised, on the smallest near-square piece of bench. The
 * same seed gives the same plots as server/tepal/designs/layouts.py, whose algorithm's name it carries; larger designs are
 * drawn there.
 * @module
 */

import { Chance } from "./chance.js";

/** Changes whenever a seed would give another layout; `ALGORITHM` of server/tepal/designs/layouts.py. */
export const ALGORITHM = "tepal-layout-1";

/**
 * The smallest difference of two treatments, in spreads between plots treated alike, that is found in 8 of 10 such trials
 * (two-sided, alpha 0.05, n plots of each, no blocks): noncentral t, as `detectable_difference_pct` of
 * server/tepal/designs/sizes.py computes it; a test holds both together.
 * @type {Readonly<Record<string, number>>}
 */
export const FOUND_SPREADS = { 3: 3.0709, 4: 2.3808, 5: 2.0244, 6: 1.7955, 8: 1.5066 };

/** @typedef {{plot: number, code: string, row: number, column: number, treatment: number}} SmallPlot */

/**
 * The layout as fields of the trial's record.
 * @param {number} nTreatments  Numbered from 1. @param {number} nReplicates  Plots of each. @param {number} seed
 * @returns {{design: string, n_blocks: number, plants_per_plot: number, rows: number, columns: number, seed: string,
 *   algorithm: string, plots: SmallPlot[]}}
 * @throws {import("./errors.js").OutOfRangeError} `designs.seed_out_of_range`
 */
export function smallLayout(nTreatments, nReplicates, seed) {
  const nPlots = nTreatments * nReplicates;
  const columns = Math.ceil(Math.sqrt(nPlots));
  const rows = Math.ceil(nPlots / columns);
  const heap = Array.from({ length: nPlots }, (_, i) => (i % nTreatments) + 1);
  const plots = new Chance(seed).shuffled(heap).map((treatment, i) => {
    const row = Math.floor(i / columns);
    // one row out, the next one back: who walks along them passes every plot once
    const column = row % 2 === 0 ? i % columns : columns - 1 - (i % columns);
    return { plot: i + 1, code: String(i + 1).padStart(3, "0"), row: row + 1, column: column + 1, treatment };
  });
  return {
    design: "crd",
    n_blocks: nReplicates,
    plants_per_plot: 1,
    rows,
    columns,
    seed: String(seed),
    algorithm: ALGORITHM,
    plots,
  };
}
