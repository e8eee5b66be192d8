/**
 * What each bench, lot and plant gets: volume, and mass of each active ingredient.
 * Twin: server/tepal/domain/shares.py. A mass per area, container or plant is there only where every
 * line of the lot says its area, containers or plants: a partial sum would understate the dose.
 * @module
 */

import { amountText } from "./amounts.js";
import { textOf, UnitError } from "./errors.js";
import { notNegative } from "./ranges.js";
import { quantityValue, unitOf } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/** @typedef {import("./amounts.js").AmountText} AmountText */
/** @typedef {import("./components.js").Rate} Rate */
/** @typedef {import("./lines.js").Line} Line */
/** @typedef {import("./rounding.js").NumberFormat} NumberFormat */
/**
 * Active ingredient: concentration, mass, and mass per area, container and plant if known. The
 * `season_*` figures add what the lot had before in this season; null where nothing is on file or the
 * basis is not known.
 * @typedef {object} AiShare
 * @property {string} component_id
 * @property {string} ai
 * @property {string} expressed_as
 * @property {number} mg_per_l
 * @property {number} mg
 * @property {number | null} mg_per_m2
 * @property {number | null} mg_per_container
 * @property {number | null} mg_per_plant
 * @property {number | null} season_mg_per_m2
 * @property {number | null} season_mg_per_container
 * @property {number | null} season_mg_per_plant
 */
/**
 * What one bench and lot gets.
 * @typedef {object} LineShare
 * @property {string} id
 * @property {string | null} bench
 * @property {string | null} lot
 * @property {number} volume_l
 * @property {AmountText} volume_text
 * @property {ReadonlyArray<Readonly<AiShare>>} ais
 */
/**
 * What one lot gets over all its lines.
 * @typedef {{lot: string, volume_l: number, ais: ReadonlyArray<Readonly<AiShare>>}} LotTotal
 */

/** @type {Readonly<Record<string, string>>} */
const ITEM_BASES = {
  "mg/{pot}": "container",
  "ug/{pot}": "container",
  "mg/{bulb}": "container",
  "mg/{plant}": "plant",
};

/**
 * @param {string | null} lot
 * @param {string} ai
 * @param {string} expressedAs
 */
function seasonKey(lot, ai, expressedAs) {
  return `${lot}\n${ai}\n${expressedAs}\n`;
}

/**
 * @param {number | undefined} before
 * @param {number | null} now
 */
function added(before, now) {
  return before === undefined || now === null ? null : before + now;
}

/**
 * Return the mass of every active ingredient in `volumeL` of final solution.
 * @param {ReadonlyArray<Rate>} rates
 * @param {number} volumeL
 * @param {number | null} [areaM2]
 * @param {number | null} [nContainers]
 * @param {number | null} [nPlants]
 * @param {ReadonlyMap<string, number> | null} [season] what `seasonBefore` returned; the lot's own
 *   figures are looked up in it
 * @param {string | null} [lot]
 * @returns {ReadonlyArray<Readonly<AiShare>>}
 */
export function aiShares(
  rates,
  volumeL,
  areaM2 = null,
  nContainers = null,
  nPlants = null,
  season = null,
  lot = null,
) {
  /** @type {Readonly<AiShare>[]} */
  const shares = [];
  const before = season ?? new Map();
  for (const rate of rates) {
    for (const ai of rate.ais) {
      const mg = ai.mg_per_l * volumeL;
      const perM2 = areaM2 === null ? null : mg / areaM2;
      const perContainer = nContainers === null ? null : mg / nContainers;
      const perPlant = nPlants === null ? null : mg / nPlants;
      const key = seasonKey(lot, ai.ai, ai.expressed_as);
      shares.push(
        Object.freeze({
          component_id: rate.id,
          ai: ai.ai,
          expressed_as: ai.expressed_as,
          mg_per_l: ai.mg_per_l,
          mg,
          mg_per_m2: perM2,
          mg_per_container: perContainer,
          mg_per_plant: perPlant,
          season_mg_per_m2: added(before.get(`${key}m2`), perM2),
          season_mg_per_container: added(before.get(`${key}container`), perContainer),
          season_mg_per_plant: added(before.get(`${key}plant`), perPlant),
        }),
      );
    }
  }
  return Object.freeze(shares);
}

/**
 * Return what every bench and lot gets.
 * @param {ReadonlyArray<Line>} lines
 * @param {ReadonlyArray<Rate>} rates
 * @param {ReadonlyMap<string, number>} season
 * @param {NumberFormat} numberFormat
 * @returns {ReadonlyArray<Readonly<LineShare>>}
 */
export function lineShares(lines, rates, season, numberFormat) {
  return Object.freeze(
    lines.map((line) =>
      Object.freeze({
        id: line.id,
        bench: line.bench,
        lot: line.lot,
        volume_l: line.volume_l,
        volume_text: amountText(line.volume_l * 1000, "volume", numberFormat),
        ais: aiShares(rates, line.volume_l, line.area_m2, line.n_containers, line.n_plants, season, line.lot),
      }),
    ),
  );
}

/**
 * Return what lots had before in this season, in mg by lot, a.i. and basis. Each record has `lot`,
 * `ai`, `expressed_as` (default 'as_labelled') and `amount` {value, unit}, per area, per container or
 * per plant. Several records of one lot, a.i. and basis are added. Throws `UnitError` (`season.unit`).
 * @param {ReadonlyArray<JsonRecord>} records
 * @returns {ReadonlyMap<string, number>}
 */
export function seasonBefore(records) {
  /** @type {Map<string, number>} */
  const before = new Map();
  for (const record of records) {
    const unit = unitOf(record.amount?.unit);
    const basis = unit.dimension === "mass_per_area" ? "m2" : ITEM_BASES[unit.code];
    if (basis === undefined) {
      throw new UnitError("season.unit", `${unit.code} is no mass per area, container or plant.`, {
        unit: unit.code,
      });
    }
    const mg = notNegative(quantityValue(record.amount, unit.dimension, "season"), "season");
    const expressedAs = textOf(record.expressed_as) || "as_labelled";
    const key = seasonKey(textOf(record.lot), textOf(record.ai), expressedAs) + basis;
    before.set(key, (before.get(key) ?? 0) + mg);
  }
  return before;
}

/**
 * Return what every named lot gets over all its lines, in the order the lots appear.
 * @param {ReadonlyArray<Line>} lines
 * @param {ReadonlyArray<Rate>} rates
 * @param {ReadonlyMap<string, number>} season
 * @returns {ReadonlyArray<Readonly<LotTotal>>}
 */
export function lotTotals(lines, rates, season) {
  /** @type {Readonly<LotTotal>[]} */
  const totals = [];
  for (const lot of new Set(lines.map((line) => line.lot))) {
    if (lot === null) continue;
    const own = lines.filter((line) => line.lot === lot);
    let volumeL = 0;
    for (const line of own) volumeL += line.volume_l;
    totals.push(
      Object.freeze({
        lot,
        volume_l: volumeL,
        ais: aiShares(
          rates,
          volumeL,
          wholeOrNone(own.map((line) => line.area_m2)),
          wholeOrNone(own.map((line) => line.n_containers)),
          wholeOrNone(own.map((line) => line.n_plants)),
          season,
          lot,
        ),
      }),
    );
  }
  return Object.freeze(totals);
}

/**
 * Return the sum, or null where one line does not say: a partial sum would understate.
 * @param {ReadonlyArray<number | null>} values
 * @returns {number | null}
 */
function wholeOrNone(values) {
  let total = 0;
  for (const value of values) {
    if (value === null) return null;
    total += value;
  }
  return total;
}
