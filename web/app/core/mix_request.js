/**
 * The request of a mix: one JSON record read into volumes, rates and instruments.
 * Twin: server/tepal/domain/mix_request.py. Reading refuses what nothing would use (a misspelt field)
 * and what has another shape, so that no part of a record is passed over in silence.
 * @module
 */

import { calibrationOf } from "./calibration.js";
import { ratesOf } from "./components.js";
import { TepalError, textOf } from "./errors.js";
import { injectorFactor } from "./injector.js";
import { calibrationFindings, linesOf } from "./lines.js";
import { DEFAULT_MAX_ERROR_PCT, instrumentsOf } from "./measuring.js";
import { notNegative, positive, within } from "./ranges.js";
import { PLAIN_FORMAT } from "./rounding.js";
import { seasonBefore } from "./shares.js";
import { quantityValue, unitOf } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/** @typedef {import("./errors.js").Finding} Finding */
/** @typedef {import("./rounding.js").NumberFormat} NumberFormat */
/**
 * A mix as read: `components` are the records that go into the tank, `rates` their amounts. The factor
 * is 1 and ratio and meaning null without an injector.
 * @typedef {object} MixRequest
 * @property {string} method
 * @property {NumberFormat} number_format
 * @property {ReadonlyArray<Readonly<import("./lines.js").Line>>} lines
 * @property {ReadonlyArray<JsonRecord>} components
 * @property {ReadonlyArray<Readonly<import("./components.js").Rate>>} rates
 * @property {number} applied_l
 * @property {number} extra_l
 * @property {number} injector_factor
 * @property {number | null} injector_ratio
 * @property {string | null} injector_meaning
 * @property {number} capacity_l
 * @property {ReadonlyArray<Readonly<import("./measuring.js").Instrument>>} instruments
 * @property {number} max_error_pct
 * @property {ReadonlyMap<string, number>} season
 * @property {ReadonlyArray<Finding>} calibration_findings
 */

export const METHODS = Object.freeze([
  "spray",
  "sprench",
  "drench",
  "liner_dip",
  "bulb_dip",
  "sub_irrigation",
  "injector",
  "fog",
  "other",
]);

const REQUEST_FIELDS = new Set([
  "method",
  "number_format",
  "components",
  "lines",
  "tank",
  "instruments",
  "extra",
  "max_error",
  "injector",
  "calibrated",
  "calibration",
  "season",
  "water",
  "incompatible_pairs",
  "jar_tests",
  "note",
]);
const COMPONENT_FIELDS = new Set([
  "id",
  "product",
  "target",
  "target_of",
  "target_ai",
  "target_expressed_as",
  "matches",
  "is_reference",
  "stated_per_l",
  "note",
]);
const LINE_FIELDS = new Set([
  "id",
  "bench",
  "lot",
  "area",
  "volume_per_area",
  "n_containers",
  "volume_per_container",
  "volume",
  "n_plants",
  "note",
]);
const SEASON_FIELDS = new Set(["lot", "ai", "expressed_as", "amount", "note"]);

/** The record of a mix lacks something, or has another shape than a mix. */
export class MixRequestError extends TepalError {}

/**
 * Refuse a field that nothing reads: a misspelt one would be passed over in silence.
 * @param {JsonRecord} record
 * @param {ReadonlySet<string>} known
 * @param {string} where
 */
function checkFields(record, known, where) {
  const [unknown] = Object.keys(record)
    .filter((key) => !known.has(key))
    .sort();
  if (unknown !== undefined) {
    throw new MixRequestError("tank.unknown_field", `${where} has a field that is not known: ${unknown}.`, {
      where,
      field: unknown,
    });
  }
}

/** @param {unknown} value */
function isRecord(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

/**
 * Return a list of records of the request; an absent one is empty.
 * @param {JsonRecord} request
 * @param {string} name
 * @returns {ReadonlyArray<JsonRecord>}
 */
function recordsIn(request, name) {
  const value = request[name] ?? null;
  if (value === null) return [];
  if (!Array.isArray(value) || !value.every(isRecord)) {
    throw new MixRequestError("tank.not_a_list", `${name} must be a list of records.`, { field: name });
  }
  return value;
}

/**
 * Refuse registers of another shape than `mixFindings` reads.
 * @param {JsonRecord} request
 */
function checkRegisters(request) {
  recordIn(request, "water");
  for (const pair of recordsIn(request, "incompatible_pairs")) {
    if (typeof pair.a !== "string" || typeof pair.b !== "string") {
      throw new MixRequestError("tank.register", "An incompatible pair names two partners.", {
        field: "pairs",
      });
    }
  }
  for (const { products } of recordsIn(request, "jar_tests")) {
    if (!Array.isArray(products) || !products.every((name) => typeof name === "string")) {
      throw new MixRequestError("tank.register", "A jar test lists its products.", { field: "jar_tests" });
    }
  }
}

/**
 * @param {JsonRecord} request
 * @param {string} name
 * @returns {JsonRecord | null}
 */
function recordIn(request, name) {
  const value = request[name] ?? null;
  if (value !== null && !isRecord(value)) {
    throw new MixRequestError("tank.not_a_record", `${name} must be a record.`, { field: name });
  }
  return value;
}

/**
 * @param {JsonRecord | null} extra
 * @param {number} appliedL
 */
function extraVolumeL(extra, appliedL) {
  if (extra === null) return 0;
  if (unitOf(extra.unit).dimension === "fraction") {
    const pct = within(quantityValue(extra, "fraction", "extra"), "extra", 0, 100);
    return (appliedL * pct) / 100;
  }
  return notNegative(quantityValue(extra, "volume", "extra") / 1000, "extra");
}

/**
 * Return factor, ratio and meaning; without an injector the factor is 1.
 * @param {string} method
 * @param {JsonRecord | null} injector
 * @returns {[number, number | null, string | null]}
 */
function injectorIn(method, injector) {
  if (injector === null) {
    if (method === "injector") {
      throw new MixRequestError(
        "tank.injector_missing",
        "An injector needs its ratio and what the ratio means.",
      );
    }
    return [1, null, null];
  }
  const factor = injectorFactor(injector.ratio, injector.meaning);
  const { meaning } = injector;
  return [factor, meaning === "part_in_total" ? factor : factor - 1, meaning];
}

/** @param {JsonRecord | null} tank */
function capacityL(tank) {
  if (tank === null || (tank.capacity ?? null) === null) {
    throw new MixRequestError("tank.capacity_missing", "The tank needs its capacity.");
  }
  return positive(quantityValue(tank.capacity, "volume", "capacity") / 1000, "capacity");
}

/** @param {JsonRecord | null} maxError */
function maxErrorPct(maxError) {
  if (maxError === null) return DEFAULT_MAX_ERROR_PCT;
  return within(quantityValue(maxError, "fraction", "max_error"), "max_error", 0.1, 50);
}

/**
 * Return what the sprayer puts down, stated or measured, with what is doubtful about it.
 * @param {JsonRecord} request
 * @returns {[number | null, ReadonlyArray<Finding>]}
 */
function calibratedIn(request) {
  const stated = recordIn(request, "calibrated");
  const measured = recordIn(request, "calibration");
  if (stated !== null && measured !== null) {
    throw new MixRequestError(
      "tank.two_calibrations",
      "A stated volume per area and a calibration are both given; say which one counts.",
    );
  }
  if (measured !== null) {
    const calibration = calibrationOf(measured);
    return [calibration.ml_per_m2, calibration.findings];
  }
  if (stated === null) return [null, []];
  const mlPerM2 = quantityValue(stated, "volume_per_area", "calibrated");
  return [positive(mlPerM2, "calibrated"), []];
}

/**
 * Return a mix as read from its JSON record (mix.schema.json): `method`; `components`; `lines`; `tank`
 * {capacity}; `instruments`; `extra` {value, unit} (what hose and bath keep, a volume or % of the
 * applied volume); `number_format`; `max_error` {value, '%'}; `injector` {ratio, meaning};
 * `calibrated` {value, unit} (volume per area that the sprayer puts down) or `calibration` (see
 * `calibrationOf`); `season` [{lot, ai, amount}]; `water` {ph, ...}; `incompatible_pairs`,
 * `jar_tests`. Errors: see the Python twin.
 * @param {JsonRecord} request
 * @returns {Readonly<MixRequest>}
 */
export function readRequest(request) {
  checkFields(request, REQUEST_FIELDS, "request");
  const method = request.method ?? null;
  if (!METHODS.includes(method)) {
    throw new MixRequestError("tank.method_unknown", `${method} is no method of application.`, {
      method: textOf(method),
    });
  }
  const statedFormat = recordIn(request, "number_format");
  const lineRecords = recordsIn(request, "lines");
  const everything = recordsIn(request, "components");
  const seasonRecords = recordsIn(request, "season");
  for (const record of lineRecords) checkFields(record, LINE_FIELDS, "lines");
  for (const record of everything) checkFields(record, COMPONENT_FIELDS, "components");
  for (const record of seasonRecords) checkFields(record, SEASON_FIELDS, "season");
  checkRegisters(request);
  const [calibratedMlPerM2, nozzleFindings] = calibratedIn(request);
  const lines = linesOf(lineRecords, calibratedMlPerM2);
  const rates = ratesOf(everything, lines);
  let appliedL = 0;
  for (const line of lines) appliedL += line.volume_l;
  const [factor, ratio, meaning] = injectorIn(method, recordIn(request, "injector"));
  return Object.freeze({
    method,
    number_format: statedFormat === null ? PLAIN_FORMAT : /** @type {NumberFormat} */ (statedFormat),
    lines,
    components: everything.filter((record) => !record.is_reference),
    rates,
    applied_l: appliedL,
    extra_l: extraVolumeL(recordIn(request, "extra"), appliedL),
    injector_factor: factor,
    injector_ratio: ratio,
    injector_meaning: meaning,
    capacity_l: capacityL(recordIn(request, "tank")),
    instruments: instrumentsOf(recordsIn(request, "instruments")),
    max_error_pct: maxErrorPct(recordIn(request, "max_error")),
    season: seasonBefore(seasonRecords),
    calibration_findings: Object.freeze([
      ...nozzleFindings,
      ...calibrationFindings(lines, calibratedMlPerM2),
    ]),
  });
}
