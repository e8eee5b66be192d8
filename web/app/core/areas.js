/**
 * Which area is kept out of during and after an application: 40 CFR 170.405(b)(4). Twin:
 * server/tepal/domain/areas.py. The table is from memory but for its first row, columns B and C. What is
 * not on file counts as the stricter case, and a finding says so.
 * @module
 */

import { Finding, TepalError } from "./errors.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/**
 * The class of 170.405(b)(4), and what was not on file and so counted strictly.
 * @typedef {{number: number, findings: ReadonlyArray<Finding>}} MethodClass
 */
/**
 * Areas: whole_house, treated_area_25_ft, treated_area; null: no area is left for the REI. `until`: the
 * `during` area is kept out of until 'end' (of the application) or 'ventilation'. `and_adjoining`: also any
 * adjoining space that cannot be sealed off.
 * @typedef {object} KeepOut
 * @property {string} during
 * @property {boolean} and_adjoining
 * @property {string} until
 * @property {string | null} rei_area
 * @property {string} source
 */

const TABLE = "40 CFR 170.405(b)(4), from memory";
const FINE = ["extremely_fine", "very_fine", "fine"];
const COARSE = ["medium", "coarse", "very_coarse", "extremely_coarse", "ultra_coarse"];
const LOW = ["drench", "liner_dip", "bulb_dip", "sub_irrigation", "injector"];

// class -> [kept out of during, until, REI area afterwards, basis of the row]
/** @type {ReadonlyMap<number, readonly [string, string, string | null, string]>} */
const CLASSES = new Map([
  [1, ["whole_house", "ventilation", null, "40 CFR 170.405(b)(4): area and end read, REI area from memory"]],
  [2, ["whole_house", "ventilation", "whole_house", TABLE]],
  [3, ["whole_house", "ventilation", "treated_area", TABLE]],
  [4, ["treated_area_25_ft", "end", "treated_area", TABLE]],
  [5, ["treated_area", "end", "treated_area", TABLE]],
]);

/** A restriction names no known method class. */
export class RestrictionError extends TepalError {}

/**
 * @param {string} code
 * @param {string} message
 * @param {string} field
 */
function notOnFile(code, message, field) {
  return new Finding(code, "note", message, field, TABLE);
}

/**
 * @param {number} number
 * @param {ReadonlyArray<Finding>} [findings]
 * @returns {Readonly<MethodClass>}
 */
function classed(number, findings = []) {
  return Object.freeze({ number, findings: Object.freeze(findings) });
}

/**
 * Return the class of an application; what is not on file counts as the stricter case.
 * @param {JsonRecord} facts `method` a method of an application; `droplet` a droplet class of the sprayer
 *   or null; `is_respirator_on_label` true, false or null (any label of the mix); `is_above_12_in` the
 *   liquid leaves more than 12 in above the medium (low methods only; null is no); `is_fumigant`,
 *   `is_aerosol` (smoke, mist, fog) true or absent
 */
export function methodClass(facts) {
  if (facts.is_fumigant === true) return classed(1);
  /** @type {Finding[]} */
  const findings = [];
  const isLow = LOW.includes(facts.method);
  if (facts.method === "fog" || facts.is_aerosol === true) return classed(2);
  if (!isLow) {
    if (FINE.includes(facts.droplet)) return classed(2);
    if (!COARSE.includes(facts.droplet)) {
      findings.push(
        notOnFile(
          "restriction.droplet_not_on_file",
          "The droplet class is not on file: counted as finer than medium.",
          "droplet",
        ),
      );
      return classed(2, findings);
    }
  }
  const respirator = facts.is_respirator_on_label ?? null;
  if (respirator === null) {
    findings.push(
      notOnFile(
        "restriction.respirator_not_on_file",
        "Whether the label asks for a respirator is not on file: counted as asked for.",
        "respirator",
      ),
    );
  }
  if (respirator !== false) return classed(3, findings);
  return classed(isLow && facts.is_above_12_in !== true ? 5 : 4);
}

/**
 * Return the areas of a class; `isWholeHouse`: house policy widens each to the whole space. Throws
 * `RestrictionError` (`restriction.class_unknown`).
 * @param {number} number
 * @param {boolean} [isWholeHouse]
 * @returns {Readonly<KeepOut>}
 */
export function keepOut(number, isWholeHouse = false) {
  const row = CLASSES.get(number);
  if (row === undefined) {
    throw new RestrictionError("restriction.class_unknown", `${number} is no method class; allowed: 1 to 5.`);
  }
  const [during, until, reiArea, source] = row;
  if (isWholeHouse) {
    return Object.freeze({
      during: "whole_house",
      and_adjoining: number === 1,
      until,
      rei_area: "whole_house",
      source,
    });
  }
  return Object.freeze({ during, and_adjoining: number === 1, until, rei_area: reiArea, source });
}
