/**
 * Which uses on a label fit a line of an application, and the limits that these uses state. Twin:
 * server/tepal/domain/label_uses.py. A label is the user's copy: an empty field is "not on file", never
 * "no limit". Where several uses fit, the strictest limit counts. Tepal invents no limit.
 * @module
 */

import { textOf } from "./errors.js";
import { addDays } from "./moments.js";
import { quantityValue, unitOf } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/**
 * The uses that fit, and why none does: '', uses_not_on_file, crop, site, method. `unknown`: what could
 * not be compared because it is not on file: crop, site, method.
 * @typedef {{uses: ReadonlyArray<JsonRecord>, without: string, unknown: ReadonlyArray<string>}} Fit
 */
/**
 * A limit as it is compared: `value` in `unit` (mg of a.i.; mL or g of product) by `per`. `stated` is the
 * label's own quantity, `is_readable` false where it cannot be compared.
 * @typedef {object} LabelLimit
 * @property {string} per
 * @property {boolean} is_ai
 * @property {string} unit
 * @property {number} value
 * @property {JsonRecord} stated
 * @property {boolean} is_readable
 */

/** @type {ReadonlyMap<string, readonly [string, string]>} */
const DIMENSIONS = new Map([
  ["mass_concentration", ["per_l", "mg"]],
  ["volume_ratio", ["per_l", "mL"]],
  ["mass_per_area", ["per_m2", "mg"]],
  ["volume_per_area", ["per_m2", "mL"]],
  ["mass_per_item", ["per_container", "mg"]],
  ["volume_per_item", ["per_container", "mL"]],
]);

/**
 * The names of a list such as "petunia; calibrachoa", for comparison.
 * @param {unknown} text
 * @returns {string[]}
 */
function namesOf(text) {
  const parts = textOf(text).replaceAll(",", ";").split(";");
  return parts.map((part) => part.trim().toLowerCase()).filter((part) => part !== "");
}

/**
 * @param {JsonRecord} use
 * @param {JsonRecord} crop
 * @returns {boolean | null}
 */
function cropFits(use, crop) {
  const codes = namesOf(use.crop_eppo).map((one) => one.toUpperCase());
  const code = textOf(crop.crop_eppo).trim().toUpperCase();
  if (code !== "" && codes.includes(code)) return true;
  const names = namesOf(use.crop);
  const name = textOf(crop.crop).trim().toLowerCase();
  if (name !== "" && names.includes(name)) return true;
  if (names.length === 0 && codes.length === 0) return null;
  return name === "" && code === "" ? null : false;
}

/**
 * @param {JsonRecord} use
 * @param {string} field
 * @param {string | null | undefined} value
 * @returns {boolean | null}
 */
function isListed(use, field, value) {
  const listed = use[field] ?? [];
  return listed.length === 0 || (value ?? null) === null ? null : listed.includes(value);
}

/**
 * @param {ReadonlyArray<JsonRecord>} uses
 * @param {string} without
 * @param {ReadonlyArray<string>} unknown
 * @returns {Readonly<Fit>}
 */
function fitted(uses, without, unknown) {
  return Object.freeze({ uses: Object.freeze(uses), without, unknown: Object.freeze(unknown) });
}

/**
 * Return the uses of a label that fit a crop, a site and a method.
 * @param {JsonRecord} product fields of a product; `uses` rows as its label was copied
 * @param {JsonRecord} crop `crop` and `crop_eppo` of the lot; a use fits by EPPO code or by name
 * @param {string | null} site
 * @param {string | null} method
 */
export function fitOf(product, crop, site, method) {
  /** @type {JsonRecord[]} */
  let uses = product.uses ?? [];
  if (uses.length === 0) return fitted([], "uses_not_on_file", []);
  /** @type {string[]} */
  const unknown = [];
  for (const field of ["crop", "site", "method"]) {
    const verdicts = uses.map((use) => {
      if (field === "crop") return cropFits(use, crop);
      return field === "site" ? isListed(use, "sites", site) : isListed(use, "methods", method);
    });
    const fitting = uses.filter((_, i) => verdicts[i] !== false);
    if (fitting.length === 0) return fitted([], field, unknown);
    const named = uses.filter((_, i) => verdicts[i] === true);
    if (named.length === 0) unknown.push(field);
    // a use that names the crop goes before one of which the crop is not on file
    uses = field === "crop" && named.length > 0 ? named : fitting;
  }
  return fitted(uses, "", unknown);
}

/**
 * @param {string} per
 * @param {boolean} isAi
 * @param {string} unit
 * @param {number} value
 * @param {JsonRecord} stated
 * @param {boolean} isReadable
 * @returns {Readonly<LabelLimit>}
 */
function limited(per, isAi, unit, value, stated, isReadable) {
  return Object.freeze({ per, is_ai: isAi, unit, value, stated, is_readable: isReadable });
}

/**
 * Return the lowest limit of a field over the fitting uses; null: not on file. `max_of` says whether it
 * counts a.i. or product; where it is not on file, a mass counts the a.i. and a volume the product. A per
 * cent figure cannot be compared without its basis.
 * @param {ReadonlyArray<JsonRecord>} uses
 * @param {string} field
 * @param {string} perDefault
 * @returns {Readonly<LabelLimit> | null}
 */
export function limitOf(uses, field, perDefault) {
  /** @type {Readonly<LabelLimit> | null} */
  let lowest = null;
  for (const use of uses) {
    const stated = use[field] ?? null;
    if (stated === null) continue;
    const { dimension } = unitOf(stated.unit);
    const row = DIMENSIONS.get(dimension);
    if (row === undefined) return limited(perDefault, true, "mg", 0, stated, false);
    const per = row[0];
    let unit = row[1];
    let value = quantityValue(stated, dimension, field);
    const isAi = use.max_of !== "product" && unit === "mg";
    if (unit === "mg" && !isAi) {
      unit = "g";
      value = value / 1000;
    }
    if (unit === "mL" && use.max_of === "ai") return limited(per, true, "mg", 0, stated, false);
    if (lowest === null) {
      lowest = limited(per, isAi, unit, value, stated, true);
    } else if (lowest.per !== per || lowest.is_ai !== isAi || lowest.unit !== unit) {
      return limited(per, true, "mg", 0, stated, false);
    } else if (value < lowest.value) {
      lowest = limited(per, isAi, unit, value, stated, true);
    }
  }
  return lowest;
}

/**
 * Return the longest minimum interval of the fitting uses in days; null: not on file.
 * @param {ReadonlyArray<JsonRecord>} uses
 * @returns {number | null}
 */
export function intervalD(uses) {
  /** @type {number | null} */
  let longest = null;
  for (const use of uses) {
    const stated = use.min_interval ?? null;
    if (stated === null) continue;
    const days = quantityValue(stated, "time", "min_interval") / 86_400;
    longest = longest === null || days > longest ? days : longest;
  }
  return longest;
}

/**
 * Return the lowest number of applications that the fitting uses allow; null: not on file.
 * @param {ReadonlyArray<JsonRecord>} uses
 * @returns {number | null}
 */
export function mostApplications(uses) {
  /** @type {number | null} */
  let lowest = null;
  for (const use of uses) {
    const stated = use.max_applications ?? null;
    if (stated !== null && (lowest === null || stated < lowest)) lowest = stated;
  }
  return lowest;
}

/**
 * Return a lot and all lots that it was made from: what they had counts for it.
 * @param {string} lot
 * @param {JsonRecord} lots
 * @returns {ReadonlyArray<string>}
 */
export function lineage(lot, lots) {
  const found = [lot];
  for (const one of found) {
    for (const parent of lots[one]?.from_lots ?? []) {
      if (!found.includes(parent)) found.push(parent);
    }
  }
  return Object.freeze(found);
}

/**
 * Return the first day on which a minimum interval is over.
 * @param {string} lastDay
 * @param {number} days
 */
export function nextDay(lastDay, days) {
  return addDays(lastDay, Math.ceil(days));
}
