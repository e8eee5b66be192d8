/**
 * Until when an area is kept out of, and whether it may be reopened. Twin:
 * server/tepal/domain/restriction.py, whose head lists sources and signatures. All instants are ms since
 * 1970 on SERVER time; elapsed hours, so a change of the clock shortens nothing. Ventilation:
 * `ventilation`; notice: `signs`; who may enter: `entry`; open conflicts: `stricter`.
 * @module
 */

import { keepOut } from "./areas.js";
import { Finding, textOf } from "./errors.js";
import { addYears, dayOfMs, momentMs } from "./moments.js";
import { notNegative } from "./ranges.js";
import { noticeOf } from "./signs.js";
import { quantityValue } from "./units.js";
import { ventilation } from "./ventilation.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/** @typedef {import("./ventilation.js").Ventilation} Ventilation */
/**
 * Dates that 170.311(b) and 170.409(b) count from one application; null: REI unknown.
 * @typedef {object} ApplicationDates
 * @property {number | null} rei_end_ms
 * @property {number} display_by_ms
 * @property {number | null} display_until_ms
 * @property {number | null} sign_down_by_ms
 * @property {string | null} keep_until
 */
/**
 * What is known of an area at an instant. `code`: no_restriction_on_file, being_sprayed, restricted,
 * unknown. `until_ms`: end of the REI; null while spraying and where the REI is not on file. `unmet`: what
 * still stands against reopening; `may_reopen` is true where nothing does. `is_stale`: heard over 30
 * minutes ago, never, or by a clock that is off; the sign on the door decides.
 * @typedef {object} RestrictionState
 * @property {string} code
 * @property {number | null} until_ms
 * @property {boolean} is_rei_unknown
 * @property {Readonly<Ventilation> | null} ventilation
 * @property {number | null} heard_ms
 * @property {boolean} is_stale
 * @property {boolean} may_reopen
 * @property {ReadonlyArray<Finding>} unmet
 */

// Own bounds, no source: heard over 30 minutes ago is stale; a clock 5 minutes off is not trusted.
export const STALE_MS = 1_800_000;
export const MAX_SKEW_MS = 300_000;

const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;
/**
 * Return the longest interval of a mix in hours, or null where one is not on file: unknown is never
 * treated as zero.
 * @param {ReadonlyArray<number | null>} intervalsH
 * @returns {number | null}
 */
export function longestReiH(intervalsH) {
  /** @type {number | null} */
  let longest = null;
  for (const interval of intervalsH) {
    if (interval === null) return null;
    const hours = notNegative(interval, "rei_h");
    longest = longest === null || hours > longest ? hours : longest;
  }
  return longest;
}

/**
 * Return when the interval ends, ms since 1970, or null where the interval is not on file.
 * @param {number} endedMs
 * @param {number | null} reiH
 * @returns {number | null}
 */
export function reiEndMs(endedMs, reiH) {
  if (reiH === null) return null;
  return endedMs + notNegative(reiH, "rei_h") * HOUR_MS;
}

/**
 * Return what must be shown and kept until when, from the end of an application: displayed within 24 h
 * of the end, until 30 days after the last REI (after the end where it is 0 h), kept 2 calendar years
 * from the end of the REI (on the day at `offsetMin`); sign down within 3 days.
 * @param {number} endedMs
 * @param {number | null} reiH
 * @param {number} offsetMin
 * @returns {Readonly<ApplicationDates>}
 */
export function applicationDates(endedMs, reiH, offsetMin) {
  const by = endedMs + 24 * HOUR_MS;
  const over = reiEndMs(endedMs, reiH);
  if (over === null) {
    return Object.freeze({
      rei_end_ms: null,
      display_by_ms: by,
      display_until_ms: null,
      sign_down_by_ms: null,
      keep_until: null,
    });
  }
  return Object.freeze({
    rei_end_ms: over,
    display_by_ms: by,
    display_until_ms: over + 30 * DAY_MS,
    sign_down_by_ms: over + 3 * DAY_MS,
    keep_until: addYears(dayOfMs(over, offsetMin), 2),
  });
}

/**
 * @param {JsonRecord} record
 * @param {string} name
 * @returns {number | null}
 */
function msOf(record, name) {
  const moment = record[name] ?? null;
  return moment === null ? null : momentMs(moment);
}

/**
 * @param {Partial<RestrictionState> & {code: string}} parts
 * @returns {Readonly<RestrictionState>}
 */
function stateOf(parts) {
  return Object.freeze({
    until_ms: null,
    is_rei_unknown: false,
    ventilation: null,
    heard_ms: null,
    is_stale: false,
    may_reopen: false,
    unmet: Object.freeze([]),
    ...parts,
  });
}

/**
 * Return what is known of one restriction at an instant.
 * @param {JsonRecord | null} restriction fields of the record; null: there is none. `started_at`,
 *   `ended_at` (moments of the application; no end: being sprayed), `rei` {value, unit} or null (unknown,
 *   stay out), `rei_unknown`, `method_class` 1 to 5 and `ventilation_owed` (neither on file: owed),
 *   `double_notice`, `signs_up_at`, `signs_down_at`, `ventilation` (spells), `inhalation_level` (the label
 *   gives one; then only it counts, met at `measured_at`), `reopened_at`
 * @param {number} nowMs server time
 * @param {number | null} heardMs when this device last heard the server
 * @param {number | null} skewMs measured offset of the device's clock; null: never measured
 * @param {boolean} [partsAdd] establishment's `ventilation_parts_add`: California's rule
 */
export function restrictionState(restriction, nowMs, heardMs, skewMs, partsAdd = false) {
  const isStale =
    heardMs === null || nowMs - heardMs > STALE_MS || skewMs === null || Math.abs(skewMs) > MAX_SKEW_MS;
  const heard = { heard_ms: heardMs, is_stale: isStale };
  if (restriction === null || (restriction.reopened_at ?? null) !== null) {
    return stateOf({ code: isStale ? "unknown" : "no_restriction_on_file", ...heard });
  }
  const ended = msOf(restriction, "ended_at");
  if (ended === null) {
    const finding = new Finding(
      "restriction.still_spraying",
      "stop",
      "It is still being sprayed.",
      "ended_at",
      "40 CFR 170.405(b)",
    );
    return stateOf({ code: "being_sprayed", ...heard, unmet: Object.freeze([finding]) });
  }
  const stated = restriction.rei ?? null;
  const isKnown = stated !== null && restriction.rei_unknown !== true;
  const reiH = isKnown ? quantityValue(stated, "time", "rei") / 3600 : null;
  const until = reiEndMs(ended, reiH);
  const unmet = [...reiUnmet(until, nowMs)];
  /** @type {Readonly<Ventilation> | null} */
  let aired = null;
  if (isVentilationOwed(restriction)) {
    aired = ventilation(
      ended,
      restriction.ventilation ?? [],
      nowMs,
      partsAdd ? "california" : "federal",
      textOf(restriction.inhalation_level) !== "",
      msOf(restriction, "measured_at"),
    );
    if (!aired.is_met) {
      unmet.push(
        new Finding(
          "restriction.not_ventilated",
          "stop",
          "The ventilation criteria are not met.",
          "ventilation",
          "40 CFR 170.405(b)(3)",
          { expected_ms: aired.expected_ms },
        ),
      );
    }
  }
  unmet.push(...signUnmet(restriction, reiH));
  if (isStale) {
    unmet.push(
      new Finding(
        "restriction.not_heard",
        "stop",
        "The server was not heard in the last 30 minutes, or the clock is off.",
        null,
        "house rule (no source)",
      ),
    );
  }
  return stateOf({
    code: "restricted",
    until_ms: until,
    is_rei_unknown: reiH === null,
    ventilation: aired,
    ...heard,
    may_reopen: unmet.length === 0,
    unmet: Object.freeze(unmet),
  });
}

/** @param {JsonRecord} restriction */
function isVentilationOwed(restriction) {
  const owed = restriction.ventilation_owed ?? null;
  if (owed !== null) return Boolean(owed);
  return keepOut(restriction.method_class ?? 2).until === "ventilation";
}

/**
 * @param {number | null} until
 * @param {number} nowMs
 * @returns {Finding[]}
 */
function reiUnmet(until, nowMs) {
  if (until === null) {
    return [
      new Finding(
        "restriction.rei_unknown",
        "stop",
        "The REI is not on file: stay out, and copy it from the label.",
        "rei",
        "40 CFR 170.407(c)",
      ),
    ];
  }
  if (nowMs >= until) return [];
  return [
    new Finding("restriction.rei_running", "stop", "The REI is not over.", "rei", "40 CFR 170.407(b)", {
      until_ms: until,
    }),
  ];
}

/**
 * A sign that hangs, or had to be hung, must be said to be down or covered.
 * @param {JsonRecord} restriction
 * @param {number | null} reiH
 * @returns {Finding[]}
 */
function signUnmet(restriction, reiH) {
  if ((restriction.signs_down_at ?? null) !== null) return [];
  const notice = noticeOf(reiH, restriction.double_notice ?? null);
  if ((restriction.signs_up_at ?? null) === null && !notice.must_post) return [];
  return [
    new Finding(
      "restriction.signs_up",
      "stop",
      "The signs are not removed or covered.",
      "signs_down_at",
      "40 CFR 170.407(b)",
    ),
  ];
}

const ORDER = ["no_restriction_on_file", "unknown", "restricted", "being_sprayed"];

/**
 * @param {Readonly<RestrictionState>} one
 * @param {Readonly<RestrictionState>} other
 */
function isStricter(one, other) {
  if (one.code !== other.code) return ORDER.indexOf(one.code) > ORDER.indexOf(other.code);
  if (other.until_ms === null || one.code !== "restricted") return false;
  return one.until_ms === null || one.until_ms > other.until_ms;
}

/**
 * Return the strictest state of all restrictions on a place, with every unmet condition.
 * @param {ReadonlyArray<JsonRecord>} restrictions
 * @param {number} nowMs
 * @param {number | null} heardMs
 * @param {number | null} skewMs
 * @param {boolean} [partsAdd]
 */
export function placeState(restrictions, nowMs, heardMs, skewMs, partsAdd = false) {
  let strictest = restrictionState(null, nowMs, heardMs, skewMs);
  /** @type {Finding[]} */
  const unmet = [];
  let mayReopen = true;
  for (const restriction of restrictions) {
    const state = restrictionState(restriction, nowMs, heardMs, skewMs, partsAdd);
    if (state.code === "restricted" || state.code === "being_sprayed") {
      unmet.push(...state.unmet);
      mayReopen = mayReopen && state.may_reopen;
    }
    if (isStricter(state, strictest)) strictest = state;
  }
  const isOpen = strictest.code === "no_restriction_on_file" || strictest.code === "unknown";
  return stateOf({ ...strictest, may_reopen: mayReopen && !isOpen, unmet: Object.freeze(unmet) });
}
