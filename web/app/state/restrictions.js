// Restrictions: what the start and the end of an application write, and what this phone knows of a house. Pure; the page
// hands in rows, the establishment and the clock. A restriction is a record of its own: signs, ventilation and reopening
// are changes of it, hours later, by other people.
import { keepOut, methodClass } from "../core/areas.js";
import { longestReiH, restrictionState } from "../core/restriction.js";
import { quantityValue } from "../core/units.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {import("../core/restriction.js").RestrictionState} RestrictionState */
/**
 * What a phone knows of time: server time now, when the office was last heard, how far this clock is off.
 * @typedef {{nowMs: number, heardMs: number | null, skewMs: number | null}} Clock
 */
/**
 * A house on the board. `rows` are its restrictions that still count, `states` what is known of each.
 * @typedef {object} HouseState
 * @property {"no_restriction_on_file" | "being_sprayed" | "restricted" | "unknown"} code
 * @property {boolean} isStale
 * @property {{row: RecordRow, state: RestrictionState, isReopenedHere: boolean}[]} known  The strictest first.
 */

/** @param {RecordRow | null | undefined} row @param {string} name @returns {any} */
const field = (row, name) => row?.shown.fields[name] ?? null;

/** Hours of a product's interval; null where it is not on file. @param {any} product */
const reiHours = (product) => (product.rei ? quantityValue(product.rei, "time", "rei") / 3600 : null);

/** Adjuvants, blanks and conditioners of a mix have no interval of their own unless one is on file.
 * @param {any} product */
const countsForRei = (product) => (product.kind ?? "product") === "product" || Boolean(product.rei);

/**
 * The interval of a mix: the longest; unknown where one is not on file.
 * @param {any[]} products  As they stand in the application.
 */
function reiOf(products) {
  const hours = longestReiH(products.filter(countsForRei).map(reiHours));
  if (hours === null) return { rei: null, rei_unknown: true };
  const longest = products.find((one) => countsForRei(one) && reiHours(one) === hours);
  return { rei: longest.rei, rei_unknown: false };
}

/** Whether any label of the mix asks for oral and posted notice; null where one does not say: unknown is not no.
 * @param {any[]} products @returns {boolean | null} */
export function doubleNotice(products) {
  const known = products.filter((one) => (one.kind ?? "product") === "product");
  if (known.some((one) => one.double_notice === true)) return true;
  return known.some((one) => (one.double_notice ?? null) === null) ? null : false;
}

/**
 * Class of the application by method, droplet and labels.
 * @param {{method: string, droplet: string | null, products: any[]}} fields
 */
export function classOf({ method, droplet, products }) {
  const known = products.filter((one) => (one.kind ?? "product") === "product");
  const asks = known.some((one) => one.respirator === true);
  const isSilent = known.some((one) => (one.respirator ?? null) === null);
  return methodClass({
    method,
    droplet: droplet ?? null,
    is_respirator_on_label: asks ? true : isSilent ? null : false,
  });
}

/**
 * The restrictions that a start creates: one per house.
 * @param {{application: string, fields: Record<string, any>, establishment: Record<string, any>, newId: () => string}} job
 * @returns {{id: string, fields: Record<string, any>}[]}
 */
export function restrictionsAtStart({ application, fields, establishment, newId }) {
  const { number } = classOf(/** @type {any} */ (fields));
  const kept = keepOut(number, establishment.whole_house === true);
  const houses = [...new Set(fields.lines.map((/** @type {any} */ line) => line.house ?? null))];
  return houses.map((house) => {
    const lines = fields.lines.filter((/** @type {any} */ line) => (line.house ?? null) === house);
    return {
      id: newId(),
      fields: {
        application,
        house,
        benches: [...new Set(lines.map((/** @type {any} */ line) => line.bench).filter(Boolean))],
        area: kept.rei_area === "none" ? null : kept.rei_area,
        area_during: kept.during,
        method_class: number,
        ventilation_owed: kept.until === "ventilation",
        place: [...new Set(lines.map((/** @type {any} */ line) => line.place))].join("; "),
        product_names: fields.products.map((/** @type {any} */ one) => one.name).join(" + "),
        double_notice: doubleNotice(fields.products),
        started_at: fields.started_at,
        ...reiOf(fields.products),
      },
    };
  });
}

/**
 * What the end of the application writes into a restriction.
 * @param {Record<string, any>} application  Its fields.
 * @param {any} ended_at
 */
export const restrictionAtEnd = (application, ended_at) => ({
  ended_at,
  ...reiOf(application.products ?? []),
});

/**
 * What is known of one restriction. A reopening that only this phone knows of does not count yet: the office may hold
 * it, and other phones have not heard.
 * @param {RecordRow} row @param {Clock} clock @param {Record<string, any>} establishment
 */
export function stateOf(row, clock, establishment) {
  const isReopenedHere = isReopened(row.shown.fields) && !isReopened(row.confirmed?.fields ?? {});
  const fields = isReopenedHere ? { ...row.shown.fields, reopened_at: null } : row.shown.fields;
  const { nowMs, heardMs, skewMs } = trusted(clock);
  const state = restrictionState(
    fields,
    nowMs,
    heardMs,
    skewMs,
    establishment.ventilation_parts_add === true,
  );
  return { row, state, isReopenedHere };
}

/** @param {Record<string, any>} fields */
const isReopened = (fields) => Boolean(fields.reopened_at);

/**
 * A clock that runs before the last answer of the office was set back since: what it says is not trusted.
 * @param {Clock} clock @returns {Clock}
 */
function trusted(clock) {
  const { nowMs, heardMs, skewMs } = clock;
  const isBack = heardMs !== null && nowMs < heardMs - 60_000;
  return { nowMs: isBack ? /** @type {number} */ (heardMs) : nowMs, heardMs, skewMs: isBack ? null : skewMs };
}

/** @type {Record<string, number>} */
const STRICTNESS = { no_restriction_on_file: 0, unknown: 1, restricted: 2, being_sprayed: 3 };

/**
 * @param {RecordRow[]} restrictions  All that this phone has; void ones and those of other houses are left out here.
 * @param {string | null} house @param {Clock} clock @param {Record<string, any>} establishment
 * @returns {HouseState}
 */
export function houseState(restrictions, house, clock, establishment) {
  const known = restrictions
    .filter((row) => row.shown.state !== "void" && field(row, "house") === house)
    .map((row) => stateOf(row, clock, establishment))
    .filter(({ state }) => state.code === "restricted" || state.code === "being_sprayed")
    .sort(byStrictness);
  const trustedClock = trusted(clock);
  const none = restrictionState(null, trustedClock.nowMs, trustedClock.heardMs, trustedClock.skewMs);
  return {
    code: /** @type {HouseState["code"]} */ (known[0]?.state.code ?? none.code),
    isStale: none.is_stale,
    known,
  };
}

/** @param {ReturnType<typeof stateOf>} a @param {ReturnType<typeof stateOf>} b */
function byStrictness(a, b) {
  return (
    STRICTNESS[b.state.code] - STRICTNESS[a.state.code] ||
    (b.state.until_ms ?? Number.POSITIVE_INFINITY) - (a.state.until_ms ?? Number.POSITIVE_INFINITY) ||
    0
  );
}

/**
 * Restrictions that touch any of these benches: same bench, or an area wider than benches in the same house.
 * @param {RecordRow[]} restrictions @param {{house: string | null, bench: string}[]} places
 */
export function touching(restrictions, places) {
  return restrictions.filter((row) => {
    if (row.shown.state === "void") return false;
    const isWide = field(row, "area") !== "treated_area" || !field(row, "ended_at");
    return places.some(({ house, bench }) =>
      isWide ? field(row, "house") === house : (field(row, "benches") ?? []).includes(bench),
    );
  });
}
