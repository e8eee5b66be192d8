/**
 * Measurable amounts: which instrument of the house, what it reads, and the error that leaves.
 * Twin: server/tepal/domain/measuring.py. An amount is measured well by an instrument when half a
 * division is no more than the allowed error of it; where no instrument does, a two-step dilution
 * makes the amount larger. Instruments are records of the house:
 * `{id, name, resolution {value, unit}, capacity {value, unit}}`.
 * @module
 */

import { TepalError, textOf } from "./errors.js";
import { positive, positiveUpTo } from "./ranges.js";
import { decimalsOf, forMeasuring, formatQuantity } from "./rounding.js";
import { fromBase, quantityValue, toBase, unitOf } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/** @typedef {import("./rounding.js").NumberFormat} NumberFormat */
/**
 * A cylinder, syringe, balance or other measure; resolution and capacity in its own unit.
 * @typedef {object} Instrument
 * @property {string} id
 * @property {string} name
 * @property {string} dimension
 * @property {string} unit
 * @property {number} resolution
 * @property {number} capacity
 */
/**
 * What to read on an instrument for an exact amount: `amount` in `unit`; `amount_base` in mL or g;
 * `error_pct` is how far the reading lies from the exact amount, `reading_error_pct` half a division
 * (once per fill) in per cent of it.
 * @typedef {object} MeasuredAmount
 * @property {string} instrument_id
 * @property {string} instrument_name
 * @property {number} amount
 * @property {string} unit
 * @property {number} n_decimals
 * @property {string} text
 * @property {number} n_fills
 * @property {number} amount_base
 * @property {number} error_pct
 * @property {number} reading_error_pct
 * @property {boolean} is_measurable
 */
/**
 * First `product` made up with water to `stock_ml`, then `aliquot` of that into the tank.
 * @typedef {object} TwoStep
 * @property {number} factor
 * @property {MeasuredAmount} product
 * @property {number} stock_ml
 * @property {string} stock_text
 * @property {MeasuredAmount} aliquot
 * @property {number} stock_left_ml
 * @property {number} error_pct
 */

// Own proposal, no source: half a division may be 5 % of the amount, so at least ten divisions.
export const DEFAULT_MAX_ERROR_PCT = 5.0;
// Own proposal, no source: nobody should fill a cylinder more often than this for one tank.
export const MAX_FILLS = 10;
const FACTORS = [10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0];
const MAX_STOCK_ML = 10000.0;

/** A record of a measuring instrument contradicts itself. */
export class InstrumentError extends TepalError {}

/**
 * Return the instruments of the house from their records.
 * @param {ReadonlyArray<JsonRecord>} records
 * @returns {ReadonlyArray<Readonly<Instrument>>}
 */
export function instrumentsOf(records) {
  return Object.freeze(
    records.map((record, index) => {
      const resolution = record.resolution;
      const unit = unitOf(resolution?.unit);
      const dimension = unit.dimension === "mass" ? "mass" : "volume";
      const step = quantityValue(resolution, dimension, "resolution");
      const capacity = quantityValue(record.capacity, dimension, "capacity");
      const number = index + 1;
      const instrument = Object.freeze({
        id: textOf(record.id) || String(number),
        name: textOf(record.name) || textOf(record.id) || String(number),
        dimension,
        unit: unit.code,
        resolution: fromBase(positive(step, "resolution"), unit.code),
        capacity: fromBase(positive(capacity, "capacity"), unit.code),
      });
      if (instrument.capacity < instrument.resolution) {
        throw new InstrumentError(
          "instrument.capacity_below_resolution",
          `${instrument.name}: the capacity is smaller than one division.`,
          { name: instrument.name },
        );
      }
      return instrument;
    }),
  );
}

/**
 * Return [amount, fills, half a division in per cent]; null where it cannot be read.
 * @param {number} exactBase
 * @param {Instrument} instrument
 * @returns {[number, number, number] | null}
 */
function readingOf(exactBase, instrument) {
  const exact = fromBase(exactBase, instrument.unit);
  const amount = forMeasuring(exact, instrument.resolution);
  // HAZARD: 1.1 / 0.1 is 11.000000000000002; a billionth is no further fill.
  const nFills = Math.ceil(amount / instrument.capacity - 1e-9);
  if (amount === 0 || nFills > MAX_FILLS) return null;
  return [amount, nFills, (((instrument.resolution / 2) * nFills) / exact) * 100];
}

/**
 * @param {number} exactBase
 * @param {Instrument} instrument
 * @param {[number, number, number]} reading
 * @param {number} maxErrorPct
 * @param {NumberFormat} numberFormat
 * @returns {Readonly<MeasuredAmount>}
 */
function measured(exactBase, instrument, reading, maxErrorPct, numberFormat) {
  const [amount, nFills, readingErrorPct] = reading;
  const exact = fromBase(exactBase, instrument.unit);
  const nDecimals = decimalsOf(instrument.resolution);
  return Object.freeze({
    instrument_id: instrument.id,
    instrument_name: instrument.name,
    amount,
    unit: instrument.unit,
    n_decimals: nDecimals,
    text: formatQuantity(amount, instrument.unit, numberFormat, nDecimals),
    n_fills: nFills,
    amount_base: toBase(amount, instrument.unit),
    error_pct: ((amount - exact) / exact) * 100,
    reading_error_pct: readingErrorPct,
    is_measurable: readingErrorPct <= maxErrorPct,
  });
}

/**
 * Return what to read for an exact amount on the best instrument; null where none can. Best: measures
 * well before poorly, then fewest fills, then the smallest half division, then the order of the list.
 * @param {number} exactBase mL (dimension 'volume') or g (dimension 'mass'), > 0
 * @param {string} dimension
 * @param {ReadonlyArray<Instrument>} instruments
 * @param {number} maxErrorPct %, > 0 to 50: half a division may be this much of the amount
 * @param {NumberFormat} numberFormat
 * @returns {Readonly<MeasuredAmount> | null}
 */
export function measuredAmount(exactBase, dimension, instruments, maxErrorPct, numberFormat) {
  const exact = positive(exactBase, "exact_base");
  const allowed = positiveUpTo(maxErrorPct, "max_error_pct", 50);
  /** @type {[Instrument, [number, number, number]] | null} */
  let best = null;
  for (const instrument of instruments) {
    if (instrument.dimension !== dimension) continue;
    const reading = readingOf(exact, instrument);
    if (reading !== null && (best === null || isBetter(reading, best[1], allowed))) {
      best = [instrument, reading];
    }
  }
  return best === null ? null : measured(exact, best[0], best[1], allowed, numberFormat);
}

/**
 * @param {[number, number, number]} reading
 * @param {[number, number, number]} best
 * @param {number} allowed
 */
function isBetter([, nFills, error], [, bestNFills, bestError], allowed) {
  if (error <= allowed !== bestError <= allowed) return error <= allowed;
  if (nFills !== bestNFills) return nFills < bestNFills;
  return error < bestError;
}

/**
 * Return the smallest 1, 2 or 5 x 10^k that covers the amount and is read without rounding.
 * @param {number} exactBase
 * @param {number} factor
 * @param {string} dimension
 * @param {ReadonlyArray<Instrument>} instruments
 * @param {number} maxErrorPct
 * @param {NumberFormat} numberFormat
 * @returns {Readonly<MeasuredAmount> | null}
 */
function stockProduct(exactBase, factor, dimension, instruments, maxErrorPct, numberFormat) {
  /** @type {[number, Instrument, [number, number, number]] | null} */
  let best = null;
  for (const instrument of instruments) {
    if (instrument.dimension !== dimension) continue;
    for (let power = -3; power < 5; power += 1) {
      for (const digit of [1, 2, 5]) {
        const nice = Number(`${digit}e${power}`);
        const base = toBase(nice, instrument.unit);
        if (
          nice > instrument.capacity ||
          base < exactBase * 1.1 ||
          base * factor > MAX_STOCK_ML ||
          (best !== null && base >= best[0]) ||
          forMeasuring(nice, instrument.resolution) !== nice
        ) {
          continue;
        }
        const reading = readingOf(base, instrument);
        if (reading !== null && reading[2] <= maxErrorPct) best = [base, instrument, reading];
      }
    }
  }
  return best === null ? null : measured(best[0], best[1], best[2], maxErrorPct, numberFormat);
}

/**
 * Return a dilution in two measurable steps for an amount too small to measure; null if none.
 * Step 1: measure `product` and make it up with water to `stock_ml` (1 mL or g in `factor` mL).
 * Step 2: measure `aliquot` of that stock into the tank. The smallest factor of 10, 20, 50 ... 1000
 * that works is taken; `error_pct` is the error of step 2, step 1 being read exactly.
 * @param {number} exactBase
 * @param {string} dimension
 * @param {ReadonlyArray<Instrument>} instruments
 * @param {number} maxErrorPct
 * @param {NumberFormat} numberFormat
 * @returns {Readonly<TwoStep> | null}
 */
export function twoStepDilution(exactBase, dimension, instruments, maxErrorPct, numberFormat) {
  const exact = positive(exactBase, "exact_base");
  for (const factor of FACTORS) {
    const aliquot = measuredAmount(exact * factor, "volume", instruments, maxErrorPct, numberFormat);
    if (aliquot === null || !aliquot.is_measurable) continue;
    const product = stockProduct(exact, factor, dimension, instruments, maxErrorPct, numberFormat);
    if (product === null) continue;
    const stockMl = product.amount_base * factor;
    return Object.freeze({
      factor,
      product,
      stock_ml: stockMl,
      stock_text: formatQuantity(stockMl, "mL", numberFormat),
      aliquot,
      stock_left_ml: stockMl - aliquot.amount_base,
      error_pct: aliquot.error_pct,
    });
  }
  return null;
}
