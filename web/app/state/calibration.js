// What the calibrations on record say about a sprayer: the newest one, its result, when the next is due. Pure: today is handed in.
import { calibrationOf } from "../core/calibration.js";
import { decimalText, formatQuantity, significantDecimals } from "../core/rounding.js";
import { quantityValue, shownIn } from "../core/units.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {import("../core/calibration.js").Calibration} Calibration */

/** The fields that each method needs, in the order they are taken. */
export const FIELDS_OF = Object.freeze({
  plot: ["used", "plot_area"],
  acre_128: ["used"],
  area_rate: ["catches", "catch_time", "swath", "speed", "course", "course_time"],
  boom: ["catches", "catch_time", "spacing", "speed", "course", "course_time"],
  bench_walk: ["catches", "catch_time", "walk_time", "area"],
});

/**
 * What a calibration record measured, or why it can't be computed.
 * @param {Record<string, any>} fields  Of the record.
 * @returns {{result: Calibration, error: null} | {result: null, error: any}}
 */
export function measuredBy(fields) {
  const catches = (fields.catches ?? []).map((/** @type {any} */ row) => row?.amount).filter(Boolean);
  try {
    return { result: calibrationOf({ ...fields, catches }), error: null };
  } catch (error) {
    if (error instanceof Error && "code" in error) return { result: null, error };
    throw error;
  }
}

/**
 * The calibrations of a sprayer that count, newest first; of one day the one entered last comes first.
 * @param {RecordRow[]} calibrations @param {string} sprayer
 */
export function calibrationsOf(calibrations, sprayer) {
  return calibrations
    .filter((row) => row.shown.state !== "void" && row.shown.fields.sprayer === sprayer)
    .sort((a, b) => byDay(b, a) || (a.id < b.id ? 1 : -1));
}

/** @param {RecordRow} a @param {RecordRow} b */
const byDay = (a, b) =>
  String(a.shown.fields.measured_on ?? "").localeCompare(String(b.shown.fields.measured_on ?? ""));

/**
 * The newest calibration of a sprayer that gives a result; null where there is none.
 * @param {RecordRow[]} calibrations @param {string | null} sprayer
 * @returns {{row: RecordRow, result: Calibration} | null}
 */
export function newestOf(calibrations, sprayer) {
  if (sprayer === null) return null;
  for (const row of calibrationsOf(calibrations, sprayer)) {
    const { result } = measuredBy(row.shown.fields);
    if (result !== null) return { row, result };
  }
  return null;
}

/** A result as a quantity for the mix core. @param {Calibration} result */
export const calibratedOf = (result) => ({
  value: decimalText(result.ml_per_m2, Math.min(12, significantDecimals(result.ml_per_m2, 15))),
  unit: "mL/m2",
});

/** A volume per area as both systems read it. @param {number} mlPerM2 @param {any} numberFormat */
export function rateText(mlPerM2, numberFormat) {
  const us = shownIn(mlPerM2, "volume_per_area", "us");
  return {
    metric: formatQuantity(mlPerM2, "mL/m2", numberFormat),
    us: formatQuantity(us.value, us.unit, numberFormat),
  };
}

const DAY_MS = 86_400_000;

/** Whole days between two calendar days. @param {string} from @param {string} to  YYYY-MM-DD */
const daysBetween = (from, to) =>
  Math.round((Date.parse(`${to}T00:00Z`) - Date.parse(`${from}T00:00Z`)) / DAY_MS);

/**
 * Where a sprayer stands with its calibrations.
 * @param {RecordRow} sprayer @param {RecordRow[]} calibrations @param {string} today  YYYY-MM-DD
 * @returns {{state: "never" | "overdue" | "current" | "no_interval", age_days: number | null, due_on: string | null}}
 */
export function standingOf(sprayer, calibrations, today) {
  const newest = newestOf(calibrations, sprayer.id);
  const day = newest?.row.shown.fields.measured_on ?? null;
  if (day === null) return { state: "never", age_days: null, due_on: null };
  const every = sprayer.shown.fields.calibrate_every;
  const age = daysBetween(day, today);
  if (!every) return { state: "no_interval", age_days: age, due_on: null };
  const days = quantityValue(every, "time", "calibrate_every") / 86_400;
  const due = new Date(Date.parse(`${day}T00:00Z`) + Math.floor(days) * DAY_MS).toISOString().slice(0, 10);
  return { state: today > due ? "overdue" : "current", age_days: age, due_on: due };
}
