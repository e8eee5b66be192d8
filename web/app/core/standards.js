/**
 * Whether a record has what a standard asks for: WPS, restricted-use, EU; requirements as data. Twin:
 * server/tepal/domain/standards.py. Fields of an application that only an import of foreign records
 * carries: `applied_on` (a day without clock time) and `spot` (flagged as a spot treatment).
 * @module
 */

import { Finding, TepalError, textOf } from "./errors.js";
import { addDays, addYears, momentMs } from "./moments.js";
import {
  COUNTRIES,
  EU_COUNTRIES,
  lacking,
  REGIONS,
  regionOf,
  requirements,
  STANDARDS,
} from "./requirements.js";
import { applicationDates, longestReiH } from "./restriction.js";
import { quantityValue } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/** @typedef {import("./requirements.js").Requirement} Requirement */
/**
 * What a record lacks for one standard, and its dates; null: not asked for, or not known. `missing`:
 * Findings `standards.missing_<field>` (caution: required) and `standards.unknown_<field>` (note: asked
 * for only under a condition of which nothing is on file). Context: `about` (product or place), `need`,
 * `basis`. `keep_until` null: nothing may be let go.
 * @typedef {object} Completeness
 * @property {string} standard
 * @property {ReadonlyArray<Finding>} missing
 * @property {ReadonlyArray<Finding>} findings
 * @property {number | null} display_by_ms
 * @property {number | null} display_until_ms
 * @property {string | null} record_by
 * @property {string | null} convert_by
 * @property {string | null} keep_until
 */

const HOUR_MS = 3_600_000;
// 7 CFR part 110 was rescinded whole: reported by two sources (90 FR, FR Doc. 2025-08220), the original
// notice was not read.
const RESCINDED_ON = "2025-07-11";

/** A standard is not known. */
export class StandardError extends TepalError {}

/**
 * @param {JsonRecord} application
 * @returns {JsonRecord[]}
 */
function productsOf(application) {
  return application.products ?? [];
}

/**
 * Return the interval of a mix in hours from its products; adjuvants have none of their own.
 * @param {JsonRecord} application
 * @returns {number | null}
 */
export function productReiH(application) {
  /** @type {(number | null)[]} */
  const intervals = [];
  for (const product of productsOf(application)) {
    if ((product.kind || "product") !== "product") continue;
    const stated = product.rei ?? null;
    intervals.push(stated === null ? null : quantityValue(stated, "time", "rei") / 3600);
  }
  return longestReiH(intervals);
}

/**
 * Return the standards that apply: those that the establishment chose, else by its country. The
 * restricted-use ones apply to applications of restricted-use products: for a customer the commercial
 * one; else, until 11 July 2025, the private one.
 * @param {JsonRecord} application
 * @param {JsonRecord} establishment
 * @returns {ReadonlyArray<string>}
 */
export function standardsFor(application, establishment) {
  const country = textOf(establishment.country).toUpperCase();
  const byCountry = country === "US" ? STANDARDS : EU_COUNTRIES.includes(country) ? ["eu"] : [];
  /** @type {ReadonlyArray<string>} */
  const chosen = establishment.standards ?? byCountry;
  const isRestricted = productsOf(application).some((product) => product.restricted_use === true);
  const isCommercial = (application.customer ?? null) !== null;
  const found = STANDARDS.filter((standard) => {
    if (!chosen.includes(standard) || (standard === "eu" && country === "US")) return false;
    if (standard === "commercial_restricted_use") return isRestricted && isCommercial;
    if (standard === "private_restricted_use") {
      const day = dayOf(application);
      return isRestricted && day !== null && day < RESCINDED_ON && !isCommercial;
    }
    return true;
  });
  return Object.freeze(found);
}

/**
 * The local day of the application.
 * @param {JsonRecord} application
 * @returns {string | null}
 */
function dayOf(application) {
  const moment = application.started_at ?? application.ended_at ?? null;
  return moment === null ? (application.applied_on ?? null) : textOf(moment.local).slice(0, 10);
}

/**
 * Return what an application lacks for a standard, and by when and how long. Throws `StandardError`
 * (`standard.unknown`).
 * @param {string} standard one of requirements.STANDARDS
 * @param {JsonRecord} application
 * @param {JsonRecord} establishment
 * @param {number | null} [enteredMs] when the record was entered, to tell a late display
 * @returns {Readonly<Completeness>}
 */
export function completeness(standard, application, establishment, enteredMs = null) {
  if (!STANDARDS.includes(standard)) {
    throw new StandardError("standard.unknown", `${standard} is no standard.`, {
      standard: textOf(standard),
    });
  }
  const region = regionOf(establishment);
  const missing = requirements(standard, region).flatMap((row) => missingOf(row, application, establishment));
  const findings = findingsOf(standard, application, region, enteredMs);
  const ended = application.ended_at ?? null;
  const dates =
    standard === "wps" && ended !== null
      ? applicationDates(momentMs(ended), productReiH(application), ended.offset_min)
      : null;
  const day = dayOf(application);
  return Object.freeze({
    standard,
    missing: Object.freeze(missing),
    findings,
    display_by_ms: dates?.display_by_ms ?? null,
    display_until_ms: dates?.display_until_ms ?? null,
    record_by: recordBy(standard, day, region),
    convert_by: convertBy(standard, day, establishment),
    keep_until: keepUntil(standard, day, dates?.keep_until ?? null, establishment, region),
  });
}

/**
 * @param {Readonly<Requirement>} row
 * @param {JsonRecord} application
 * @param {JsonRecord} establishment
 * @returns {Finding[]}
 */
function missingOf(row, application, establishment) {
  if (row.need === "optional") return [];
  const asked = isAsked(row, application, establishment);
  if (asked === false) return [];
  return lacking(row.field, application, establishment).map(
    (about) =>
      new Finding(
        asked ? `standards.missing_${row.field}` : `standards.unknown_${row.field}`,
        asked ? "caution" : "note",
        `${row.field} is missing.`,
        row.field,
        row.basis === "read" ? row.citation : `${row.citation}, from memory`,
        { about, need: row.need, basis: row.basis },
      ),
  );
}

/**
 * Whether a row's condition holds; null where nothing is on file about it.
 * @param {Readonly<Requirement>} row
 * @param {JsonRecord} application
 * @param {JsonRecord} establishment
 * @returns {boolean | null}
 */
function isAsked(row, application, establishment) {
  const { condition } = row;
  if (condition === null) return true;
  if (condition === "not_certified") {
    return (application.operator ?? null) !== (application.certified_applicator ?? null);
  }
  if (condition === "germany") return textOf(establishment.country).toUpperCase() === "DE";
  const flags = productsOf(application)
    .filter((product) => (product.kind || "product") === "product")
    .map((product) => product[condition] ?? null);
  if (flags.some((flag) => flag === true)) return true;
  return flags.some((flag) => flag === null) ? null : false;
}

/**
 * @param {string} standard
 * @param {JsonRecord} application
 * @param {string} region
 * @param {number | null} enteredMs
 * @returns {ReadonlyArray<Finding>}
 */
function findingsOf(standard, application, region, enteredMs) {
  /** @type {Finding[]} */
  const findings = [];
  const ended = application.ended_at ?? null;
  if (standard === "wps" && ended !== null && enteredMs !== null) {
    const lateMs = enteredMs - (momentMs(ended) + 24 * HOUR_MS);
    if (lateMs > 0) {
      findings.push(
        new Finding(
          "standards.display_late",
          "caution",
          "The record came after the 24 h in which it must be displayed.",
          "ended_at",
          "40 CFR 170.311(b)(5)",
          { hours: lateMs / HOUR_MS },
        ),
      );
    }
  }
  if (standard === "private_restricted_use") {
    if (application.spot === true) {
      findings.push(
        new Finding(
          "standards.spot_in_greenhouse",
          "stop",
          "Greenhouse and nursery use is never a spot treatment: all fields are needed.",
          "spot",
          "7 CFR 110.3(b), read at the Minnesota Department of Agriculture",
        ),
      );
    }
    const day = dayOf(application);
    if (day !== null && day >= RESCINDED_ON) {
      findings.push(
        new Finding(
          "standards.not_in_force",
          "note",
          "7 CFR part 110 is reported as rescinded from 11 July 2025.",
          null,
          "90 FR, FR Doc. 2025-08220, as reported",
        ),
      );
    }
  }
  if (standard === "wps" && region === "WA" && productsOf(application).length > 1) {
    findings.push(
      new Finding(
        "standards.ppe_for_all_products",
        "note",
        "PPE must protect against all products of the mix combined.",
        "ppe_applying_worn",
        "WAC 16-233-116(4)",
      ),
    );
  }
  return Object.freeze(findings);
}

/**
 * By which day the record must be made; a state's 24 h count as the next day.
 * @param {string} standard
 * @param {string | null} day
 * @param {string} region
 * @returns {string | null}
 */
function recordBy(standard, day, region) {
  if (day === null || standard === "eu") return null;
  const within = Object.hasOwn(REGIONS, region) ? REGIONS[region].record_within_days : null;
  if (within !== null) return addDays(day, within);
  // 7 CFR 110.3: within 14 days (University of Florida EDIS PI280; Colorado State note), read
  return standard === "private_restricted_use" ? addDays(day, 14) : null;
}

/** @param {JsonRecord} establishment */
function countryOf(establishment) {
  const code = textOf(establishment.country).toUpperCase();
  return Object.hasOwn(COUNTRIES, code) ? COUNTRIES[code] : null;
}

/**
 * By when a record that is not electronic must be: 30 days after use, 2023/564 Art. 3. Applies from 2026;
 * 2025/2203 lets a state move it to 2027. A state may shorten the 30 days, or allow longer until 2030:
 * neither is known here.
 * @param {string} standard
 * @param {string | null} day
 * @param {JsonRecord} establishment
 * @returns {string | null}
 */
function convertBy(standard, day, establishment) {
  if (standard !== "eu" || day === null) return null;
  const starts = countryOf(establishment)?.conversion_from ?? "2026-01-01";
  return day >= starts ? addDays(day, 30) : null;
}

/**
 * The day until which the record is kept at least; the longest of all rules.
 * @param {string} standard
 * @param {string | null} day
 * @param {string | null} reiEndDay
 * @param {JsonRecord} establishment
 * @param {string} region
 * @returns {string | null}
 */
function keepUntil(standard, day, reiEndDay, establishment, region) {
  /** @type {string[]} */
  const kept = [];
  if (standard === "wps") {
    if (reiEndDay === null) return null;
    kept.push(reiEndDay);
  }
  if (day === null) return null;
  if (standard === "eu") {
    const until = addYears(day, 3);
    // Germany counts the three years from the 1st of January after the use
    kept.push(countryOf(establishment)?.by_year ? `${until.slice(0, 4)}-12-31` : until);
  } else if (standard !== "wps") {
    kept.push(addYears(day, 2));
  }
  if (Object.hasOwn(REGIONS, region) && standard !== "eu") {
    kept.push(addYears(day, REGIONS[region].keep_years));
  }
  const house = establishment.keep_years ?? null;
  if (house !== null) kept.push(addYears(day, house));
  let longest = kept[0];
  for (const one of kept) if (one > longest) longest = one;
  return longest;
}
