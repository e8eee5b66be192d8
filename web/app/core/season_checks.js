/**
 * Interval, number of applications and season total of a lot, over all products of the same a.i. Twin:
 * server/tepal/domain/season_checks.py. What the supplier applied counts, and what the lots had from
 * which a lot was split or merged. The day counts by the calendar. What is not on record makes a sum
 * unknown, never smaller.
 * @module
 */

import { appliedDoses, supplierDoses } from "./applied.js";
import { textOf } from "./errors.js";
import { aisOf, compare, valuesOf } from "./label_teller.js";
import { intervalD, limitOf, lineage, mostApplications, nextDay } from "./label_uses.js";
import { dayNumber } from "./moments.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/** @typedef {import("./applied.js").AppliedDose} AppliedDose */
/** @typedef {import("./label_teller.js").LabelTeller} LabelTeller */
/** @typedef {import("./label_teller.js").Value} Value */
/** @typedef {import("./label_uses.js").Fit} Fit */
/** @typedef {import("./label_uses.js").LabelLimit} LabelLimit */
/**
 * One earlier treatment of a lot with the same active ingredient.
 * @typedef {object} Earlier
 * @property {string | null} day
 * @property {JsonRecord} product
 * @property {ReadonlyArray<Readonly<AppliedDose>>} doses
 * @property {boolean} isSupplier
 */

/** @param {unknown} text */
const plainName = (text) => textOf(text).trim().toLowerCase();

/**
 * @param {JsonRecord} one
 * @param {JsonRecord} other
 */
function isSameProduct(one, other) {
  if ((one.product ?? null) !== null && one.product === other.product) return true;
  return plainName(one.name) !== "" && plainName(one.name) === plainName(other.name);
}

/**
 * The same product, or one with the same active ingredient.
 * @param {JsonRecord} one
 * @param {JsonRecord} other
 */
function isSameAi(one, other) {
  if (isSameProduct(one, other)) return true;
  const ais = aisOf(other);
  return [...aisOf(one)].some((ai) => ais.has(ai));
}

/**
 * Whether two treatments of one trial wet plots of which none is the same. The plots of a trial share lot and bench, but
 * each got one treatment. Where a record does not name its plots, it may have wet any.
 * @param {JsonRecord} one
 * @param {JsonRecord} other
 */
function isOnOtherPlots(one, other) {
  if ((one.trial ?? null) === null || one.trial !== other.trial) return false;
  const ours = new Set((one.plots ?? []).map((/** @type {JsonRecord} */ plot) => plot.plot));
  /** @type {JsonRecord[]} */
  const theirs = other.plots ?? [];
  return ours.size > 0 && theirs.length > 0 && !theirs.some((plot) => ours.has(plot.plot));
}

/**
 * What a lot and its forebears had of this a.i. in this crop, supplier included.
 * @param {LabelTeller} teller
 * @param {JsonRecord} situation
 * @param {string} lot
 * @returns {Earlier[]}
 */
function earlierOf(teller, situation, lot) {
  const lots = situation.lots ?? {};
  const own = lineage(lot, lots);
  const starts = own.map((one) => textOf(lots[one]?.started_on)).filter((day) => day !== "");
  let first = "";
  for (const day of starts) if (first === "" || day < first) first = day;
  /** @type {Earlier[]} */
  const found = [];
  for (const record of situation.applications ?? []) {
    /** @type {JsonRecord[]} */
    const lines = record.lines ?? [];
    const places = lines.flatMap((line, i) => (own.includes(line.lot) ? [i] : []));
    const moment = record.started_at || record.ended_at || null;
    const day = moment === null ? null : textOf(moment.local).slice(0, 10);
    if (places.length === 0 || (day !== null && day < first)) continue;
    if (isOnOtherPlots(record, situation.application ?? {})) continue;
    const doses = appliedDoses(record);
    for (const product of record.products ?? []) {
      if ((product.kind || "product") !== "product" || !isSameAi(product, teller.product)) continue;
      const mine = doses.filter(
        (dose) =>
          places.includes(dose.line) &&
          dose.product === (product.product ?? null) &&
          dose.name === textOf(product.name),
      );
      found.push({ day, product, doses: mine, isSupplier: false });
    }
  }
  for (const record of situation.supplier_treatments ?? []) {
    const product = { name: record.product_name, ingredients: record.ingredients };
    if (own.includes(record.lot) && isSameAi(product, teller.product)) {
      const day = record.applied_on ?? null;
      found.push({ day, product, doses: supplierDoses(record), isSupplier: true });
    }
  }
  return found;
}

/**
 * Say what interval, number of applications and season total make of a line with a lot. All products with
 * the same a.i. count, and what the supplier applied.
 * @param {LabelTeller} teller
 * @param {Readonly<Fit>} fit
 * @param {ReadonlyArray<Readonly<AppliedDose>>} doses
 * @param {JsonRecord} situation
 * @param {JsonRecord} line
 */
export function historyFindings(teller, fit, doses, situation, line) {
  const place = textOf(line.place);
  const all = earlierOf(teller, situation, line.lot);
  sayInterval(teller, fit, all, textOf(situation.today), place);
  const most = mostApplications(fit.uses);
  if (most !== null && all.length + 1 > most) {
    teller.say(
      "checks.too_many_applications",
      "stop",
      `${all.length} applications were made; the label allows ${most}.`,
      "lines",
      { place, n: all.length, most },
    );
  }
  const limit = limitOf(fit.uses, "max_season", "per_m2");
  if (limit === null) {
    teller.say(
      "checks.season_not_on_file",
      "note",
      "no total for the season is on file: read the label.",
      "products",
    );
    return;
  }
  const ofProduct = limit.is_readable && !limit.is_ai;
  const earlier = ofProduct ? all.filter((one) => isSameProduct(one.product, teller.product)) : all;
  const totals = valuesOf(limit, doses).map(([ai, now]) => {
    /** @type {number | null} */
    let total = now;
    for (const one of earlier) {
      for (const [ofAi, before] of worstOf(limit, one.doses)) {
        if (plainName(ofAi) !== plainName(ai)) continue;
        total = total === null || before === null ? null : total + before;
      }
    }
    return /** @type {Value} */ ([ai, total]);
  });
  if (totals.some(([, total]) => total === null)) {
    teller.say(
      "checks.season_not_countable",
      "caution",
      "an earlier dose is not known, so the season's total is unchecked.",
      "products",
      { place },
    );
  }
  const known = totals.filter(([, total]) => total !== null);
  if (known.length > 0 || !limit.is_readable) {
    compare(teller, limit, "checks.season_above_label", known, place);
  }
}

/**
 * Each a.i.'s largest dose over the lines of one application: the most a plant had.
 * @param {Readonly<LabelLimit>} limit
 * @param {ReadonlyArray<Readonly<AppliedDose>>} doses
 * @returns {Value[]}
 */
function worstOf(limit, doses) {
  /** @type {Map<string, number | null>} */
  const worst = new Map();
  for (const [ai, value] of valuesOf(limit, doses)) {
    const soFar = worst.get(ai);
    if (soFar === undefined) worst.set(ai, value);
    else worst.set(ai, soFar === null || value === null ? null : Math.max(soFar, value));
  }
  return [...worst];
}

/**
 * @param {LabelTeller} teller
 * @param {Readonly<Fit>} fit
 * @param {ReadonlyArray<Earlier>} earlier
 * @param {string} today
 * @param {string} place
 */
function sayInterval(teller, fit, earlier, today, place) {
  const days = intervalD(fit.uses);
  if (days === null) {
    teller.say(
      "checks.interval_not_on_file",
      "note",
      "no minimum interval is on file: read the label.",
      "products",
    );
    return;
  }
  /** @type {Earlier | null} */
  let last = null;
  for (const one of earlier) {
    if (one.day === null) {
      teller.say(
        "checks.earlier_day_unknown",
        "caution",
        "the day of an earlier treatment is not on record: the interval is unchecked.",
        "lines",
        { place },
      );
    } else if (last === null || last.day === null || one.day > last.day) {
      last = one;
    }
  }
  if (last === null || last.day === null || today === "") return;
  if (dayNumber(today) - dayNumber(last.day) < days) {
    teller.say(
      "checks.interval_too_short",
      "stop",
      `the last treatment was on ${last.day}; the label asks for ${days} days.`,
      "lines",
      {
        place,
        last_on: last.day,
        last_name: textOf(last.product.name),
        days,
        next_on: nextDay(last.day, days),
        by_supplier: last.isSupplier,
      },
    );
  }
}
