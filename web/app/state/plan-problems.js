// What is wrong with what was typed into the planner, field by field, before anything is drawn or saved. Pure.
import { cellsOf, decimalOf, signed, wholeOf } from "./trial-plan.js";

/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */
/** @typedef {import("./trial-plan.js").Plan} Plan */
/** What is wrong: a code of `plan.wrong.*` and its parameters. @typedef {{code: string, params: Record<string, any>}} Wrong */

const MOST_COUNT = 1000;
const MOST_GUARDS = 20;
const MOST_REPLICATES = 500;

/**
 * What is wrong, by step and field; a field that is right is not there. `treatments.0.rate` names a field of a row.
 * @param {Plan} plan @param {NumberFormat} numberFormat
 * @returns {Record<string, Record<string, Wrong>>}
 */
export function problemsOf(plan, numberFormat) {
  /** @type {Record<string, Record<string, Wrong>>} */
  const found = {};
  const put = (
    /** @type {string} */ step,
    /** @type {string} */ field,
    /** @type {Wrong | null} */ wrong,
  ) => {
    if (wrong === null) return;
    found[step] ??= {};
    found[step][field] = wrong;
  };
  const number = (/** @type {any} */ text, /** @type {number} */ least, /** @type {number} */ most) =>
    wrongNumber(text, least, most, numberFormat);

  for (const [i, one] of plan.treatments.entries()) {
    if (one.role === "rate") put("treatments", `${i}.rate`, number(one.rate, 0, 1_000_000));
    if (one.role === "blank" && String(one.blank_of ?? "").trim() !== "") {
      const n = wholeOf(one.blank_of);
      const isThere = n !== null && n >= 1 && n <= plan.treatments.length && n !== i + 1;
      if (!isThere) put("treatments", `${i}.blank_of`, { code: "blank_of", params: { value: one.blank_of } });
    }
  }
  put("design", "n_blocks", wrongWhole(plan.n_blocks, 1, MOST_REPLICATES, true));
  put("design", "plants_per_plot", wrongWhole(plan.plants_per_plot, 1, MOST_COUNT, true));
  put("design", "cv", number(plan.cv, 0.01, MOST_COUNT));
  put("design", "difference", number(plan.difference, 0.01, MOST_COUNT));
  for (const name of /** @type {const} */ (["rows", "columns"]))
    put("layout", name, wrongWhole(plan[name], 1, MOST_COUNT));
  for (const name of /** @type {const} */ (["guard_rows", "guard_columns"]))
    put("layout", name, wrongWhole(plan[name], 0, MOST_GUARDS));
  if ((plan.rows.trim() === "") !== (plan.columns.trim() === ""))
    put("layout", plan.rows.trim() === "" ? "rows" : "columns", { code: "both", params: {} });
  const cell = cellsOf(plan.out_of_use).problem;
  if (cell) put("layout", "out_of_use", { code: "cells", params: { value: cell } });
  put("layout", "overage", number(plan.overage, 0, 100));
  for (const [i, one] of plan.measurements.entries()) {
    put("measurements", `${i}.decimals`, wrongWhole(one.decimals, 0, 6));
    const least = number(one.least, -1e6, 1e9);
    const most = number(one.most, -1e6, 1e9);
    put("measurements", `${i}.least`, least);
    put("measurements", `${i}.most`, most);
    if (least || most) continue;
    const bounds = [one.least, one.most].map((text) => decimalOf(text, numberFormat));
    if (bounds[0] !== null && bounds[1] !== null && Number(bounds[0]) > Number(bounds[1]))
      put("measurements", `${i}.least`, { code: "order", params: {} });
  }
  for (const [i, one] of plan.assessments.entries()) {
    put("assessments", `${i}.day`, wrongWhole(one.day, -400, 2000, true));
    if (one.sort === "daily_round") {
      const until = wrongWhole(one.until_day, -400, 2000, true);
      const isBefore = until === null && Number(signed(one.until_day)) < Number(signed(one.day));
      put("assessments", `${i}.until_day`, isBefore ? { code: "until", params: {} } : until);
    } else put("assessments", `${i}.window`, wrongWhole(one.window, 0, 60));
  }
  for (const row of plan.harvests)
    if (row.plants_per_plot !== undefined)
      put(
        "harvest",
        `${row.assessment}.plants_per_plot`,
        wrongWhole(row.plants_per_plot, 1, MOST_COUNT, true),
      );
  put("end", "wanted_value", number(plan.wanted_value, -1e6, 1e9));
  return found;
}

/** @param {any} text @param {number} least @param {number} most @param {boolean} [needed] @returns {Wrong | null} */
function wrongWhole(text, least, most, needed = false) {
  const plain = signed(text);
  if (plain === "" && !needed) return null;
  const isRight = /^-?[0-9]{1,6}$/.test(plain) && Number(plain) >= least && Number(plain) <= most;
  return isRight ? null : { code: "whole", params: { value: plain, least, most } };
}

/** @param {any} text @param {number} least @param {number} most @param {NumberFormat} numberFormat @returns {Wrong | null} */
function wrongNumber(text, least, most, numberFormat) {
  const wrong = { code: "number", params: { value: signed(text), least, most } };
  try {
    const value = decimalOf(text, numberFormat);
    return value === null || (Number(value) >= least && Number(value) <= most) ? null : wrong;
  } catch {
    return wrong;
  }
}

/**
 * Whether the layout still is one of this plan: its design, every treatment with a plot and no other, its blocks.
 * What was potted on keeps the layout of its liners' design.
 * @param {Plan} plan
 */
export function layoutFits(plan) {
  const { layout } = plan;
  if (!layout || plan.isPotted) return true;
  const plots = layout.plots.filter((/** @type {any} */ plot) => !plot.guard);
  const given = new Set(plots.map((/** @type {any} */ plot) => plot.treatment));
  const blocks = new Set(plots.map((/** @type {any} */ plot) => plot.block ?? null).filter(Boolean));
  const sameTreatments =
    given.size === plan.treatments.length && plan.treatments.every((_, i) => given.has(i + 1));
  const sameDesign = !layout.design || layout.design === plan.design;
  return sameTreatments && sameDesign && (blocks.size === 0 || blocks.size === wholeOf(plan.n_blocks));
}

/**
 * The plots with bench and lot. Of several lots each block takes one, chosen or in turn; without blocks they take turns
 * within every treatment. A stored layout keeps what nobody changed.
 * @param {Plan} plan @returns {any[]}
 */
export function placedPlots(plan) {
  const { layout, lots, bench } = plan;
  const isKept = !movesLots(plan);
  /** @type {Map<number, number>} */
  const turn = new Map();
  return layout.plots.map((/** @type {any} */ plot) => {
    if (plot.guard) return plot;
    const nth = turn.get(plot.treatment) ?? 0;
    turn.set(plot.treatment, nth + 1);
    const own = plot.block ? lotOfBlock(plan, plot.block) : lots[nth % lots.length];
    const lot = isKept ? plot.lot : own;
    const place = layout.isStored && bench === layout.bench ? plot.bench : bench;
    const { lot: _lot, bench: _bench, ...rest } = plot;
    return { ...rest, ...(lot ? { lot } : {}), ...(place ? { bench: place } : {}) };
  });
}

/** Whether the plots take their lots from the plan: all of a new layout, those of a stored one whose lots were changed.
 * @param {Plan} plan */
const movesLots = ({ layout, lots, block_lots }) =>
  !layout.isStored ||
  JSON.stringify([lots, block_lots]) !== JSON.stringify([layout.lots ?? [], layout.block_lots ?? {}]);

/** Whether a layout that is on file has to be written again: its bench or its lots were changed. @param {Plan} plan */
export const isReplaced = (plan) =>
  Boolean(plan.layout) && (movesLots(plan) || (plan.bench ?? null) !== (plan.layout.bench ?? null));

/** The lot of a block: the chosen one while it is in the trial, else the lots in turn. @param {Plan} plan @param {number} block
 * @returns {string | undefined} */
export function lotOfBlock({ lots, block_lots }, block) {
  const chosen = block_lots[String(block)];
  return lots.includes(chosen) ? chosen : lots[(block - 1) % Math.max(1, lots.length)];
}
