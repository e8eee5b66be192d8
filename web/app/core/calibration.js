/**
 * Calibration of sprayers: from a catch, a plot, a walk or a boom to the volume per area.
 * Twin: server/tepal/domain/calibration.py. All results are mL/m2; `units.convert` gives gal/acre and
 * others. A calibration record names its `method`; `calibrationOf` reads it and the result feeds the
 * spray volume of a mix.
 * @module
 */

import { Finding, TepalError, textOf } from "./errors.js";
import { positive, wholeNumber } from "./ranges.js";
import { quantityValue } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/**
 * Catches of several nozzles: mean, each one's deviation from it, and those over the bound.
 * @typedef {object} NozzleSpread
 * @property {number} mean_ml
 * @property {ReadonlyArray<number>} deviations_pct
 * @property {number} largest_deviation_pct
 * @property {ReadonlyArray<number>} uneven_numbers
 */
/**
 * How to walk a bench: litres, minutes and walking speed over `nPasses` of its length.
 * @typedef {{volume_l: number, minutes: number, m_per_min: number}} BenchWalk
 */
/**
 * What a sprayer puts down, and what is doubtful about the measurement.
 * @typedef {object} Calibration
 * @property {string} method
 * @property {number} ml_per_m2
 * @property {number | null} flow_ml_per_min
 * @property {NozzleSpread | null} spread
 * @property {ReadonlyArray<Finding>} findings
 */

// 1/128 of 43 560 ft2 in m2: fluid ounces caught on it are gallons per acre (LSU AgCenter, 'Ounces
// equal gallons'; Kansas State University, hand sprayer calibration).
export const ACRE_128_M2 = (43560 / 128) * 0.09290304;
// Common practice, no source: a nozzle more than 10 % off the mean is replaced.
export const MAX_NOZZLE_DEVIATION_PCT = 10.0;

/** A calibration record is incomplete or names no known method. */
export class CalibrationError extends TepalError {}

/**
 * Return a nozzle's flow from what it gives in a time.
 * @param {number} catchMl
 * @param {number} seconds
 */
export function flowMlPerMin(catchMl, seconds) {
  return (positive(catchMl, "catch_ml") * 60) / positive(seconds, "seconds");
}

/**
 * Return the walking or driving speed over a course.
 * @param {number} distanceM
 * @param {number} seconds
 */
export function speedMPerMin(distanceM, seconds) {
  return (positive(distanceM, "distance_m") * 60) / positive(seconds, "seconds");
}

/**
 * Return the rate from what was used on a plot (caught in its time, or refilled). On `ACRE_128_M2`
 * the catch in fluid ounces is the rate in gallons per acre.
 * @param {number} catchMl
 * @param {number} plotM2
 */
export function plotRateMlPerM2(catchMl, plotM2) {
  return positive(catchMl, "catch_ml") / positive(plotM2, "plot_m2");
}

/**
 * Return the course length that makes 1/128 acre with a swath (LSU AgCenter table).
 * @param {number} swathM
 */
export function acre128LengthM(swathM) {
  return ACRE_128_M2 / positive(swathM, "swath_m");
}

/**
 * Return the rate of a sprayer in motion: flow / (speed x swath). The same as gal/acre = 5940 x
 * gal/min / (mph x in) (UF/IFAS WG013).
 * @param {number} mlPerMin
 * @param {number} mPerMin
 * @param {number} swathM
 */
export function areaRateMlPerM2(mlPerMin, mPerMin, swathM) {
  const m2PerMin = positive(mPerMin, "m_per_min") * positive(swathM, "swath_m");
  return positive(mlPerMin, "ml_per_min") / m2PerMin;
}

/**
 * Return the rate of a boom from each nozzle's flow, speed and nozzle spacing.
 * @param {ReadonlyArray<number>} nozzlesMlPerMin
 * @param {number} mPerMin
 * @param {number} spacingM
 */
export function boomRateMlPerM2(nozzlesMlPerMin, mPerMin, spacingM) {
  const nNozzles = wholeNumber(nozzlesMlPerMin.length, "n_nozzles");
  let total = 0;
  for (const mlPerMin of nozzlesMlPerMin) total += positive(mlPerMin, "ml_per_min");
  return areaRateMlPerM2(total / nNozzles, mPerMin, spacingM);
}

/**
 * Return the rate of a timed walk over a bench: flow x minutes / area.
 * @param {number} mlPerMin
 * @param {number} minutes
 * @param {number} areaM2
 */
export function walkedRateMlPerM2(mlPerMin, minutes, areaM2) {
  const used = positive(mlPerMin, "ml_per_min") * positive(minutes, "minutes");
  return used / positive(areaM2, "area_m2");
}

/**
 * Return volume, minutes and walking speed for a bench at a rate and a flow.
 * @param {number} areaM2
 * @param {number} mlPerM2
 * @param {number} mlPerMin
 * @param {number} lengthM
 * @param {number} [nPasses]
 * @returns {Readonly<BenchWalk>}
 */
export function benchWalk(areaM2, mlPerM2, mlPerMin, lengthM, nPasses = 1) {
  const usedMl = positive(areaM2, "area_m2") * positive(mlPerM2, "ml_per_m2");
  const minutes = usedMl / positive(mlPerMin, "ml_per_min");
  const courseM = positive(lengthM, "length_m") * wholeNumber(nPasses, "n_passes");
  return Object.freeze({ volume_l: usedMl / 1000, minutes, m_per_min: courseM / minutes });
}

/**
 * Return the area that a tank covers at a rate.
 * @param {number} tankL
 * @param {number} mlPerM2
 */
export function coverageM2(tankL, mlPerM2) {
  return (positive(tankL, "tank_l") * 1000) / positive(mlPerM2, "ml_per_m2");
}

/**
 * Return the spread between nozzles caught for the same time; numbers count from 1. Uneven: more than
 * 10 % off the mean (common practice, no source).
 * @param {ReadonlyArray<number>} catchesMl
 * @returns {Readonly<NozzleSpread>}
 */
export function nozzleSpread(catchesMl) {
  const nCatches = wholeNumber(catchesMl.length, "n_catches");
  let total = 0;
  for (const caught of catchesMl) total += positive(caught, "catch_ml");
  const mean = total / nCatches;
  const deviations = catchesMl.map((caught) => ((caught - mean) / mean) * 100);
  let largest = 0;
  /** @type {number[]} */
  const uneven = [];
  for (const [index, deviation] of deviations.entries()) {
    largest = Math.max(largest, Math.abs(deviation));
    if (Math.abs(deviation) > MAX_NOZZLE_DEVIATION_PCT) uneven.push(index + 1);
  }
  return Object.freeze({
    mean_ml: mean,
    deviations_pct: Object.freeze(deviations),
    largest_deviation_pct: largest,
    uneven_numbers: Object.freeze(uneven),
  });
}

/**
 * @param {JsonRecord} record
 * @param {string} name
 * @param {string} dimension
 */
function baseOf(record, name, dimension) {
  if ((record[name] ?? null) === null) {
    throw new CalibrationError("calibration.value_missing", `The calibration needs ${name}.`, {
      field: name,
    });
  }
  return positive(quantityValue(record[name], dimension, name), name);
}

/**
 * @param {JsonRecord} record
 * @returns {number[]}
 */
function catchesOf(record) {
  const { catches } = record;
  if (!Array.isArray(catches) || catches.length === 0) {
    throw new CalibrationError("calibration.value_missing", "The calibration needs its catches.", {
      field: "catches",
    });
  }
  const amounts = catches.map((caught) =>
    typeof caught === "object" && caught !== null && "amount" in caught ? caught.amount : caught,
  );
  return amounts.map((amount) => positive(quantityValue(amount, "volume", "catches"), "catches"));
}

/** @param {JsonRecord} record */
function speedOf(record) {
  if ((record.speed ?? null) !== null) return baseOf(record, "speed", "speed");
  return speedMPerMin(baseOf(record, "course", "length"), baseOf(record, "course_time", "time"));
}

/**
 * Return the volume per area that a calibration record measured. `method` 'plot' (`used`,
 * `plot_area`), 'acre_128' (`used`: caught on 1/128 acre), 'area_rate' (`catches`, `catch_time`,
 * `swath`, and `speed` or `course` with `course_time`; the catches are the nozzles carried side by
 * side), 'boom' (`catches`, `catch_time`, `spacing`, speed as before) or 'bench_walk' (`catches`,
 * `catch_time`, `walk_time`, `area`). A catch is a quantity or a row with an `amount`. Throws `CalibrationError` (`calibration.method_unknown`,
 * `calibration.value_missing`); `calibration.uneven_nozzles` is a returned finding.
 * @param {JsonRecord} record
 * @returns {Readonly<Calibration>}
 */
export function calibrationOf(record) {
  const { method } = record;
  if (method === "plot" || method === "acre_128") {
    const used = baseOf(record, "used", "volume");
    const plotM2 = method === "plot" ? baseOf(record, "plot_area", "area") : ACRE_128_M2;
    return Object.freeze({
      method,
      ml_per_m2: plotRateMlPerM2(used, plotM2),
      flow_ml_per_min: null,
      spread: null,
      findings: Object.freeze([]),
    });
  }
  if (!["area_rate", "boom", "bench_walk"].includes(method)) {
    throw new CalibrationError("calibration.method_unknown", `${method} is no method of calibration.`, {
      method: textOf(method),
    });
  }
  const catches = catchesOf(record);
  const seconds = baseOf(record, "catch_time", "time");
  const flows = catches.map((caught) => flowMlPerMin(caught, seconds));
  let total = 0;
  for (const flow of flows) total += flow;
  let rate;
  if (method === "boom") {
    rate = boomRateMlPerM2(flows, speedOf(record), baseOf(record, "spacing", "length"));
  } else if (method === "area_rate") {
    rate = areaRateMlPerM2(total, speedOf(record), baseOf(record, "swath", "length"));
  } else {
    const minutes = baseOf(record, "walk_time", "time") / 60;
    rate = walkedRateMlPerM2(total, minutes, baseOf(record, "area", "area"));
  }
  const spread = nozzleSpread(catches);
  const findings =
    spread.uneven_numbers.length > 0
      ? [
          new Finding(
            "calibration.uneven_nozzles",
            "caution",
            "Nozzles differ by more than 10 % from their mean; clean or replace them and calibrate " +
              "again.",
            "catches",
            "common practice (no source)",
            { numbers: [...spread.uneven_numbers], largest_pct: spread.largest_deviation_pct },
          ),
        ]
      : [];
  return Object.freeze({
    method,
    ml_per_m2: rate,
    flow_ml_per_min: total,
    spread,
    findings: Object.freeze(findings),
  });
}
