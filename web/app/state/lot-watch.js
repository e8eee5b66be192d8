// An ordinary lot watched over its weeks: which records hold what was seen, and the heights as a line. Pure.

import { slopes } from "../core/heights.js";
import { formatNumber } from "../core/rounding.js";
import { dayAfter, fieldOf, questionAbout } from "./measure.js";
import { OFTEN } from "./trial-plan.js";

/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */

export const MOST_DAYS = 400; // what a phone keeps of applications too

/**
 * The days on which this lot may have been looked at, oldest first. A day is one record: two phones on one day share it.
 * @param {any} lot @param {string} today
 */
export function watchDays(lot, today) {
  const first =
    [lot.started_on, lot.growth_start_on].filter(Boolean).sort()[0] ?? dayAfter(today, -MOST_DAYS);
  const [, from] = [first, dayAfter(today, -MOST_DAYS)].sort();
  const days = [];
  for (let day = from; day <= today; day = dayAfter(day, 1)) days.push(day);
  return days;
}

/**
 * Heights as points; what an import or an older phone let through that is no height is left out, or no line could be drawn.
 * @param {{day: string, fields: any}[]} seen
 * @returns {{on: string, height_cm: number}[]}
 */
export const heightPoints = (seen) =>
  seen
    .filter(({ fields }) => typeof fields.m_height === "string")
    .map(({ day, fields }) => ({ on: day, height_cm: Number(fields.m_height) }))
    .filter(({ height_cm }) => height_cm >= 0 && height_cm <= MOST);

/**
 * What one may choose to measure on a lot beside its height, as a mean of several plants; bounds only ask a question.
 * @type {Record<string, import("./measure.js").Definition>}
 */
export const LOT_MEASURES = Object.fromEntries(
  ["height", "width", "branches", "flowers", "leaf_colour", "dry_weight"].map((code) => [
    code,
    { ...OFTEN[code], code, type: OFTEN[code].type === "continuous" ? "continuous" : "mean" },
  ]),
);
const MOST = 100_000;
const MOST_DECIMALS = 2;

/**
 * What of a number can't be kept: `below_0`, `too_large`, `too_fine` (more than two decimals); null for a sound one.
 * @param {string} value  As it travels. @param {number} [most]
 */
export function numberProblem(value, most = MOST) {
  if (Number(value) < 0) return "below_0";
  if (Number(value) > most) return "too_large";
  return (value.split(".")[1]?.length ?? 0) > MOST_DECIMALS ? "too_fine" : null;
}

/**
 * What to ask about the numbers of a day, each against its bounds and the same one the last time before that day.
 * @param {Record<string, any>} values  Fields to be saved. @param {{day: string, fields: any}[]} seen  Oldest first.
 * @param {string} day @param {NumberFormat} numberFormat
 */
export function questionsAbout(values, seen, day, numberFormat) {
  return Object.values(LOT_MEASURES).flatMap((definition) => {
    const name = fieldOf(definition.code);
    if (typeof values[name] !== "string") return [];
    const last = seen.filter((one) => one.day < day && typeof one.fields[name] === "string").at(-1);
    const asked = questionAbout(definition, values[name], {
      earlier: last?.fields[name] ?? null,
      numberFormat,
    });
    return asked ? [{ ...asked, measure: definition.code }] : [];
  });
}

/** What a record of a day holds of values and words. @param {any} fields */
export const ownFields = (fields) =>
  Object.keys(fields).filter(
    (name) =>
      (name.startsWith("m_") || ["phytotoxicity", "stage", "note"].includes(name)) && fields[name] !== null,
  );

/**
 * Growth between the last two looks against what the lines ask over the same days; null with fewer than two.
 * @param {{on: string, height_cm: number}[]} points @param {(day: string) => {wanted_cm: number} | null} linesOn
 * @returns {{from: string, to: string, cm_per_d: number, wanted_cm_per_d: number | null} | null}
 */
export function latestGrowth(points, linesOn) {
  const [before, last] = points.slice(-2);
  const days = last ? daysBetween(before.on, last.on) : 0;
  if (days <= 0) return null;
  const [from, to] = [linesOn(before.on), linesOn(last.on)];
  return {
    from: before.on,
    to: last.on,
    cm_per_d: (last.height_cm - before.height_cm) / days,
    wanted_cm_per_d: from && to ? (to.wanted_cm - from.wanted_cm) / days : null,
  };
}

/** @param {string} from @param {string} to */
export const daysBetween = (from, to) => Math.round((Date.parse(to) - Date.parse(from)) / 86_400_000);

/**
 * The last application on a lot, and the day of the one before it; null where there was none. Water, an adjuvant or a
 * formulation blank alone is none.
 * @param {any[]} applications @param {string} lot
 * @returns {{on: string, name: string, before: string | null} | null}
 */
export function lastApplied(applications, lot) {
  const days = applications
    .filter(
      ({ shown }) =>
        shown.state !== "void" &&
        (shown.fields.lines ?? []).some((/** @type {any} */ line) => line.lot === lot) &&
        hasProduct(shown.fields.products ?? []),
    )
    .map(({ shown }) => ({
      on: shown.fields.started_at?.local?.slice(0, 10) ?? "",
      name: shown.fields.mix_name ?? "",
    }))
    .filter(({ on }) => on !== "")
    .sort((a, b) => a.on.localeCompare(b.on));
  const last = days.at(-1);
  return last ? { ...last, before: days.findLast(({ on }) => on < last.on)?.on ?? null } : null;
}

/** @param {{kind?: string | null}[]} products */
const hasProduct = (products) =>
  products.length === 0 || products.some((one) => (one.kind ?? "product") === "product");

// Own choice, no source: growth changes over a season, so what lies further from the application tells little about it.
const AROUND_DAYS = 28;

/**
 * Growth before and after an application, each from the looks of the four weeks next to it, and none from before the
 * application that came before.
 * @param {{on: string, height_cm: number}[]} points @param {{on: string, before: string | null}} applied
 * @returns {{before: {n: number, cm_per_d: number | null}, after: {n: number, cm_per_d: number | null}}}
 */
export function growthAround(points, applied) {
  const near = points.filter(
    ({ on }) =>
      Math.abs(daysBetween(on, applied.on)) <= AROUND_DAYS &&
      (applied.before === null || on >= applied.before),
  );
  const growth = slopes(near, applied.on);
  return {
    before: { n: near.filter(({ on }) => on <= applied.on).length, cm_per_d: growth.before_cm_per_d },
    after: { n: near.filter(({ on }) => on >= applied.on).length, cm_per_d: growth.after_cm_per_d },
  };
}

/** "2.4 cm" @param {number} value @param {NumberFormat} numberFormat */
export const cm = (value, numberFormat) => `${formatNumber(value, 1, numberFormat)}\u00a0cm`;

/**
 * Where things lie in the picture: x from 0 to `width` over the days, y from `height` down to 0 over the heights.
 * @param {string[]} days first and last @param {number} most highest cm @param {{width: number, height: number}} size
 */
export function scaleOf(days, most, { width, height }) {
  const first = Date.parse(days[0]);
  const span = Math.max(86_400_000, Date.parse(days[1]) - first);
  const top = niceTop(most);
  return {
    top,
    x: (/** @type {string} */ day) => ((Date.parse(day) - first) / span) * width,
    y: (/** @type {number} */ value) => height - (value / top) * height,
  };
}

/** @param {number} most */
function niceTop(most) {
  for (const step of [5, 10, 20, 30, 40, 50, 60, 80, 100, 150, 200, 300, 500]) if (most <= step) return step;
  return Math.ceil(most / 500) * 500;
}
