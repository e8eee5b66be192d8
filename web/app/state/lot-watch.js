// An ordinary lot watched over its weeks: which records hold what was seen, and the heights as a line. Pure.

import { formatNumber } from "../core/rounding.js";
import { dayAfter } from "./measure.js";

/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */

const MOST_DAYS = 400; // what a phone keeps of applications too

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
 * Heights as points. @param {{day: string, fields: any}[]} seen
 * @returns {{on: string, height_cm: number}[]}
 */
export const heightPoints = (seen) =>
  seen
    .filter(({ fields }) => typeof fields.m_height === "string")
    .map(({ day, fields }) => ({ on: day, height_cm: Number(fields.m_height) }));

/** Growth of the last two looks or more, cm per day; null with fewer. @param {{on: string, height_cm: number}[]} points */
export function latestSlope(points) {
  const [before, last] = points.slice(-2);
  if (!last) return null;
  const days = (Date.parse(last.on) - Date.parse(before.on)) / 86_400_000;
  return days > 0 ? (last.height_cm - before.height_cm) / days : null;
}

/** The last application on a lot before a day, as its local date; null where there was none.
 * @param {any[]} applications @param {string} lot */
export function lastApplied(applications, lot) {
  const days = applications
    .filter(
      ({ shown }) =>
        shown.state !== "void" &&
        (shown.fields.lines ?? []).some((/** @type {any} */ line) => line.lot === lot),
    )
    .map(({ shown }) => ({
      on: shown.fields.started_at?.local?.slice(0, 10) ?? "",
      name: shown.fields.mix_name ?? "",
    }))
    .filter(({ on }) => on !== "")
    .sort((a, b) => a.on.localeCompare(b.on));
  return days.at(-1) ?? null;
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
