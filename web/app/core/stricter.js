/**
 * While a conflict is open the stricter value counts, for restriction, interval and ceiling. Twin:
 * server/tepal/domain/stricter.py. Two people gave different values to one field; until somebody decides,
 * rules read the record with the value that lets people and plants be safer. It is for rules only: screens
 * and papers show both values.
 * @module
 */

import { textOf } from "./errors.js";
import { momentMs } from "./moments.js";
import { quantityValue, unitOf } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */

// kind -> field -> rule. later, longer, larger: none is the strictest; smaller: what there is counts.
/** @type {Readonly<Record<string, Readonly<Record<string, string>>>>} */
export const STRICTER = Object.freeze({
  restriction: {
    ended_at: "later",
    signs_down_at: "later",
    reopened_at: "later",
    measured_at: "later",
    rei: "longer",
    rei_unknown: "yes",
    double_notice: "yes",
    ventilation_owed: "yes",
    method_class: "lower",
    ventilation: "common",
    area: "wider",
    area_during: "wider",
  },
  application: {
    started_at: "later",
    ended_at: "later",
    volume: "smaller",
    products: "products",
    lines: "lines",
  },
  product: {
    rei: "longer",
    water_wait: "longer",
    double_notice: "yes",
    respirator: "yes",
    restricted_use: "yes",
    hours_limited: "yes",
    stage_limited: "yes",
    uses: "uses",
  },
  supplier_treatment: { applied_on: "later_day", dose: "longer" },
  lot: { started_on: "earlier_day", n_containers: "lower" },
});

const AREAS = ["treated_area", "treated_area_25_ft", "whole_house"];

/** @param {JsonRecord} quantity */
function baseOf(quantity) {
  return quantityValue(quantity, unitOf(quantity.unit).dimension, "value");
}

/** @param {any} one @param {any} other */
function isComparable(one, other) {
  return unitOf(one.unit).dimension === unitOf(other.unit).dimension;
}

/** The larger quantity; none is the strictest, and units of two kinds cannot be compared.
 * @param {any} one @param {any} other */
function larger(one, other) {
  if (one === null || other === null || !isComparable(one, other)) return null;
  return baseOf(other) > baseOf(one) ? other : one;
}

/** The smaller quantity or number of those that are there. @param {any} one @param {any} other */
function smaller(one, other) {
  if (one === null || other === null) return one ?? other;
  if (typeof one === "object" && typeof other === "object") {
    return isComparable(one, other) && baseOf(other) < baseOf(one) ? other : one;
  }
  return Math.min(other, one);
}

/** @param {any} one @param {any} other */
function later(one, other) {
  if (one === null || other === null) return null;
  return momentMs(other) > momentMs(one) ? other : one;
}

/** @param {any} one @param {any} other */
function yes(one, other) {
  if (one === true || other === true) return true;
  return one === null || other === null ? null : false;
}

/** @param {any} one @param {any} other */
function wider(one, other) {
  const [first, second] = [one, other].map((area) =>
    AREAS.includes(area) ? AREAS.indexOf(area) : AREAS.length,
  );
  return second > first ? other : one;
}

/** @param {any} one @param {any} other @param {boolean} isLater */
function dayOf(one, other, isLater) {
  if (one === null || other === null) return null;
  return other > one === isLater ? other : one;
}

/** Two JSON values hold the same, whatever the order of their names.
 * @param {any} one @param {any} other @returns {boolean} */
function isSame(one, other) {
  if (typeof one !== "object" || typeof other !== "object" || one === null || other === null) {
    return one === other;
  }
  const names = Object.keys(one);
  if (names.length !== Object.keys(other).length || Array.isArray(one) !== Array.isArray(other)) return false;
  return names.every((name) => Object.hasOwn(other, name) && isSame(one[name], other[name]));
}

/** Rows that both lists have: what only one says is not agreed on. @param {any} one @param {any} other */
function common(one, other) {
  /** @type {any[]} */
  const rows = one ?? [];
  /** @type {any[]} */
  const others = other ?? [];
  return rows.filter((row) => others.some((held) => isSame(row, held)));
}

/** @param {JsonRecord} use */
function cropOf(use) {
  return `${textOf(use.crop).trim().toLowerCase()}\n${textOf(use.crop_eppo).trim().toUpperCase()}`;
}

/** Uses of both lists for the crops that both name, so that the strictest limit of both counts. Where they
 * agree on no crop, a use is left that fits none: nothing is allowed until decided.
 * @param {any} one @param {any} other */
function usesOf(one, other) {
  /** @type {JsonRecord[]} */
  const ours = one ?? [];
  /** @type {JsonRecord[]} */
  const theirs = other ?? [];
  const agreed = ours.map(cropOf).filter((crop) => theirs.some((held) => cropOf(held) === crop));
  const rows = [...ours, ...theirs].filter((use) => agreed.includes(cropOf(use)));
  return rows.length > 0 ? rows : [{ crop: "?" }];
}

/**
 * Rows of both lists; of a row in both, the stricter values.
 * @param {any} one
 * @param {any} other
 * @param {ReadonlyArray<string>} keys
 * @param {Readonly<Record<string, string>>} rules
 */
function merged(one, other, keys, rules) {
  /** @type {Record<string, any>[]} */
  const rows = (one ?? []).map((/** @type {JsonRecord} */ row) => ({ ...row }));
  for (const row of other ?? []) {
    const held = rows.find((known) => keys.every((key) => (known[key] ?? null) === (row[key] ?? null)));
    if (held === undefined) {
      rows.push({ ...row });
      continue;
    }
    for (const [field, rule] of Object.entries(rules)) held[field] = strict(rule, held[field], row[field]);
  }
  return rows;
}

const OF_PRODUCTS = { amount: "larger", rei: "longer" };
const OF_LINES = { volume: "larger", area: "smaller", n_containers: "lower" };

/**
 * @param {string} rule
 * @param {any} first
 * @param {any} second
 * @returns {any}
 */
function strict(rule, first, second) {
  const one = first ?? null;
  const other = second ?? null;
  if (rule === "later") return later(one, other);
  if (rule === "longer" || rule === "larger") return larger(one, other);
  if (rule === "smaller" || rule === "lower") return smaller(one, other);
  if (rule === "yes") return yes(one, other);
  if (rule === "wider") return wider(one, other);
  if (rule === "later_day" || rule === "earlier_day") return dayOf(one, other, rule === "later_day");
  if (rule === "uses") return usesOf(one, other);
  if (rule === "products") return merged(one, other, ["product", "name"], OF_PRODUCTS);
  if (rule === "lines") return merged(one, other, ["bench", "lot", "place"], OF_LINES);
  return common(one, other);
}

/**
 * Return a record's fields as rules must read them while conflicts on it are open.
 * @param {string} kind fields of kinds and names without a rule stay as they are
 * @param {JsonRecord} fields
 * @param {ReadonlyArray<JsonRecord>} conflicts `field`, `other`; one with a `decision` is closed
 * @returns {Record<string, any>}
 */
export function stricterFields(kind, fields, conflicts) {
  /** @type {Record<string, any>} */
  const read = { ...fields };
  for (const conflict of conflicts) {
    if ((conflict.decision ?? null) !== null) continue;
    const name = conflict.field || "";
    const rules = Object.hasOwn(STRICTER, kind) ? STRICTER[kind] : {};
    if (Object.hasOwn(rules, name)) read[name] = strict(rules[name], read[name], conflict.other);
  }
  return read;
}
