/**
 * How a restriction follows its application when that record, or a copied label, changes later. Twin:
 * server/tepal/domain/followed.py. Stricter counts at once: a later end and a longer or unknown REI move it, and take
 * back a reopening given on the shorter interval while the longer one still runs. What is shorter changes nothing by
 * itself: `shorterFields` says what a grower may take over, with a reason. 40 CFR 170.407(c), READ in WAC 16-233-116:
 * the longest interval of the mix; that a change of the record moves it is derived, the direction is a house rule (no
 * source). Places likewise: a bench or a house that an amendment adds is covered at once, one that it takes away stays
 * covered until a grower says otherwise. The register's interval counts only while the label is the one of that day: a newer label says nothing of
 * what was applied under the older one.
 * @module
 */

import { momentMs } from "./moments.js";
import { quantityValue } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */

const HOUR_MS = 3_600_000;
const PLACE_CHARS = 400; // what the record's field holds
// what a restriction of one house has from the application, and so has that of another house
const SHARED = [
  "application", "area", "area_during", "method_class", "ventilation_owed", "double_notice", "product_names",
]; // biome-ignore format: a list of names

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

/** @param {any} house @param {JsonRecord} application @returns {any[]} */
const linesOf = (house, application) =>
  (application.lines ?? []).filter((/** @type {any} */ line) => (line.house ?? null) === (house ?? null));

/** @param {any[]} lines */
const benchesOf = (lines) => [...new Set(lines.map((line) => line.bench).filter(Boolean))];

/** The places in words, each once: those that stand, then those of the lines. @param {string[]} names @param {any[]} lines */
const placeOf = (names, lines) =>
  [...new Set([...names, ...lines.map((line) => line.place).filter(Boolean)])]
    .join("; ")
    .slice(0, PLACE_CHARS);

/** The benches of its house that the application names and the restriction does not.
 * @param {JsonRecord} restriction @param {JsonRecord} application @returns {Record<string, any>} */
function addedPlaces(restriction, application) {
  const known = restriction.benches ?? [];
  const lines = linesOf(restriction.house, application).filter(
    (line) => line.bench && !known.includes(line.bench),
  );
  if (lines.length === 0) return {};
  const stated = restriction.place ?? "";
  const place = placeOf(stated ? stated.split("; ") : [], lines);
  return { benches: [...known, ...benchesOf(lines)], ...(place !== stated ? { place } : {}) };
}

/** Whether an interval still runs; without its length or its start nobody can say it is over.
 * @param {any} rei @param {any} ended @param {number} nowMs */
const runs = (rei, ended, nowMs) =>
  rei === null || ended === null || nowMs < momentMs(ended) + hoursOf(rei) * HOUR_MS;

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
  Object.assign(changes, addedPlaces(restriction, application));
  if (Object.keys(changes).length > 0 && (restriction.reopened_at ?? null) !== null) {
    const after = /** @type {JsonRecord} */ ({ ...restriction, ...changes });
    const isRunning =
      (after.rei ?? null) === null ||
      ((after.ended_at ?? null) !== null && nowMs < momentMs(after.ended_at) + hoursOf(after.rei) * HOUR_MS);
    if (isRunning) Object.assign(changes, { reopened_at: null, reopened_by: null, reopened_name: null });
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
  const lines = linesOf(restriction.house, application);
  const known = restriction.benches ?? [];
  const kept = known.filter((/** @type {any} */ bench) => benchesOf(lines).includes(bench));
  if (kept.length > 0 && kept.length < known.length)
    Object.assign(changes, { benches: kept, place: placeOf([], lines) });
  const rei = intervalNow(application, products);
  if (rei === null) return changes;
  const stated = restriction.rei ?? null;
  if (stated === null || restriction.rei_unknown === true) {
    Object.assign(changes, { rei, rei_unknown: false });
  } else if (hoursOf(rei) < hoursOf(stated)) changes.rei = rei;
  return changes;
}

/**
 * Whether the application names other places and none of the restriction's house any more. It counts on until a grower
 * voids it, with a reason.
 * @param {JsonRecord} restriction @param {JsonRecord} application
 */
export const isUncovered = (restriction, application) =>
  (application.lines ?? []).length > 0 && linesOf(restriction.house, application).length === 0;

/**
 * The restrictions of houses that an amendment added: fields of new records. A house whose restriction was voided is not
 * restricted anew. Where the interval is over and the first restriction was reopened, nobody is kept out of the other house
 * either.
 * @param {JsonRecord[]} restrictions  Fields of all that the application has, void ones too; none: nothing to follow.
 * @param {JsonRecord} application @param {JsonRecord} products @param {number} nowMs  As in `followedFields`.
 * @returns {Record<string, any>[]}
 */
export function addedRestrictions(restrictions, application, products, nowMs) {
  if (restrictions.length === 0 || (application.products ?? []).length === 0) return [];
  const [like] = restrictions;
  const rei = intervalNow(application, products);
  const ended = application.ended_at ?? null;
  if ((like.reopened_at ?? null) !== null && !runs(rei, ended, nowMs)) return [];
  const covered = restrictions.map((one) => one.house ?? null);
  const houses = [
    ...new Set((application.lines ?? []).map((/** @type {any} */ line) => line.house ?? null)),
  ].filter((house) => !covered.includes(house));
  return houses.map((house) => {
    const lines = linesOf(house, application);
    const fields = {
      ...Object.fromEntries(SHARED.map((name) => [name, like[name]])),
      house,
      benches: benchesOf(lines),
      place: placeOf([], lines),
      started_at: application.started_at,
      ended_at: ended,
      rei,
      rei_unknown: rei === null,
    };
    return Object.fromEntries(Object.entries(fields).filter(([, value]) => (value ?? null) !== null));
  });
}
