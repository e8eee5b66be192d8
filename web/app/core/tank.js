/**
 * A tank mix from partners, lines, tank and instruments to amounts per load and per lot.
 * Twin: server/tepal/domain/tank.py. `tankPlan` reads one JSON record (mix.schema.json) and returns a
 * frozen plan. Volumes are final volumes: half the water, the partners in mixing order, water up to it.
 * @module
 */

import { amountText } from "./amounts.js";
import { Finding } from "./errors.js";
import { leftoverOptions } from "./leftover.js";
import { lineFindings } from "./lines.js";
import { loadFindings, loadsOf, TankError, tankLoads } from "./loads.js";
import { readRequest } from "./mix_request.js";
import { mixFindings, mixingSteps, useWithinH } from "./mixing_order.js";
import { positive } from "./ranges.js";
import { aiShares, lineShares, lotTotals } from "./shares.js";
import { slipQuestion } from "./slips.js";
import { densityGPerMl } from "./strength.js";
import { quantityValue } from "./units.js";

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
 * @property {number | null} injector_ratio
 * @property {string | null} injector_meaning
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

// Own bound, no source: more loads than anyone plans for one batch.
export const MANY_LOADS = 20;

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
 * Refuse partners that leave no water, and ask where half the water would be too much. 1 g of a dry
 * partner is counted as 1 mL at most.
 * @param {ReadonlyArray<Rate>} rates
 * @param {number} factor
 * @returns {Finding[]}
 */
function roomFindings(rates, factor) {
  let mlPerL = 0;
  for (const rate of rates) mlPerL += rate.amount_per_l * factor;
  if (mlPerL > 1000) {
    throw new TankError("tank.no_room_for_water", `The partners alone fill ${mlPerL} mL of every litre.`, {
      ml_per_l: mlPerL,
    });
  }
  if (mlPerL <= 500) return [];
  return [
    new Finding(
      "tank.partners_over_half",
      "caution",
      `The partners fill ${mlPerL} mL of a litre; start with less than half the water.`,
      "components",
      null,
      { ml_per_l: mlPerL },
    ),
  ];
}

/**
 * Ask about a tank that has to be filled very often: its capacity may be in another unit.
 * @param {number} nLoads
 * @returns {Finding[]}
 */
function manyLoadsFindings(nLoads) {
  if (nLoads <= MANY_LOADS) return [];
  return [
    new Finding(
      "tank.many_loads",
      "caution",
      `${nLoads} tank loads; check the unit of the tank's capacity.`,
      "tank",
      null,
      { n: nLoads },
    ),
  ];
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
 * @param {JsonRecord} request see mix.schema.json and `readRequest`
 * @returns {Readonly<TankPlan>}
 */
export function tankPlan(request) {
  const mix = readRequest(request);
  const numberFormat = mix.number_format;
  const rates = mix.rates;
  const finalL = mix.applied_l + mix.extra_l;
  const crowded = roomFindings(rates, mix.injector_factor);
  const volumeL = finalL / mix.injector_factor;
  const volumes = tankLoads(volumeL, mix.capacity_l);
  const steps = mixingSteps(rates);
  const byId = new Map(rates.map((rate) => [rate.id, rate]));
  const loads = loadsOf(
    steps.map((step) => /** @type {Rate} */ (byId.get(step.component_id))),
    mix.injector_factor,
    volumes,
    mix.instruments,
    mix.max_error_pct,
    numberFormat,
  );
  return Object.freeze({
    method: mix.method,
    applied_l: mix.applied_l,
    extra_l: mix.extra_l,
    volume_l: volumeL,
    volume_text: amountText(volumeL * 1000, "volume", numberFormat),
    injector_factor: mix.injector_factor,
    injector_ratio: mix.injector_ratio,
    injector_meaning: mix.injector_meaning,
    components: Object.freeze(rates.map((rate) => componentPlan(rate, finalL, numberFormat))),
    steps,
    loads,
    lines: lineShares(mix.lines, rates, mix.season, numberFormat),
    lots: lotTotals(mix.lines, rates, mix.season),
    leftover_ais: mix.extra_l > 0 ? aiShares(rates, mix.extra_l) : Object.freeze([]),
    leftover_options: leftoverOptions(mix.method, mix.extra_l),
    use_within_h: useWithinH(mix.components.map((component) => component.product)),
    findings: Object.freeze([
      ...mix.calibration_findings,
      ...lineFindings(mix.lines),
      ...crowded,
      ...manyLoadsFindings(volumes.length),
      ...mixFindings(rates, mix.components, request),
      ...loadFindings(rates, loads),
      ...slipQuestions(rates, mix.components),
    ]),
  });
}
