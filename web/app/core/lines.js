/**
 * Lines of an application: which bench and lot gets how much solution.
 * Twin: server/tepal/domain/lines.py. A line states its volume in one of three ways: an area with a
 * volume per area (spray, sprench), containers with a volume each (drench; trays or bulbs with what
 * they take up), or a volume of its own (sub-irrigation, bath). Stating two is an error that asks
 * which counts.
 * @module
 */

import { Finding, TepalError, textOf } from "./errors.js";
import { positive, positiveUpTo, wholeNumber } from "./ranges.js";
import { quantityValue, unitOf } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/**
 * One bench and lot with its share of the solution; null where the record says nothing.
 * @typedef {object} Line
 * @property {string} id
 * @property {string | null} bench
 * @property {string | null} lot
 * @property {number} volume_l
 * @property {number | null} area_m2
 * @property {number | null} ml_per_m2
 * @property {number | null} n_containers
 * @property {number | null} ml_per_container
 * @property {number | null} n_plants
 */

// Own bounds against slips of unit, no source: beyond them a house is no greenhouse.
const MAX_AREA_M2 = 1000000.0;
const MAX_LINE_L = 1000000.0;

// Published volumes per area: 100 mL/m2 (University of Florida, ASHS 2009) to 815 mL/m2 (sprench,
// 8 qt per 100 ft2, Michigan State University); per container 59 to 591 mL (Michigan State
// University, PGR drench guidelines). A fifth below and three times above still pass unasked.
const USUAL_ML_PER_M2 = [20.0, 2500.0];
const USUAL_ML_PER_CONTAINER = [5.0, 3000.0];

// Common practice, no source: a sprayer that puts down more than 10 % more or less than planned is
// set again or the mix planned anew.
const MAX_CALIBRATION_DEVIATION_PCT = 10.0;

/** A line does not say how much solution it gets, or says it twice. */
export class LineError extends TepalError {}

/**
 * @param {JsonRecord} record
 * @param {string} name
 * @returns {number | null}
 */
function count(record, name) {
  const value = record[name] ?? null;
  return value === null ? null : wholeNumber(value, name);
}

/** @param {any} quantity */
function statedMlPerContainer(quantity) {
  const unit = unitOf(quantity?.unit);
  const isPerItem = unit.dimension === "volume_per_item";
  const ml = quantityValue(quantity, isPerItem ? "volume_per_item" : "volume", "volume_per_container");
  return positive(ml, "volume_per_container");
}

/**
 * @param {JsonRecord} record
 * @param {number} number
 * @param {number | null} calibrated
 * @returns {Readonly<Line>}
 */
function lineOf(record, number, calibrated) {
  const name = textOf(record.id) || String(number);
  for (const field of ["bench", "lot"]) {
    const text = record[field] ?? null;
    if (text !== null && typeof text !== "string") {
      throw new LineError("line.not_text", `Line ${name}: ${field} is a name.`, { line: name, field });
    }
  }
  const area = record.area ?? null;
  const areaM2 =
    area === null ? null : positiveUpTo(quantityValue(area, "area", "area"), "area", MAX_AREA_M2);
  const nContainers = count(record, "n_containers");
  const ways = ["volume", "volume_per_area", "volume_per_container"].filter(
    (way) => (record[way] ?? null) !== null,
  );
  if (ways.length > 1) {
    throw new LineError(
      "line.two_volumes",
      `Line ${name} states its volume twice (${ways.join(" and ")}); say which one counts.`,
      { line: name, ways },
    );
  }
  /** @type {number | null} */
  let mlPerM2 = null;
  /** @type {number | null} */
  let mlPerContainer = null;
  let volumeL;
  if (ways[0] === "volume") {
    volumeL = quantityValue(record.volume, "volume", "volume") / 1000;
  } else if (ways[0] === "volume_per_container") {
    if (nContainers === null) {
      throw new LineError("line.containers_missing", `Line ${name} needs its number of containers.`, {
        line: name,
      });
    }
    mlPerContainer = statedMlPerContainer(record.volume_per_container);
    volumeL = (nContainers * mlPerContainer) / 1000;
  } else if (ways[0] === "volume_per_area" || (areaM2 !== null && calibrated !== null)) {
    if (areaM2 === null) {
      throw new LineError("line.area_missing", `Line ${name} needs its area.`, { line: name });
    }
    mlPerM2 =
      ways.length > 0
        ? positive(
            quantityValue(record.volume_per_area, "volume_per_area", "volume_per_area"),
            "volume_per_area",
          )
        : positive(calibrated, "calibrated_ml_per_m2");
    volumeL = (areaM2 * mlPerM2) / 1000;
  } else {
    throw new LineError("line.volume_missing", `Line ${name} does not say how much solution it gets.`, {
      line: name,
    });
  }
  return Object.freeze({
    id: name,
    bench: record.bench ?? null,
    lot: record.lot ?? null,
    volume_l: positiveUpTo(volumeL, "volume", MAX_LINE_L),
    area_m2: areaM2,
    ml_per_m2: mlPerM2,
    n_containers: nContainers,
    ml_per_container: mlPerContainer,
    n_plants: count(record, "n_plants"),
  });
}

/**
 * Return the lines of an application with their volumes. Each record has `id`, `bench`, `lot`;
 * `area`; `n_containers`, `n_plants` (whole numbers); and one of `volume`, `volume_per_area`,
 * `volume_per_container`. Errors: see the Python twin.
 * @param {ReadonlyArray<JsonRecord>} records
 * @param {number | null} [calibratedMlPerM2] what the sprayer really puts down; used for a line that
 *   has an area and no volume
 * @returns {ReadonlyArray<Readonly<Line>>}
 */
export function linesOf(records, calibratedMlPerM2 = null) {
  if (records.length === 0) {
    throw new LineError("line.none", "There is no bench or lot to treat.");
  }
  /** @type {Readonly<Line>[]} */
  const found = [];
  /** @type {Set<string>} */
  const seen = new Set();
  for (const [index, record] of records.entries()) {
    const line = lineOf(record, index + 1, calibratedMlPerM2);
    if (seen.has(line.id)) {
      throw new LineError("line.id_twice", `Two lines are called ${line.id}.`, { line: line.id });
    }
    seen.add(line.id);
    found.push(line);
  }
  return Object.freeze(found);
}

/**
 * Return a question for every volume per area or container far from published ones.
 * @param {ReadonlyArray<Line>} lines
 * @returns {ReadonlyArray<Finding>}
 */
export function lineFindings(lines) {
  /** @type {Finding[]} */
  const findings = [];
  for (const line of lines) {
    if (line.ml_per_m2 !== null) {
      const [low, high] = USUAL_ML_PER_M2;
      if (line.ml_per_m2 < low || line.ml_per_m2 > high) {
        findings.push(
          new Finding(
            "line.volume_per_area_unusual",
            "caution",
            `Line ${line.id}: ${line.ml_per_m2} mL/m2 is far from published spray volumes; ` +
              "check the unit.",
            "volume_per_area",
            "published sprays and sprenches: 100 to 815 mL/m2",
            { line: line.id, value: line.ml_per_m2, low: 100, high: 815 },
          ),
        );
      }
    }
    if (line.ml_per_container !== null) {
      const [low, high] = USUAL_ML_PER_CONTAINER;
      if (line.ml_per_container < low || line.ml_per_container > high) {
        findings.push(
          new Finding(
            "line.volume_per_container_unusual",
            "caution",
            `Line ${line.id}: ${line.ml_per_container} mL per container is far from published ` +
              "drench volumes; check the unit.",
            "volume_per_container",
            "Michigan State University, PGR drench guidelines: 59 to 591 mL",
            { line: line.id, value: line.ml_per_container, low: 59, high: 591 },
          ),
        );
      }
    }
  }
  return Object.freeze(findings);
}

/**
 * Return a caution for every volume per area that the sprayer was not measured to put down: more than
 * 10 % of the planned one apart (common practice, no source); lines that share a volume per area share
 * the caution. null: the sprayer was not calibrated, nothing to say.
 * @param {ReadonlyArray<Line>} lines
 * @param {number | null} calibratedMlPerM2
 * @returns {ReadonlyArray<Finding>}
 */
export function calibrationFindings(lines, calibratedMlPerM2) {
  if (calibratedMlPerM2 === null) return Object.freeze([]);
  const measured = positive(calibratedMlPerM2, "calibrated_ml_per_m2");
  /** @type {Finding[]} */
  const findings = [];
  /** @type {Set<number>} */
  const seen = new Set();
  for (const line of lines) {
    const planned = line.ml_per_m2;
    if (planned === null || seen.has(planned)) continue;
    seen.add(planned);
    const offPct = ((measured - planned) / planned) * 100;
    if (Math.abs(offPct) > MAX_CALIBRATION_DEVIATION_PCT) {
      findings.push(
        new Finding(
          "line.volume_off_calibration",
          "caution",
          `Planned: ${planned} mL/m2; the sprayer was measured at ${measured} mL/m2.`,
          "volume_per_area",
          "common practice (no source)",
          { planned, measured, off_pct: offPct },
        ),
      );
    }
  }
  return Object.freeze(findings);
}

/**
 * @param {ReadonlyArray<number | null>} values
 * @param {string} missing
 * @param {string} differing
 */
function shared(values, missing, differing) {
  const first = values[0];
  if (first === null || values.some((value) => value === null)) {
    throw new LineError(missing, "A dose needs the same volume per area or container on each line.");
  }
  if (values.some((value) => value !== null && Math.abs(value - first) > first * 1e-9)) {
    throw new LineError(
      differing,
      "The lines have different volumes, so one dose needs more than one concentration.",
    );
  }
  return first;
}

/**
 * Return the one volume per container of all lines; a dose per pot needs it.
 * @param {ReadonlyArray<Line>} lines
 */
export function sharedMlPerContainer(lines) {
  const values = lines.map((line) => line.ml_per_container);
  return shared(values, "line.dose_needs_containers", "line.dose_needs_one_volume");
}

/**
 * Return the one volume per area of all lines; a dose per area needs it.
 * @param {ReadonlyArray<Line>} lines
 */
export function sharedMlPerM2(lines) {
  const values = lines.map((line) => line.ml_per_m2);
  return shared(values, "line.dose_needs_area", "line.dose_needs_one_volume");
}
