/**
 * How a restriction follows its application when that record, or a copied label, changes later. Twin:
 * server/tepal/domain/followed.py. Stricter counts at once: a later end and a longer or unknown REI move it, and take
 * back a reopening given on the shorter interval while the longer one still runs. What is shorter changes nothing by
 * itself: `shorterFields` says what a grower may take over, with a reason. 40 CFR 170.407(c), READ in WAC 16-233-116:
 * the longest interval of the mix; that a change of the record moves it is derived, the direction is a house rule (no
 * source). The register's interval counts only while the label is the one of that day: a newer label says nothing of
 * what was applied under the older one.
 * @module
 */

import { momentMs } from "./moments.js";
import { quantityValue } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */

const HOUR_MS = 3_600_000;

/** @param {JsonRecord} rei */
const hoursOf = (rei) => quantityValue(rei, "time", "rei") / 3600;

/** The longer of two intervals; what is not on file says nothing. @param {any} one @param {any} other */
function longer(one, other) {
  if ((one ?? null) === null || (other ?? null) === null) return one ?? other ?? null;
  return hoursOf(other) > hoursOf(one) ? other : one;
}

/** The longest interval of the mix as record and register say now; null: unknown.
 * @param {JsonRecord} application @param {JsonRecord} products @returns {any} */
function intervalNow(application, products) {
  let longest = null;
  for (const used of application.products ?? []) {
    let rei = used.rei ?? null;
    const known = products[used.product ?? ""];
    if (known && (known.label_on ?? null) === (used.label_on ?? null)) rei = longer(rei, known.rei);
    if (rei === null) {
      if ((used.kind ?? "product") === "product") return null;
      continue; // an adjuvant has an interval only where its label says so
    }
    longest = longer(longest, rei);
  }
  return longest;
}

/**
 * The fields of a restriction that change because something became stricter.
 * @param {JsonRecord} restriction  Fields of the record.
 * @param {JsonRecord} application  Fields of the record.
 * @param {JsonRecord} products  Fields of the register's products by id; what is not on hand is left out.
 * @param {number} nowMs  ms, server time: a reopening is taken back only while the interval still runs.
 * @returns {Record<string, any>}
 */
export function followedFields(restriction, application, products, nowMs) {
  /** @type {Record<string, any>} */
  const changes = {};
  if ((application.products ?? []).length === 0) return changes;
  const was = restriction.ended_at ?? null;
  const ended = application.ended_at ?? null;
  if (was !== null && ended !== null && momentMs(ended) > momentMs(was)) changes.ended_at = ended;
  const stated = restriction.rei ?? null;
  if (stated !== null && restriction.rei_unknown !== true) {
    const rei = intervalNow(application, products);
    if (rei === null) Object.assign(changes, { rei: null, rei_unknown: true });
    else if (hoursOf(rei) > hoursOf(stated)) changes.rei = rei;
  }
  if (Object.keys(changes).length > 0 && (restriction.reopened_at ?? null) !== null) {
    const after = /** @type {JsonRecord} */ ({ ...restriction, ...changes });
    const runs =
      (after.rei ?? null) === null ||
      ((after.ended_at ?? null) !== null && nowMs < momentMs(after.ended_at) + hoursOf(after.rei) * HOUR_MS);
    if (runs) Object.assign(changes, { reopened_at: null, reopened_by: null, reopened_name: null });
  }
  return changes;
}

/**
 * The fields that record and register now state shorter, or state where none stood. They count only once a grower has
 * taken them over.
 * @param {JsonRecord} restriction @param {JsonRecord} application @param {JsonRecord} products
 * @returns {Record<string, any>}
 */
export function shorterFields(restriction, application, products) {
  /** @type {Record<string, any>} */
  const changes = {};
  if ((application.products ?? []).length === 0) return changes;
  const was = restriction.ended_at ?? null;
  const ended = application.ended_at ?? null;
  if (was !== null && ended !== null && momentMs(ended) < momentMs(was)) changes.ended_at = ended;
  const rei = intervalNow(application, products);
  if (rei === null) return changes;
  const stated = restriction.rei ?? null;
  if (stated === null || restriction.rei_unknown === true) {
    Object.assign(changes, { rei, rei_unknown: false });
  } else if (hoursOf(rei) < hoursOf(stated)) changes.rei = rei;
  return changes;
}
