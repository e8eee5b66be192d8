/**
 * Tank loads: their volumes, and what to measure of each partner for each of them.
 * Twin: server/tepal/domain/loads.py. Full loads share their amounts, the last partial one has its own.
 * @module
 */

import { amountText } from "./amounts.js";
import { Finding, TepalError } from "./errors.js";
import { measuredAmount, twoStepDilution } from "./measuring.js";
import { positive } from "./ranges.js";

/** @typedef {import("./amounts.js").AmountText} AmountText */
/** @typedef {import("./components.js").Rate} Rate */
/** @typedef {import("./measuring.js").Instrument} Instrument */
/** @typedef {import("./measuring.js").MeasuredAmount} MeasuredAmount */
/** @typedef {import("./measuring.js").TwoStep} TwoStep */
/** @typedef {import("./rounding.js").NumberFormat} NumberFormat */
/**
 * One partner in one load: exact amount in mL or g, what to measure, what that gives.
 * `resulting_mg_per_l` is each a.i. in the final solution with the measured amount, in the order of
 * the product's a.i.; it is empty, and `error_pct` null, where no instrument measures it.
 * @typedef {object} LoadAmount
 * @property {string} component_id
 * @property {number} exact
 * @property {string} unit
 * @property {AmountText} text
 * @property {MeasuredAmount | null} measured
 * @property {TwoStep | null} two_step
 * @property {number | null} error_pct
 * @property {ReadonlyArray<number>} resulting_mg_per_l
 */
/**
 * One tank load, or several equal ones (`numbers` counts them from 1).
 * @typedef {object} Load
 * @property {ReadonlyArray<number>} numbers
 * @property {number} volume_l
 * @property {AmountText} volume_text
 * @property {AmountText} water_half_text
 * @property {ReadonlyArray<Readonly<LoadAmount>>} amounts
 */

/** The tank, the water or the loads do not fit together. */
export class TankError extends TepalError {}

/**
 * Return the volume of each tank load: full ones, then the partial rest. The sum is `volumeL`. A rest
 * below a billionth of the tank is no load. Throws `TankError` (`tank.too_many_loads`, above 1000).
 * @param {number} volumeL
 * @param {number} capacityL
 * @returns {ReadonlyArray<number>}
 */
export function tankLoads(volumeL, capacityL) {
  const volume = positive(volumeL, "volume_l");
  const capacity = positive(capacityL, "capacity_l");
  const nExact = volume / capacity;
  if (nExact > 1000) {
    throw new TankError(
      "tank.too_many_loads",
      `${volume} L in a tank of ${capacity} L are more than 1000 loads; check the units.`,
      { volume_l: volume, capacity_l: capacity },
    );
  }
  const nFull = Math.floor(nExact + 1e-9);
  const rest = volume - nFull * capacity;
  if (nFull > 0 && rest <= capacity * 1e-9) {
    return Object.freeze([...new Array(nFull - 1).fill(capacity), volume - (nFull - 1) * capacity]);
  }
  return Object.freeze([...new Array(nFull).fill(capacity), rest]);
}

/**
 * @param {ReadonlyArray<Rate>} rates
 * @param {number} factor
 * @param {number} loadL
 * @param {ReadonlyArray<Instrument>} instruments
 * @param {number} maxErrorPct
 * @param {NumberFormat} numberFormat
 * @returns {ReadonlyArray<Readonly<LoadAmount>>}
 */
function loadAmounts(rates, factor, loadL, instruments, maxErrorPct, numberFormat) {
  return Object.freeze(
    rates.map((rate) => {
      const exact = rate.amount_per_l * factor * loadL;
      const dimension = rate.unit === "g" ? "mass" : "volume";
      const measured = measuredAmount(exact, dimension, instruments, maxErrorPct, numberFormat);
      const twoStep =
        measured === null || !measured.is_measurable
          ? twoStepDilution(exact, dimension, instruments, maxErrorPct, numberFormat)
          : null;
      const best = twoStep ?? measured;
      const errorPct = best === null ? null : best.error_pct;
      return Object.freeze({
        component_id: rate.id,
        exact,
        unit: rate.unit,
        text: amountText(exact, dimension, numberFormat),
        measured,
        two_step: twoStep,
        error_pct: errorPct,
        resulting_mg_per_l: Object.freeze(
          errorPct === null ? [] : rate.ais.map((ai) => ai.mg_per_l * (1 + errorPct / 100)),
        ),
      });
    }),
  );
}

/**
 * Return equal loads once: full ones share their amounts, the last partial one has its own.
 * @param {ReadonlyArray<Rate>} rates
 * @param {number} factor
 * @param {ReadonlyArray<number>} volumes
 * @param {ReadonlyArray<Instrument>} instruments
 * @param {number} maxErrorPct
 * @param {NumberFormat} numberFormat
 * @returns {ReadonlyArray<Readonly<Load>>}
 */
export function loadsOf(rates, factor, volumes, instruments, maxErrorPct, numberFormat) {
  /** @type {Readonly<Load>[]} */
  const loads = [];
  let start = 0;
  while (start < volumes.length) {
    let end = start + 1;
    while (end < volumes.length && volumes[end] === volumes[start]) end += 1;
    const first = start;
    loads.push(
      Object.freeze({
        numbers: Object.freeze(Array.from({ length: end - first }, (_, i) => first + i + 1)),
        volume_l: volumes[first],
        volume_text: amountText(volumes[first] * 1000, "volume", numberFormat),
        water_half_text: amountText(volumes[first] * 500, "volume", numberFormat),
        amounts: loadAmounts(rates, factor, volumes[first], instruments, maxErrorPct, numberFormat),
      }),
    );
    start = end;
  }
  return Object.freeze(loads);
}

/**
 * Return a finding for every amount that the instruments on file do not measure well.
 * @param {ReadonlyArray<Rate>} rates
 * @param {ReadonlyArray<Load>} loads
 * @returns {ReadonlyArray<Finding>}
 */
export function loadFindings(rates, loads) {
  /** @type {Finding[]} */
  const findings = [];
  const names = new Map(rates.map((rate) => [rate.id, rate.product_name]));
  for (const load of loads) {
    for (const amount of load.amounts) {
      const name = names.get(amount.component_id);
      const context = {
        component: name,
        load: load.numbers[0],
        last_load: load.numbers[load.numbers.length - 1],
      };
      if (amount.two_step !== null) {
        findings.push(
          new Finding(
            "tank.amount_too_small",
            "caution",
            `${name}: the amount is too small to measure well; dilute it in two steps.`,
            "components",
            null,
            context,
          ),
        );
      } else if (amount.measured === null || !amount.measured.is_measurable) {
        findings.push(
          new Finding(
            "tank.amount_not_measurable",
            "stop",
            `${name}: no instrument on file measures this amount well enough.`,
            "instruments",
            null,
            context,
          ),
        );
      }
    }
  }
  return Object.freeze(findings);
}
