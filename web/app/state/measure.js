// A trial as it is walked: which plants of which plots stand next to each other, what is measured on each, what is done,
// and what to ask about a value that was just entered. Pure.

import { decimalText, formatNumber } from "../core/rounding.js";
import { toBase } from "../core/units.js";

/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */
/**
 * @typedef {{code: string, name?: string, definition?: string, unit?: string | null, type?: string, per?: string,
 *   least?: string, most?: string, decimals?: number, wanted?: string}} Definition
 * @typedef {{plot: number, code: string, block?: number, row?: number, column?: number, treatment?: number, guard?: boolean}} Plot
 * @typedef {{code: string, name?: string, sort?: string, day?: number, window?: number, until_day?: number, measurements?: string[]}} Planned
 *
 * One plant, or a whole plot (`plant` 0), with what is measured on it.
 * @typedef {{plot: number, code: string, block: number | null, inBlock: number, treatment: number | null, plant: number,
 *   nPlants: number, definitions: Definition[]}} Stop
 *
 * What is asked about a value: it stands as it is until the person says so.
 * @typedef {{code: "below_range" | "above_range" | "fell" | "rose" | "not_whole", params: Record<string, string>}} Question
 */

// Rules of thumb, no source: a question, never a refusal.
const FELL_BY = 0.1;
const ROSE_TO = 3;

/** The plots that are measured, in walking order: they are numbered along the serpentine. @param {any} trial @returns {Plot[]} */
export const measuredPlots = (trial) =>
  [...(trial.plots ?? [])].filter((plot) => !plot.guard && plot.plot).sort((a, b) => a.plot - b.plot);

/** @param {any} trial @param {string} code @returns {Planned | null} */
export const plannedOf = (trial, code) =>
  (trial.assessments ?? []).find((/** @type {Planned} */ one) => one.code === code) ?? null;

/** What is measured at an assessment, in the order of the trial. @param {any} trial @param {Planned | null} planned @returns {Definition[]} */
export const definitionsOf = (trial, planned) =>
  (trial.measurements ?? []).filter((/** @type {Definition} */ one) =>
    planned?.measurements?.includes(one.code),
  );

/**
 * Which plants of a plot stand at an assessment: a harvest looks at those drawn for it, and what an earlier harvest took is
 * gone. Twin: `plants_of` in server/tepal/services/trial_harvests.py.
 * @param {any} trial @param {Planned | null} planned
 * @returns {(plot: number) => number[]}
 */
export function plantsAt(trial, planned) {
  const all = Array.from({ length: trial.plants_per_plot ?? 1 }, (_, at) => at + 1);
  const rows = (trial.harvests ?? []).filter((/** @type {any} */ row) => row.plants?.length > 0);
  if (rows.length === 0) return () => all;
  const dayOf = (/** @type {string} */ code) => plannedOf(trial, code)?.day ?? 0;
  const isHarvest = rows.some((/** @type {any} */ row) => row.assessment === planned?.code);
  /** @type {Map<number, Set<number>>} */
  const taken = new Map();
  for (const row of rows) {
    const counts = isHarvest
      ? row.assessment === planned?.code
      : dayOf(row.assessment) < (planned?.day ?? Number.NEGATIVE_INFINITY);
    if (!counts) continue;
    for (const { plot, plants } of row.plants) {
      const own = taken.get(plot) ?? new Set();
      for (const one of String(plants ?? "").split(/[ ,]+/)) if (/^[0-9]+$/.test(one)) own.add(Number(one));
      taken.set(plot, own);
    }
  }
  return (plot) => all.filter((plant) => (taken.get(plot)?.has(plant) ?? false) === isHarvest);
}

/** How many plants the observers of a warm-up measure; `WARM_UP_PLANTS` of server/tepal/services/trial_papers.py. */
const WARM_UP = 5;

/**
 * Every stop of the walk. What is measured per plot comes before the plot's plants.
 * @param {any} trial @param {Planned | null} planned
 * @returns {Stop[]}
 */
export function stopsOf(trial, planned) {
  const definitions = definitionsOf(trial, planned);
  const ofPlot = definitions.filter((one) => one.per === "plot");
  const ofPlant = definitions.filter((one) => one.per !== "plot");
  const nPlants = trial.plants_per_plot ?? 1;
  const standing = plantsAt(trial, planned);
  /** @type {Map<number | null, number>} */
  const places = new Map();
  const stops = measuredPlots(trial).flatMap((plot) => {
    const block = plot.block ?? null;
    const inBlock = (places.get(block) ?? 0) + 1;
    places.set(block, inBlock);
    const about = {
      plot: plot.plot,
      code: plot.code ?? String(plot.plot),
      block,
      inBlock,
      treatment: plot.treatment ?? null,
      nPlants,
    };
    const here = standing(plot.plot);
    const plants = ofPlant.length > 0 ? here : [];
    return [
      ...(ofPlot.length > 0 && here.length > 0 ? [{ ...about, plant: 0, definitions: ofPlot }] : []),
      ...plants.map((plant) => ({ ...about, plant, definitions: ofPlant })),
    ];
  });
  return planned?.sort === "warm_up" ? fewOf(stops) : stops;
}

/** The plants of a warm-up: the same for all observers, spread over the walk. @param {Stop[]} stops */
function fewOf(stops) {
  const plants = stops.some((stop) => stop.plant > 0) ? stops.filter((stop) => stop.plant > 0) : stops;
  if (plants.length <= WARM_UP) return plants;
  return Array.from({ length: WARM_UP }, (_, i) => plants[Math.floor((i * plants.length) / WARM_UP)]);
}

/**
 * What an observation's id is made of. Observers of a warm-up measure the same plants, each for themselves.
 * @param {string} trial @param {Planned} planned @param {{plot: number, plant: number}} stop @param {string} member
 */
export const idParts = (trial, planned, { plot, plant }, member) => [
  trial,
  planned.code,
  plot,
  plant,
  ...(planned.sort === "warm_up" ? [member] : []),
];

/** @param {string} code */
export const fieldOf = (code) => `m_${code}`;

/**
 * How far a stop is: every measurement has a value or a reason for none.
 * @param {Stop} stop @param {Record<string, any> | undefined} fields
 * @returns {"done" | "lost" | "started" | "ahead"}
 */
export function stateOf(stop, fields) {
  if (!fields) return "ahead";
  const known = stateKnown.get(fields);
  if (known?.definitions === stop.definitions) return known.state;
  const state = stateOfFields(stop, fields);
  stateKnown.set(fields, { definitions: stop.definitions, state });
  return state;
}

/** A large trial asks for 1,600 states after each value. Fields of a row are replaced, never changed in place.
 * @type {WeakMap<Record<string, any>, {definitions: Definition[], state: "done" | "lost" | "started" | "ahead"}>} */
const stateKnown = new WeakMap();

/** The same where the row is not kept. @param {Stop} stop @param {Record<string, any>} fields
 * @returns {"done" | "lost" | "started" | "ahead"} */
export function stateOfFields(stop, fields) {
  const values = stop.definitions.map((one) => fields[fieldOf(one.code)]);
  const n = values.filter((value) => value !== undefined && value !== null).length;
  if (n < values.length) return n > 0 ? "started" : "ahead";
  return values.every((value) => typeof value === "object") ? "lost" : "done";
}

/**
 * The first stop from a place on that is not whole yet, else from the start; null where all are.
 * @param {Stop[]} stops @param {(stop: Stop) => Record<string, any> | undefined} fieldsAt @param {number} from
 */
export function nextOpen(stops, fieldsAt, from) {
  for (let step = 0; step < stops.length; step += 1) {
    const at = (from + step) % stops.length;
    const state = stateOf(stops[at], fieldsAt(stops[at]));
    if (state === "ahead" || state === "started") return at;
  }
  return null;
}

/**
 * Where one begins at a plot: its first stop that is not whole, else its first.
 * @param {Stop[]} stops @param {(stop: Stop) => Record<string, any> | undefined} fieldsAt @param {number} first  The plot's first stop.
 */
export function openOfPlot(stops, fieldsAt, first) {
  for (let at = first; at < stops.length && stops[at].plot === stops[first].plot; at += 1) {
    const state = stateOf(stops[at], fieldsAt(stops[at]));
    if (state === "ahead" || state === "started") return at;
  }
  return first;
}

/** The first measurement of a stop without a value; the first of all where none lacks one.
 * @param {Stop} stop @param {Record<string, any> | undefined} fields */
export function firstOpen(stop, fields) {
  const at = stop.definitions.findIndex((one) => (fields?.[fieldOf(one.code)] ?? null) === null);
  return Math.max(at, 0);
}

/**
 * Plots of each block with how far they are, for the beds.
 * @param {Stop[]} stops @param {(stop: Stop) => Record<string, any> | undefined} fieldsAt @param {number} current
 * @returns {{block: number | null, plots: {plot: number, code: string, first: number, state: "done" | "current" | "ahead" | "lost"}[]}[]}
 */
export function bedsOf(stops, fieldsAt, current) {
  /** @type {Map<number | null, Map<number, {code: string, first: number, states: string[], isCurrent: boolean}>>} */
  const blocks = new Map();
  stops.forEach((stop, at) => {
    const plots = blocks.get(stop.block) ?? new Map();
    blocks.set(stop.block, plots);
    const plot = plots.get(stop.plot) ?? { code: stop.code, first: at, states: [], isCurrent: false };
    plots.set(stop.plot, plot);
    plot.states.push(stateOf(stop, fieldsAt(stop)));
    plot.isCurrent ||= at === current;
  });
  return [...blocks].map(([block, plots]) => ({
    block,
    plots: [...plots].map(([plot, { code, first, states, isCurrent }]) => ({
      plot,
      code,
      first,
      state: isCurrent ? "current" : plotState(states),
    })),
  }));
}

/** @param {string[]} states @returns {"done" | "ahead" | "lost"} */
function plotState(states) {
  if (states.every((state) => state === "lost")) return "lost";
  return states.every((state) => state === "done" || state === "lost") ? "done" : "ahead";
}

/** @param {Stop[]} stops @param {(stop: Stop) => Record<string, any> | undefined} fieldsAt */
export function progressOf(stops, fieldsAt) {
  const open = new Set();
  const all = new Set();
  for (const stop of stops) {
    all.add(stop.plot);
    const state = stateOf(stop, fieldsAt(stop));
    if (state === "ahead" || state === "started") open.add(stop.plot);
  }
  return { n: all.size - open.size, total: all.size };
}

/**
 * The digits on the pad as they travel; null while they are no number yet. The pad allows one decimal sign at most.
 * @param {string} text @param {NumberFormat} numberFormat
 */
export function wireValue(text, { decimal }) {
  const plain = text.replace(decimal, ".").replace(/\.$/, "");
  return /^[0-9]{1,12}(\.[0-9]{1,9})?$/.test(plain) ? plain : null;
}

/**
 * What to ask about a value, after it was entered; null where there is nothing to ask.
 * @param {Definition} definition @param {string} value  As it travels.
 * @param {{ earlier: string | null, numberFormat: NumberFormat }} known  `earlier`: the same plant, last time.
 * @returns {Question | null}
 */
export function questionAbout(definition, value, { earlier, numberFormat }) {
  const number = Number(value);
  const said = (/** @type {string} */ text) => withUnit(text, definition, numberFormat);
  if (definition.least !== undefined && definition.least !== null && number < Number(definition.least))
    return { code: "below_range", params: { value: said(value), limit: said(definition.least) } };
  if (definition.most !== undefined && definition.most !== null && number > Number(definition.most))
    return { code: "above_range", params: { value: said(value), limit: said(definition.most) } };
  if (definition.type === "count" && !Number.isInteger(number))
    return { code: "not_whole", params: { value: said(value) } };
  if (definition.type !== "continuous" || earlier === null) return null;
  const before = Number(earlier);
  if (number < before * (1 - FELL_BY))
    return { code: "fell", params: { value: said(value), earlier: said(earlier) } };
  if (before > 0 && number > before * ROSE_TO)
    return { code: "rose", params: { value: said(value), earlier: said(earlier) } };
  return null;
}

/** "14.6 cm" @param {string} value @param {Definition} definition @param {NumberFormat} numberFormat */
export function withUnit(value, definition, numberFormat) {
  const n = value.split(".")[1]?.length ?? 0;
  return [formatNumber(Number(value), n, numberFormat), definition.unit].filter(Boolean).join("\u00a0");
}

/**
 * The stop that a label or a typed code means: "T07/305", or "305".
 * @param {string} text @param {string} trialCode @param {Stop[]} stops
 * @returns {{at: number} | {problem: "other_trial" | "no_such_plot", code: string}}
 */
export function stopOfCode(text, trialCode, stops) {
  const [first, second] = text.trim().split("/");
  if (second !== undefined && first.trim().toUpperCase() !== trialCode.toUpperCase())
    return { problem: "other_trial", code: first.trim() };
  const code = (second ?? first).trim().toUpperCase();
  const at = stops.findIndex((stop) => stop.code.toUpperCase() === code);
  return at < 0 ? { problem: "no_such_plot", code } : { at };
}

/** The assessments of a trial before one, latest first: where an earlier value may stand.
 * @param {any} trial @param {Planned} planned @returns {Planned[]} */
export const assessmentsBefore = (trial, planned) =>
  (trial.assessments ?? [])
    .filter((/** @type {Planned} */ one) => one.sort !== "daily_round" && one.sort !== "warm_up")
    .filter((/** @type {Planned} */ one) => (one.day ?? 0) < (planned.day ?? 0))
    .sort((/** @type {Planned} */ a, /** @type {Planned} */ b) => (b.day ?? 0) - (a.day ?? 0));

/** A calendar day some days later. @param {string} day `YYYY-MM-DD` @param {number} n */
export function dayAfter(day, n) {
  return new Date(Date.parse(`${day}T00:00:00Z`) + n * 86_400_000).toISOString().slice(0, 10);
}

/**
 * When an assessment is due, from the trial's day of treatment; null before that day is known.
 * @param {any} trial @param {Planned} planned
 * @returns {{from: string, on: string, to: string} | null}
 */
export function dueOf(trial, planned) {
  const zero = trial.day_zero_on;
  if (!zero || planned.day === undefined || planned.day === null) return null;
  const on = dayAfter(zero, planned.day);
  if (planned.sort === "daily_round")
    return { from: on, on, to: dayAfter(zero, planned.until_day ?? planned.day) };
  return { from: dayAfter(on, -(planned.window ?? 0)), on, to: dayAfter(on, planned.window ?? 0) };
}

/**
 * What of the places of an order is treated, where the plots of its trial have an area: those of its treatment; or, where
 * the trial was made of this order, all but what stays untreated. By key of the place (bench/lot).
 * @param {any} trial @param {{id: string, treatment?: number | null}} order
 * @param {{key: string, bench: {id: string}, lot: {id: string} | null, area: {value: string, unit: string} | null}[]} places
 * @returns {{areas: Record<string, {value: string, unit: string}>, containers: Record<string, number>, nPlots: number}}
 */
export function trialAreas(trial, order, places) {
  /** @type {{areas: Record<string, any>, containers: Record<string, number>, nPlots: number}} */
  const found = { areas: {}, containers: {}, nPlots: 0 };
  const each = trial?.plot_area;
  if (!each || !order.treatment) return found;
  const isRest = trial.order === order.id;
  const m2 = toBase(Number(each.value), each.unit);
  for (const { key, bench, lot, area } of places) {
    const here = measuredPlots(trial).filter(
      (/** @type {any} */ plot) => plot.bench === bench.id && (!plot.lot || plot.lot === lot?.id),
    );
    const own = here.filter((plot) => (plot.treatment === order.treatment) !== isRest);
    if (here.length === 0 || (isRest && area === null)) continue;
    const left =
      isRest && area !== null ? toBase(Number(area.value), area.unit) - own.length * m2 : own.length * m2;
    if (left <= 0) continue;
    found.areas[key] = { value: trimmedDecimal(left), unit: "m2" };
    if (!isRest) {
      found.containers[key] = own.length * (trial.plants_per_plot ?? 1);
      found.nPlots += own.length;
    }
  }
  return found;
}

/** @param {number} value */
const trimmedDecimal = (value) => decimalText(value, 4).replace(/\.?0+$/, "");

/**
 * The plots that a treatment is meant for, as an application keeps them: treated as planned until somebody says otherwise.
 * @param {any} trial @param {number | null | undefined} treatment
 */
export function plannedPlots(trial, treatment) {
  if (!trial || !treatment) return null;
  const plots = measuredPlots(trial).filter((plot) => plot.treatment === treatment);
  return plots.length > 0
    ? plots.map((plot) => ({ plot: plot.plot, planned: treatment, actual: treatment }))
    : null;
}
