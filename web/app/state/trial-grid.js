// The values of one assessment as a grid: what was typed over them, what a paste holds, and which plots look odd. Pure.

import { parseDecimal } from "../core/rounding.js";
import { fieldOf } from "./measure.js";

/** @typedef {import("./measure.js").Stop} Stop */
/** @typedef {import("./measure.js").Definition} Definition */
/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */

/** Why there is no value, as it travels. */
export const MISSING = ["dead", "discarded", "not_measured", "lost"];
// how a spreadsheet says that there is nothing
const NOTHING = ["na", "n/a", "-", "–", ".", "nan", "null"];
// Iglewicz and Hoaglin 1993, How to Detect and Handle Outliers: modified z-score above 3.5, with 0.6745
const MODIFIED_Z = 3.5;
const MAD_FACTOR = 0.6745;
const LEAST_PLOTS = 6;

/** A stored value as the grid shows it. @param {any} value @param {NumberFormat} numberFormat
 * @param {Record<string, string>} [whys]  each of `MISSING` in the reader's language; else the codes stand */
export function cellText(value, { decimal }, whys = {}) {
  if (value === undefined || value === null) return "";
  if (typeof value === "object") return whys[value.missing] ?? value.missing;
  return /^-?[0-9.]+$/.test(value) ? value.replace(".", decimal) : value;
}

/**
 * What was typed into a cell, as it travels.
 * @param {string} text @param {Definition} definition @param {NumberFormat} numberFormat
 * @param {Record<string, string>} [whys]  as in `cellText`: such a word is understood beside its code
 * @returns {{value: any} | {problem: string}}  null clears the cell.
 */
export function cellValue(text, definition, numberFormat, whys = {}) {
  const typed = text.trim();
  if (typed === "") return { value: null };
  const word = typed.toLowerCase();
  const missing = NOTHING.includes(word)
    ? "not_measured"
    : (MISSING.find((why) => whys[why] === word) ?? word.replace(/[ -]/g, "_"));
  if (MISSING.includes(missing)) return { value: { missing, note: null } };
  if (definition.type === "days") return isDay(typed) ? { value: typed } : { problem: "not_a_day" };
  try {
    const value = parseDecimal(typed, numberFormat);
    return value.startsWith("-") ? { problem: "not_a_number" } : { value };
  } catch (error) {
    return { problem: String(/** @type {any} */ (error).code ?? "").replace("number.", "") };
  }
}

/** @param {string} text */
const isDay = (text) =>
  /^\d{4}-\d{2}-\d{2}$/.test(text) && new Date(`${text}T00:00:00Z`).toISOString().slice(0, 10) === text;

/** Rows and columns of what was copied from a table. @param {string} text */
export const pasted = (text) =>
  text
    .replace(/\r/g, "")
    .replace(/\n$/, "")
    .split("\n")
    .map((line) => line.split("\t"));

/** The name of a cell in the draft, the same also when the layout of the page changes.
 * @param {Stop} stop @param {Definition} definition */
export const cellKey = (stop, definition) => `${stop.plot}.${stop.plant}:${definition.code}`;

/**
 * Where the cells of a paste go: down the rows that have the first cell's measurement, so that values of plants pass over
 * the rows of whole plots. Empty cells leave what is there.
 * @param {string[][]} lines @param {{r: number, c: number}} from @param {Stop[]} stops @param {Definition[]} columns
 * @returns {{cells: [number, number, string][], left: number}} `left`: how many held something and found no place
 */
export function placed(lines, from, stops, columns) {
  const rows = stops
    .map((_, r) => r)
    .filter((r) => r >= from.r && stops[r].definitions.includes(columns[from.c]));
  /** @type {[number, number, string][]} */
  const cells = [];
  let left = 0;
  for (const [i, texts] of lines.entries()) {
    for (const [j, typed] of texts.entries()) {
      const text = typed.trim();
      if (text === "") continue;
      const r = rows[i];
      const isPlace = r !== undefined && stops[r].definitions.includes(columns[from.c + j]);
      if (isPlace) cells.push([r, from.c + j, text]);
      else left += 1;
    }
  }
  return { cells, left };
}

/**
 * The next cell in a direction: rows that lack the measurement are passed over.
 * @param {{r: number, c: number}} at @param {number} down @param {number} right @param {Stop[]} stops @param {Definition[]} columns
 */
export function nextCell(at, down, right, stops, columns) {
  let r = at.r + down;
  let c = at.c + right;
  while (r >= 0 && r < stops.length && c >= 0 && c < columns.length) {
    if (stops[r].definitions.includes(columns[c])) return { r, c };
    r += down;
    c += right;
  }
  return null;
}

/**
 * Plots whose mean lies far from what their treatment and block would have: the residuals of an additive fit against
 * their own median. A statement about the number, not about the plant.
 * @param {Stop[]} stops @param {(stop: Stop) => Record<string, any> | undefined} fieldsAt @param {Definition} definition
 * @returns {string[]} plot codes
 */
export function oddPlots(stops, fieldsAt, definition) {
  if (!["continuous", "count"].includes(definition.type ?? "continuous")) return [];
  /** @type {Map<string, {block: number | null, treatment: number | null, values: number[]}>} */
  const plots = new Map();
  for (const stop of stops) {
    const value = fieldsAt(stop)?.[fieldOf(definition.code)];
    if (typeof value !== "string") continue;
    const plot = plots.get(stop.code) ?? { block: stop.block, treatment: stop.treatment, values: [] };
    plot.values.push(Number(value));
    plots.set(stop.code, plot);
  }
  if (plots.size < LEAST_PLOTS) return [];
  const rows = [...plots].map(([code, plot]) => ({ code, ...plot, mean: mean(plot.values) }));
  const all = median(rows.map((row) => row.mean));
  const effect = (/** @type {"block" | "treatment"} */ name) => {
    const of = new Map();
    for (const row of rows) of.set(row[name], [...(of.get(row[name]) ?? []), row.mean - all]);
    return new Map([...of].map(([key, values]) => [key, median(values)]));
  };
  const blocks = effect("block");
  const treatments = effect("treatment");
  const residuals = rows.map(
    (row) => row.mean - all - (blocks.get(row.block) ?? 0) - (treatments.get(row.treatment) ?? 0),
  );
  const middle = median(residuals);
  const spread = median(residuals.map((one) => Math.abs(one - middle)));
  if (spread === 0) return [];
  return rows
    .filter((_, i) => Math.abs((MAD_FACTOR * (residuals[i] - middle)) / spread) > MODIFIED_Z)
    .map((row) => row.code);
}

/**
 * A list to measure again without knowing which plots are meant: as many ordinary ones mixed in, spread over the trial.
 * @param {string[]} odd @param {string[]} all plot codes in walking order
 */
export function againList(odd, all) {
  const ordinary = all.filter((code) => !odd.includes(code));
  const n = Math.min(ordinary.length, Math.max(3, odd.length));
  const step = ordinary.length / Math.max(1, n);
  const mixed = Array.from({ length: n }, (_, i) => ordinary[Math.floor(i * step + step / 2)]);
  const wanted = new Set([...odd, ...mixed]);
  return all.filter((code) => wanted.has(code));
}

/** @param {number[]} values */
const mean = (values) => values.reduce((sum, one) => sum + one, 0) / values.length;

/** @param {number[]} values */
function median(values) {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
}
