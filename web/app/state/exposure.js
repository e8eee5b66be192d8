// What people may be exposed to now, and what has to be on the central display: from the applications and restrictions that
// this phone holds. It never says that something is over without knowing it. Pure.
import { momentMs } from "../core/moments.js";
import { applicationDates, longestReiH } from "../core/restriction.js";
import { toBase } from "../core/units.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** @param {any} moment */
const msOf = (moment) => (moment?.local ? momentMs(moment) : null);

/**
 * The restricted-entry intervals, in hours, of the products that have one to have; null where it is not on file. An
 * adjuvant or blank has one only where its label says so.
 * @param {any[]} products @returns {(number | null)[]}
 */
export const intervalsH = (products) =>
  products.flatMap(({ rei, kind }) => {
    if (rei) return [toBase(Number(rei.value), rei.unit) / 3600];
    return kind === undefined || kind === null || kind === "product" ? [null] : [];
  });

/**
 * @typedef {object} Exposure
 * @property {RecordRow} row          The application.
 * @property {number} startedMs
 * @property {number | null} endedMs  null: being applied.
 * @property {number | null} reiEndMs null: not ended, no interval, or one that is not on file.
 * @property {boolean} isReiUnknown
 * @property {boolean} isReopened     Somebody recorded that the place was opened again.
 * @property {boolean} isRestricted   By what this phone knows: being applied, interval running or unknown, or not reopened.
 * @property {number | null} untilMs  Until when it stays on display; null: no end can be stated yet.
 * @property {number | null} dueMs    By when it has to be on display; null: not ended.
 */

/**
 * Every application that is not void, newest first.
 * @param {RecordRow[]} applications @param {RecordRow[]} restrictions @param {number} nowMs  Server time.
 * @returns {Exposure[]}
 */
export function exposuresOf(applications, restrictions, nowMs) {
  /** @type {Map<string, RecordRow[]>} */
  const byApplication = new Map();
  for (const row of restrictions) {
    const { application } = row.shown.fields;
    if (row.shown.state === "void" || !application) continue;
    byApplication.set(application, [...(byApplication.get(application) ?? []), row]);
  }
  return applications
    .flatMap((row) => {
      const startedMs = msOf(row.shown.fields.started_at);
      if (row.shown.state === "void" || startedMs === null) return [];
      return [exposureOf(row, startedMs, byApplication.get(row.id) ?? [], nowMs)];
    })
    .sort((a, b) => b.startedMs - a.startedMs);
}

/** @param {RecordRow} row @param {number} startedMs @param {RecordRow[]} restrictions @param {number} nowMs @returns {Exposure} */
function exposureOf(row, startedMs, restrictions, nowMs) {
  const { ended_at, products = [] } = row.shown.fields;
  const endedMs = msOf(ended_at);
  const intervals = intervalsH(products);
  const isReiUnknown = intervals.includes(null);
  const hasInterval = intervals.length > 0 && !isReiUnknown;
  const offset = ended_at?.offset_min ?? 0;
  const dates =
    endedMs === null
      ? null
      : applicationDates(endedMs, intervals.length > 0 ? longestReiH(intervals) : 0, offset);
  const end = hasInterval ? (dates?.rei_end_ms ?? null) : null;
  const open = restrictions.filter(({ shown }) => !shown.fields.reopened_at);
  const isReopened = restrictions.length > 0 && open.length === 0;
  const isRunning = end !== null && end > nowMs;
  // an unknown interval can't be said to be over; after the time on display it is no longer called up first
  const isUnknownYet =
    isReiUnknown &&
    endedMs !== null &&
    nowMs < (applicationDates(endedMs, 0, offset).display_until_ms ?? nowMs);
  return {
    row,
    startedMs,
    endedMs,
    reiEndMs: end,
    isReiUnknown,
    isReopened,
    isRestricted: endedMs === null || (!isReopened && (isRunning || isUnknownYet || open.length > 0)),
    untilMs: dates?.display_until_ms ?? null,
    dueMs: dates?.display_by_ms ?? null,
  };
}

/** What has to be on the central display now. @param {Exposure[]} exposures @param {number} nowMs */
export const onDisplay = (exposures, nowMs) =>
  exposures.filter(({ endedMs, untilMs }) => endedMs === null || untilMs === null || untilMs > nowMs);

/**
 * The products of what is restricted or being applied, each once.
 * @param {Exposure[]} exposures
 * @returns {{ product: string | null, applied: any, exposures: Exposure[] }[]}  applied: as its label said that day.
 */
export function exposedProducts(exposures) {
  /** @type {Map<string, { product: string | null, applied: any, exposures: Exposure[] }>} */
  const found = new Map();
  for (const exposure of exposures.filter((one) => one.isRestricted)) {
    for (const applied of exposure.row.shown.fields.products ?? []) {
      const key = applied.product ?? `${applied.name} ${applied.registration_number}`;
      const one = found.get(key) ?? {
        product: applied.product ?? null,
        applied,
        exposures: /** @type {Exposure[]} */ ([]),
      };
      one.exposures.push(exposure);
      found.set(key, one);
    }
  }
  return [...found.values()];
}
