/**
 * A tank mix from partners, lines, tank and instruments to amounts per load and per lot.
 * Twin: server/tepal/domain/tank.py. `tankPlan` reads one JSON record (mix.schema.json) and returns a
 * frozen plan. Volumes are final volumes: half the water, the partners in mixing order, water up to it.
 * @module
 */

import { amountText } from "./amounts.js";
import { calibrationOf } from "./calibration.js";
import { ratesOf } from "./components.js";
import { Finding, textOf } from "./errors.js";
import { injectorFactor } from "./injector.js";
import { leftoverOptions } from "./leftover.js";
import { calibrationFindings, lineFindings, linesOf } from "./lines.js";
import { loadFindings, loadsOf, TankError, tankLoads } from "./loads.js";
import { DEFAULT_MAX_ERROR_PCT, instrumentsOf } from "./measuring.js";
import { mixFindings, mixingSteps, useWithinH } from "./mixing_order.js";
import { notNegative, positive, within } from "./ranges.js";
import { PLAIN_FORMAT } from "./rounding.js";
import { aiShares, lineShares, lotTotals, seasonBefore } from "./shares.js";
import { slipQuestion } from "./slips.js";
import { densityGPerMl } from "./strength.js";
import { quantityValue, unitOf } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/** @typedef {import("./amounts.js").AmountText} AmountText */
/** @typedef {import("./components.js").Rate} Rate */
/** @typedef {import("./rounding.js").NumberFormat} NumberFormat */
/** @typedef {import("./shares.js").AiShare} AiShare */
/**
 * One partner over the whole batch.
 * @typedef {object} ComponentPlan
 * @property {string} id
 * @property {string | null} product_id
 * @property {string} product_name
 * @property {string} kind
 * @property {string} unit
 * @property {number} amount_per_l
 * @property {number} total
 * @property {AmountText} total_text
 * @property {ReadonlyArray<Readonly<AiShare>>} ais
 */
/**
 * The whole mix. `volume_l` goes into tanks; `applied_l` onto lines; `extra_l` stays over.
 * @typedef {object} TankPlan
 * @property {string} method
 * @property {number} applied_l
 * @property {number} extra_l
 * @property {number} volume_l
 * @property {AmountText} volume_text
 * @property {number} injector_factor
 * @property {ReadonlyArray<Readonly<ComponentPlan>>} components
 * @property {ReadonlyArray<Readonly<import("./mixing_order.js").MixingStep>>} steps
 * @property {ReadonlyArray<Readonly<import("./loads.js").Load>>} loads
 * @property {ReadonlyArray<Readonly<import("./shares.js").LineShare>>} lines
 * @property {ReadonlyArray<Readonly<import("./shares.js").LotTotal>>} lots
 * @property {ReadonlyArray<Readonly<AiShare>>} leftover_ais
 * @property {ReadonlyArray<Readonly<import("./leftover.js").LeftoverOption>>} leftover_options
 * @property {number | null} use_within_h
 * @property {ReadonlyArray<Finding>} findings
 */

export const METHODS = Object.freeze([
  "spray",
  "sprench",
  "drench",
  "liner_dip",
  "bulb_dip",
  "sub_irrigation",
  "injector",
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
    throw new TankError("tank.unknown_field", `${where} has a field that is not known: ${unknown}.`, {
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
    throw new TankError("tank.not_a_list", `${name} must be a list of records.`, { field: name });
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
      throw new TankError("tank.register", "An incompatible pair names two partners.", {
        field: "pairs",
      });
    }
  }
  for (const { products } of recordsIn(request, "jar_tests")) {
    if (!Array.isArray(products) || !products.every((name) => typeof name === "string")) {
      throw new TankError("tank.register", "A jar test lists its products.", { field: "jar_tests" });
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
    throw new TankError("tank.not_a_record", `${name} must be a record.`, { field: name });
  }
  return value;
}

/**
 * Compare what a chart or a note states per litre with what the target needs.
 * @param {ReadonlyArray<Rate>} rates
 * @param {ReadonlyArray<JsonRecord>} components
 * @returns {Finding[]}
 */
function slipQuestions(rates, components) {
  /** @type {Finding[]} */
  const findings = [];
  for (const [index, rate] of rates.entries()) {
    const component = components[index];
    const stated = component.stated_per_l ?? null;
    if (stated === null) continue;
    const isDry = rate.unit === "g";
    const dimension = isDry ? "mass_concentration" : "volume_ratio";
    const base = quantityValue(stated, dimension, "stated_per_l");
    const entered = positive(isDry ? base / 1000 : base, "stated_per_l");
    const density = isDry ? null : densityGPerMl(component.product);
    const question = slipQuestion(entered, rate.amount_per_l, density);
    if (question === null) continue;
    const { code, severity, message, field, source, context } = question;
    const named = { ...context, component: rate.product_name, unit: isDry ? "g/L" : "mL/L" };
    findings.push(new Finding(code, severity, message, field, source, named));
  }
  return findings;
}

/**
 * Refuse partners that leave no water; 1 g of a dry one is counted as 1 mL at most.
 * @param {ReadonlyArray<Rate>} rates
 * @param {number} factor
 */
function checkRoom(rates, factor) {
  let mlPerL = 0;
  for (const rate of rates) mlPerL += rate.amount_per_l * factor;
  if (mlPerL > 1000) {
    throw new TankError("tank.no_room_for_water", `The partners alone fill ${mlPerL} mL of every litre.`, {
      ml_per_l: mlPerL,
    });
  }
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
 * @param {string} method
 * @param {JsonRecord | null} injector
 */
function factorOf(method, injector) {
  if (injector === null) {
    if (method === "injector") {
      throw new TankError("tank.injector_missing", "An injector needs its ratio and what the ratio means.");
    }
    return 1;
  }
  return injectorFactor(injector.ratio, injector.meaning);
}

/** @param {JsonRecord | null} tank */
function capacityL(tank) {
  if (tank === null || (tank.capacity ?? null) === null) {
    throw new TankError("tank.capacity_missing", "The tank needs its capacity.");
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
    throw new TankError(
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
 * @param {Rate} rate
 * @param {number} finalL
 * @param {NumberFormat} numberFormat
 * @returns {Readonly<ComponentPlan>}
 */
function componentPlan(rate, finalL, numberFormat) {
  const total = rate.amount_per_l * finalL;
  return Object.freeze({
    id: rate.id,
    product_id: rate.product_id,
    product_name: rate.product_name,
    kind: rate.kind,
    unit: rate.unit,
    amount_per_l: rate.amount_per_l,
    total,
    total_text: amountText(total, rate.unit === "g" ? "mass" : "volume", numberFormat),
    ais: aiShares([rate], finalL),
  });
}

/**
 * Return the plan of a mix: amounts per load, per line and per lot, findings, left-over. Unrounded but
 * for the measured amounts. Errors: see the Python twin.
 *
 * `request` (mix.schema.json): `method`; `components`; `lines`; `tank` {capacity}; `instruments`;
 * `extra` {value, unit} (what hose and bath keep, a volume or % of the applied volume);
 * `number_format`; `max_error` {value, '%'}; `injector` {ratio, meaning}; `calibrated` {value, unit}
 * (volume per area that the sprayer puts down) or `calibration` (see `calibrationOf`); `season` [{lot, ai, amount}]; `water` {ph, ...};
 * `incompatible_pairs`, `jar_tests`.
 * @param {JsonRecord} request
 * @returns {Readonly<TankPlan>}
 */
export function tankPlan(request) {
  checkFields(request, REQUEST_FIELDS, "request");
  const method = request.method ?? null;
  if (!METHODS.includes(method)) {
    throw new TankError("tank.method_unknown", `${method} is no method of application.`, {
      method: textOf(method),
    });
  }
  const numberFormat = /** @type {NumberFormat} */ (recordIn(request, "number_format") ?? PLAIN_FORMAT);
  const [calibratedMlPerM2, nozzleFindings] = calibratedIn(request);
  for (const record of recordsIn(request, "lines")) checkFields(record, LINE_FIELDS, "lines");
  const lines = linesOf(recordsIn(request, "lines"), calibratedMlPerM2);
  const everything = recordsIn(request, "components");
  for (const component of everything) checkFields(component, COMPONENT_FIELDS, "components");
  const components = everything.filter((item) => !item.is_reference);
  const rates = ratesOf(everything, lines);
  let appliedL = 0;
  for (const line of lines) appliedL += line.volume_l;
  const extraL = extraVolumeL(recordIn(request, "extra"), appliedL);
  const finalL = appliedL + extraL;
  const factor = factorOf(method, recordIn(request, "injector"));
  checkRoom(rates, factor);
  const volumeL = finalL / factor;
  checkRegisters(request);
  const steps = mixingSteps(rates);
  const byId = new Map(rates.map((rate) => [rate.id, rate]));
  const loads = loadsOf(
    steps.map((step) => /** @type {Rate} */ (byId.get(step.component_id))),
    factor,
    tankLoads(volumeL, capacityL(recordIn(request, "tank"))),
    instrumentsOf(recordsIn(request, "instruments")),
    maxErrorPct(recordIn(request, "max_error")),
    numberFormat,
  );
  for (const record of recordsIn(request, "season")) checkFields(record, SEASON_FIELDS, "season");
  const season = seasonBefore(recordsIn(request, "season"));
  return Object.freeze({
    method,
    applied_l: appliedL,
    extra_l: extraL,
    volume_l: volumeL,
    volume_text: amountText(volumeL * 1000, "volume", numberFormat),
    injector_factor: factor,
    components: Object.freeze(rates.map((rate) => componentPlan(rate, finalL, numberFormat))),
    steps,
    loads,
    lines: lineShares(lines, rates, season, numberFormat),
    lots: lotTotals(lines, rates, season),
    leftover_ais: extraL > 0 ? aiShares(rates, extraL) : Object.freeze([]),
    leftover_options: leftoverOptions(method, extraL),
    use_within_h: useWithinH(components.map((component) => component.product)),
    findings: Object.freeze([
      ...nozzleFindings,
      ...lineFindings(lines),
      ...calibrationFindings(lines, calibratedMlPerM2),
      ...mixFindings(rates, components, request),
      ...loadFindings(rates, loads),
      ...slipQuestions(rates, components),
    ]),
  });
}
