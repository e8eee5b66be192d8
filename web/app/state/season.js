// What lots had of each active ingredient before: from the applications that this phone holds. Pure.
import { decimalText, significantDecimals } from "../core/rounding.js";
import { strengthsOf } from "../core/strength.js";
import { quantityValue } from "../core/units.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {{lot: string, ai: string, expressed_as: string, amount: {value: string, unit: string}}} SeasonRecord */

/**
 * Earlier amounts per area and per container, one record per application, lot and active ingredient, for the mix core's
 * `season`. Counted from the day the lot was started (where that is on file). An application of a part of the lot counts
 * for the whole lot, and what was left in the tank is not taken off: the sum is the most that a plant can have had.
 * @param {RecordRow[]} applications
 * @param {RecordRow[]} lots          The lots that are to be treated.
 * @param {string | null} [except]    The application that is being planned or recorded.
 * @returns {{records: SeasonRecord[], uncounted: RecordRow[]}}
 *   uncounted  Applications of these lots whose amounts or strengths can't be read: the sum leaves them out, and says so.
 */
export function seasonOf(applications, lots, except = null) {
  /** @type {SeasonRecord[]} */
  const records = [];
  /** @type {RecordRow[]} */
  const uncounted = [];
  for (const row of applications) {
    if (row.shown.state === "void" || row.id === except) continue;
    for (const lot of lots) {
      if (!isOfSeason(row.shown.fields, lot)) continue;
      const found = recordsOf(row.shown.fields, lot.id);
      if (found === null) uncounted.push(row);
      else records.push(...found);
    }
  }
  return { records, uncounted: [...new Set(uncounted)] };
}

/** @param {Record<string, any>} fields @param {RecordRow} lot */
function isOfSeason(fields, lot) {
  const startedOn = lot.shown.fields.started_on;
  const day = fields.started_at?.local?.slice(0, 10);
  if (startedOn && day && day < startedOn) return false;
  return (fields.lines ?? []).some((/** @type {any} */ line) => line.lot === lot.id);
}

/**
 * @param {Record<string, any>} fields @param {string} lot
 * @returns {SeasonRecord[] | null} null: the amounts can't be read
 */
function recordsOf(fields, lot) {
  const lines = fields.lines.filter((/** @type {any} */ line) => line.lot === lot);
  try {
    const share = litres(lines) / wholeL(fields);
    const m2 = totalOf(lines, (line) => (line.area ? quantityValue(line.area, "area", "area") : null));
    const n = totalOf(lines, (line) => line.n_containers ?? null);
    if (m2 === null && n === null) return null;
    return aiOf(fields.products ?? []).flatMap(({ ai, expressed_as, mg }) => [
      ...(m2 === null ? [] : [{ lot, ai, expressed_as, amount: amountOf((mg * share) / m2, "mg/m2") }]),
      ...(n === null ? [] : [{ lot, ai, expressed_as, amount: amountOf((mg * share) / n, "mg/{pot}") }]),
    ]);
  } catch (error) {
    if (error instanceof Error && "code" in error) return null;
    throw error;
  }
}

/** @param {any[]} lines */
const litres = (lines) =>
  lines.reduce((sum, line) => sum + quantityValue(line.volume, "volume", "volume") / 1000, 0);

/** Litres of final solution: what was mixed; behind an injector the tank held the stock, so the lines are added up.
 * @param {Record<string, any>} fields */
function wholeL(fields) {
  const applied = litres(fields.lines);
  if (fields.method === "injector" || !fields.volume) return applied;
  return Math.max(applied, quantityValue(fields.volume, "volume", "volume") / 1000);
}

/** @param {any[]} lines @param {(line: any) => number | null} read @returns {number | null} */
function totalOf(lines, read) {
  let total = 0;
  for (const line of lines) {
    const one = read(line);
    if (one === null || !(one > 0)) return null;
    total += one;
  }
  return total;
}

/** Active ingredients of the products as they went into the tank. @param {any[]} products */
function aiOf(products) {
  return products
    .filter((product) => (product.ingredients ?? []).length > 0)
    .flatMap((product) => {
      const amount = quantityValue(
        product.amount,
        product.physical_form === "dry" ? "mass" : "volume",
        "amount",
      );
      return strengthsOf(product).map(({ ai, expressed_as, mg_per_measure }) => ({
        ai,
        expressed_as,
        mg: amount * mg_per_measure,
      }));
    });
}

/** @param {number} mg @param {string} unit */
const amountOf = (mg, unit) => ({ value: decimalText(mg, Math.min(12, significantDecimals(mg, 9))), unit });
