/**
 * Instants and calendar days: what a moment on record stands for, without any clock or zone table.
 * Twin: server/tepal/domain/moments.py. A moment travels as `{local, offset_min, zone}`: the wall time
 * with the offset that was in force. Rules count elapsed milliseconds since 1970 (UTC), so that a
 * change of the clock neither shortens nor lengthens an interval. Days are texts such as "2026-05-04".
 * @module
 */

import { TepalError, textOf } from "./errors.js";
import { within } from "./ranges.js";

const DAY = /^([0-9]{4})-([0-9]{2})-([0-9]{2})$/;
const LOCAL = /^([0-9]{4}-[0-9]{2}-[0-9]{2})T([0-9]{2}):([0-9]{2}):([0-9]{2})$/;
const DAYS_BEFORE = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334];
const MONTH_DAYS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/** A day or a moment is not written as it must be, or does not exist in the calendar. */
export class MomentError extends TepalError {}

/** @param {number} year */
function isLeap(year) {
  return (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
}

/** Days from 1970-01-01 to January 1st of a year. @param {number} year */
function startOf(year) {
  const before = year - 1;
  const leaps = Math.floor(before / 4) - Math.floor(before / 100) + Math.floor(before / 400);
  return 365 * (year - 1970) + leaps - 477; // 477 leap days before 1970
}

/** @param {number} year @param {number} month */
function monthDays(year, month) {
  return month === 2 && isLeap(year) ? 29 : MONTH_DAYS[month - 1];
}

/**
 * Return the days from 1970-01-01 to a day; throws `MomentError` (`moment.not_a_day`).
 * @param {unknown} day
 * @returns {number}
 */
export function dayNumber(day) {
  const match = typeof day === "string" ? DAY.exec(day) : null;
  if (match !== null) {
    const [year, month, number] = [Number(match[1]), Number(match[2]), Number(match[3])];
    if (month >= 1 && month <= 12 && number >= 1 && number <= monthDays(year, month)) {
      const leap = month > 2 && isLeap(year) ? 1 : 0;
      return startOf(year) + DAYS_BEFORE[month - 1] + leap + number - 1;
    }
  }
  throw new MomentError("moment.not_a_day", `${day} is no day such as 2026-05-04.`, { text: textOf(day) });
}

/** @param {number} number */
function two(number) {
  return number < 10 ? `0${number}` : String(number);
}

/**
 * Return the day that lies `number` days after 1970-01-01 (years 1000 to 9999).
 * @param {number} number
 * @returns {string}
 */
export function dayText(number) {
  const days = Math.trunc(within(number, "day", -354285, 2932896));
  let year = 1970 + Math.floor(days / 365);
  while (startOf(year) > days) year -= 1;
  while (startOf(year + 1) <= days) year += 1;
  let left = days - startOf(year);
  let month = 1;
  while (left >= monthDays(year, month)) {
    left -= monthDays(year, month);
    month += 1;
  }
  return `${year}-${two(month)}-${two(left + 1)}`;
}

/**
 * Return the day `nDays` later.
 * @param {string} day
 * @param {number} nDays
 */
export function addDays(day, nDays) {
  return dayText(dayNumber(day) + nDays);
}

/**
 * Return the same day `nYears` later; 1 March where it would be a 29 February that is none: a record
 * that must be kept for years is never let go a day early.
 * @param {string} day
 * @param {number} nYears
 */
export function addYears(day, nYears) {
  dayNumber(day);
  const year = Number(day.slice(0, 4)) + nYears;
  if (day.slice(5) === "02-29" && !isLeap(year)) return `${year}-03-01`;
  return `${year}${day.slice(4)}`;
}

/**
 * Return the instant of a moment, ms since 1970; throws `MomentError` (`moment.not_a_moment`). The wall
 * time less its own offset: the two 01:30 of an autumn night are two instants.
 * @param {any} moment
 * @returns {number}
 */
export function momentMs(moment) {
  const local = moment?.local;
  const match = typeof local === "string" ? LOCAL.exec(local) : null;
  const offset = moment?.offset_min;
  if (match !== null && Number.isInteger(offset) && Math.abs(offset) <= 960) {
    const [hour, minute, second] = [Number(match[2]), Number(match[3]), Number(match[4])];
    if (hour < 24 && minute < 60 && second < 60) {
      const minutes = dayNumber(match[1]) * 1440 + hour * 60 + minute - offset;
      return minutes * 60_000 + second * 1000;
    }
  }
  throw new MomentError(
    "moment.not_a_moment",
    "A moment is a local time such as 2026-05-04T10:30:00 with its offset in minutes.",
    { text: textOf(local) },
  );
}

/**
 * Return the wall time at an offset, "2026-05-04T22:30:00"; parts of a second are cut off.
 * @param {number} ms
 * @param {number} offsetMin
 */
export function localText(ms, offsetMin) {
  const seconds = Math.floor((ms + within(offsetMin, "offset_min", -960, 960) * 60_000) / 1000);
  const days = Math.floor(seconds / 86_400);
  const left = seconds - days * 86_400;
  const hour = Math.floor(left / 3600);
  const minute = Math.floor((left % 3600) / 60);
  return `${dayText(days)}T${two(hour)}:${two(minute)}:${two(left % 60)}`;
}

/**
 * Return the calendar day at an offset.
 * @param {number} ms
 * @param {number} offsetMin
 */
export function dayOfMs(ms, offsetMin) {
  return localText(ms, offsetMin).slice(0, 10);
}
