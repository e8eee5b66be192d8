/**
 * What a record of an application put down: concentration, and dose per area and per container. Twin:
 * server/tepal/domain/applied.py. Amount of product in the whole solution, times strength, shared by the
 * volume of each line. What a record does not say is null, never zero.
 * @module
 */

import { TepalError, textOf } from "./errors.js";
import { strengthsOf } from "./strength.js";
import { quantityValue, unitOf } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/**
 * One substance on one line: an a.i. in mg, or with `ai` '' the product itself in mL or g. `per_l` of final
 * solution; `per_m2`, `per_container`: null where area, containers or volume are not on record. `line`
 * counts from 0; -1 for a treatment by the supplier.
 * @typedef {object} AppliedDose
 * @property {number} line
 * @property {string | null} lot
 * @property {string | null} product
 * @property {string} name
 * @property {string} ai
 * @property {string} unit
 * @property {number | null} per_l
 * @property {number | null} per_m2
 * @property {number | null} per_container
 */

/**
 * A quantity in base units; null where there is none, or none above zero.
 * @param {any} quantity
 * @param {string} dimension
 * @returns {number | null}
 */
function readOf(quantity, dimension) {
  if ((quantity ?? null) === null) return null;
  const value = quantityValue(quantity, dimension, dimension);
  return value > 0 ? value : null;
}

/**
 * How much product went in, and its unit: mL or g.
 * @param {JsonRecord} product
 * @returns {{value: number, unit: string} | null}
 */
function amountOf(product) {
  const quantity = product.amount ?? null;
  if (quantity === null) return null;
  const isMass = unitOf(quantity.unit).dimension === "mass";
  const value = readOf(quantity, isMass ? "mass" : "volume");
  return value === null ? null : { value, unit: isMass ? "g" : "mL" };
}

/**
 * Litres of final solution; behind an injector the tank holds the stock.
 * @param {JsonRecord} application
 * @param {ReadonlyArray<number | null>} volumes
 * @returns {number | null}
 */
function wholeL(application, volumes) {
  let applied = 0;
  let isKnown = volumes.length > 0;
  for (const volume of volumes) {
    if (volume === null) isKnown = false;
    else applied += volume;
  }
  const mixed = readOf(application.volume, "volume");
  if (application.method === "injector" || mixed === null) {
    return isKnown && applied > 0 ? applied / 1000 : null;
  }
  return Math.max(applied, mixed) / 1000;
}

/**
 * mg per mL or g of product, by a.i.; nothing where the label's strength is not read.
 * @param {JsonRecord} product
 * @param {string} unit
 * @returns {Map<string, number>}
 */
function strengthsIn(product, unit) {
  /** @type {Map<string, number>} */
  const largest = new Map();
  const form = product.physical_form || (unit === "g" ? "dry" : "liquid");
  if ((form === "dry") !== (unit === "g")) return largest;
  try {
    // a label that counts salt and acid equivalent says the same substance twice: the larger counts
    for (const one of strengthsOf({ ...product, physical_form: form })) {
      if (one.mg_per_measure > (largest.get(one.ai) ?? 0)) largest.set(one.ai, one.mg_per_measure);
    }
  } catch (error) {
    if (!(error instanceof TepalError)) throw error;
    return new Map();
  }
  return largest;
}

/**
 * Return the doses of an application: per line and product, the product and each a.i. An a.i. whose
 * strength cannot be read is there with null, so that nothing passes as zero.
 * @param {JsonRecord} application
 * @returns {ReadonlyArray<Readonly<AppliedDose>>}
 */
export function appliedDoses(application) {
  /** @type {JsonRecord[]} */
  const lines = application.lines ?? [];
  const volumes = lines.map((line) => readOf(line.volume, "volume"));
  const whole = wholeL(application, volumes);
  /** @type {Readonly<AppliedDose>[]} */
  const doses = [];
  for (const [number, line] of lines.entries()) {
    const volume = volumes[number];
    const m2 = readOf(line.area, "area");
    const containers = line.n_containers || null;
    for (const product of application.products ?? []) {
      const amount = amountOf(product);
      const unit = amount === null ? "mL" : amount.unit;
      const perL = amount === null || whole === null ? null : amount.value / whole;
      const strengths = strengthsIn(product, unit);
      /** @type {[string, string, number | null][]} */
      const substances = [["", unit, perL]];
      for (const ingredient of product.ingredients ?? []) {
        const ai = textOf(ingredient.ai);
        if (ai === "" || substances.some(([known]) => known === ai)) continue;
        const mg = strengths.get(ai) ?? null;
        substances.push([ai, "mg", perL === null || mg === null ? null : perL * mg]);
      }
      for (const [ai, ofUnit, concentration] of substances) {
        const amountHere = concentration === null || volume === null ? null : (concentration * volume) / 1000;
        doses.push(
          Object.freeze({
            line: number,
            lot: line.lot ?? null,
            product: product.product ?? null,
            name: textOf(product.name),
            ai,
            unit: ofUnit,
            per_l: concentration,
            per_m2: amountHere === null || m2 === null ? null : amountHere / m2,
            per_container: amountHere === null || containers === null ? null : amountHere / containers,
          }),
        );
      }
    }
  }
  return Object.freeze(doses);
}

/**
 * Return the doses of a treatment by the supplier: its `dose`, of its one a.i. or the product. A mass
 * counts for the a.i. where there is exactly one; a volume is the product's.
 * @param {JsonRecord} treatment
 * @returns {ReadonlyArray<Readonly<AppliedDose>>}
 */
export function supplierDoses(treatment) {
  /** @type {JsonRecord[]} */
  const ingredients = treatment.ingredients ?? [];
  const ais = ingredients.map((one) => textOf(one.ai));
  const dose = treatment.dose ?? null;
  const dimension = dose === null ? "" : unitOf(dose.unit).dimension;
  const amount = dose === null ? null : readOf(dose, dimension);
  const isMass = dimension === "mass_per_area" || dimension === "mass_per_item";
  const perArea = dimension === "mass_per_area" || dimension === "volume_per_area";
  const doses = ["", ...new Set(ais.filter((one) => one !== ""))].map((ai) => {
    const isMeant = ai === "" ? dimension === "volume_per_area" : isMass && ais.length === 1;
    const value = isMeant ? amount : null;
    return Object.freeze({
      line: -1,
      lot: treatment.lot ?? null,
      product: null,
      name: textOf(treatment.product_name),
      ai,
      unit: ai === "" ? "mL" : "mg",
      per_l: null,
      per_m2: perArea ? value : null,
      per_container: perArea ? null : value,
    });
  });
  return Object.freeze(doses);
}
