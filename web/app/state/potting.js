// Potting on: from a trial of liners to the trial of the finished pots, every plant at a new random place. Pure.
import { fieldOf, measuredPlots } from "./measure.js";

/** What carries over as it is: the finished pots answer the same question. */
const SAME = [
  "question", "responsible", "permit", "house", "treatments", "factors", "control", "unit", "treated_how", "treated_words", "blocks_are",
  "blinded", "primary_response", "measurements", "day_zero_on", "comparison", "two_sided", "alpha", "interaction_scale", "wanted_value",
  "covariate", "difference_worth", "cv", "power", "prices", "overage",
]; // biome-ignore format: a list of names

/**
 * The plants that are not potted on as far as this phone knows: dead, discarded, or harvested before.
 * @param {any} trial @param {string} today @param {{fields: Record<string, any>}[]} observations  Of the trial.
 * @returns {Map<string, "gone" | "harvested">} by "plot.plant"
 */
export function goneOf(trial, today, observations) {
  /** @type {Map<string, "gone" | "harvested">} */
  const gone = new Map();
  for (const { fields } of observations) {
    const isDead = ["dead", "discarded"].includes(fields.condition) || hasDied(trial, fields);
    if (isDead && fields.plant > 0) gone.set(`${fields.plot}.${fields.plant}`, "gone");
  }
  const days = trial.day_zero_on ? (Date.parse(today) - Date.parse(trial.day_zero_on)) / 86_400_000 : null;
  for (const row of trial.harvests ?? []) {
    const look = (trial.assessments ?? []).find((/** @type {any} */ one) => one.code === row.assessment);
    if (days === null || !look || (look.day ?? 0) > days) continue;
    for (const { plot, plants } of row.plants ?? [])
      for (const one of String(plants ?? "")
        .split(/[ ,]+/)
        .filter(Boolean))
        gone.set(`${plot}.${one}`, "harvested");
  }
  return gone;
}

/** @param {any} trial @param {Record<string, any>} fields */
const hasDied = (trial, fields) =>
  (trial.measurements ?? []).some((/** @type {any} */ one) =>
    ["dead", "discarded"].includes(fields[fieldOf(one.code)]?.missing),
  );

/**
 * Plants that a person leaves out, typed as "101.2, 305.1" or a whole plot "204".
 * @param {string} text @param {any} trial
 * @returns {{plants: Set<string>, problem: string}}  Keys "plot.plant"; `problem` is what names no plant.
 */
export function leftOut(text, trial) {
  const n = trial.plants_per_plot ?? 1;
  const plots = new Map(measuredPlots(trial).map((plot) => [String(plot.code).toUpperCase(), plot.plot]));
  const plants = new Set();
  for (const one of text.split(/[ ,;]+/).filter(Boolean)) {
    const [code, plant] = one.split(".");
    const plot = plots.get(code.toUpperCase());
    const place = plant === undefined ? 0 : Number(plant);
    if (
      plot === undefined ||
      !Number.isInteger(place) ||
      place < 0 ||
      place > n ||
      (plant !== undefined && place === 0)
    )
      return { plants: new Set(), problem: one };
    for (let k = 1; k <= n; k += 1) if (place === 0 || place === k) plants.add(`${plot}.${k}`);
  }
  return { plants, problem: "" };
}

/** Pairs (plot, plant) that go on. @param {any} trial @param {Set<string>} out @returns {number[][]} */
export const keptOf = (trial, out) =>
  measuredPlots(trial).flatMap(({ plot }) =>
    Array.from({ length: trial.plants_per_plot ?? 1 }, (_, i) => i + 1)
      .filter((plant) => !out.has(`${plot}.${plant}`))
      .map((plant) => [plot, plant]),
  );

/** The assessments that still lie ahead after a day, in the trial's own words. @param {any} trial @param {string} day */
export function aheadOf(trial, day) {
  const zero = trial.day_zero_on;
  const planned = (trial.assessments ?? []).filter((/** @type {any} */ one) => one.sort !== "warm_up");
  if (!zero) return planned;
  const days = (Date.parse(day) - Date.parse(zero)) / 86_400_000;
  return planned.filter(
    (/** @type {any} */ one) => (one.until_day ?? (one.day ?? 0) + (one.window ?? 0)) >= days,
  );
}

/**
 * The fields of the trial of finished pots.
 * @param {any} liner @param {string} linerId @param {any} drawn  The server's layout.
 * @param {{code: string, title: string, lot: string | null, bench: string | null, potted_on: string, codes: string[]}} form
 * @param {any} now  A moment.
 */
export function pottedFields(liner, linerId, drawn, form, now) {
  const place = { ...(form.lot ? { lot: form.lot } : {}), ...(form.bench ? { bench: form.bench } : {}) };
  const same = Object.fromEntries(SAME.map((name) => [name, liner[name] ?? null]));
  return {
    ...same,
    code: form.code.trim(),
    title: form.title.trim(),
    origin: linerId,
    lots: form.lot ? [form.lot] : (liner.lots ?? null),
    ...drawn,
    plots: drawn.plots.map((/** @type {any} */ plot) => (plot.guard ? plot : { ...plot, ...place })),
    assessments: (liner.assessments ?? []).filter((/** @type {any} */ one) => form.codes.includes(one.code)),
    randomised_at: now,
    potted_on: form.potted_on,
    phase: liner.day_zero_on ? "running" : "planned",
    started_on: liner.day_zero_on ? form.potted_on : null,
  };
}
