// Wall time as people enter it, as a moment with offset and zone. The zone is the nursery's, as everything is shown by its
// clock: a phone set to another zone would else stamp a start with an hour and a day that nobody there read off the wall.
// Offsets come from the browser's zone table. Pure.

/** @typedef {{local: string, offset_min: number, zone: string}} Moment */

const MINUTE_MS = 60_000;

/** @type {Map<string, Intl.DateTimeFormat>} making one takes longer than asking it a thousand times */
const formats = new Map();

/** @param {string} zone  IANA name. */
function formatOf(zone) {
  let format = formats.get(zone);
  if (!format) {
    format = new Intl.DateTimeFormat("en-GB", {
      timeZone: zone,
      hourCycle: "h23",
      year: "numeric",
      month: "2-digit",
      day: "2-digit",
      hour: "2-digit",
      minute: "2-digit",
      second: "2-digit",
    });
    formats.set(zone, format);
  }
  return format;
}

/**
 * The wall time of a zone at an instant, `YYYY-MM-DDTHH:MM:SS`.
 * @param {number} ms  UTC instant. @param {string} zone  IANA name.
 */
function localAt(ms, zone) {
  const parts = formatOf(zone).formatToParts(ms);
  const of = (/** @type {string} */ type) => parts.find((part) => part.type === type)?.value ?? "";
  return `${of("year")}-${of("month")}-${of("day")}T${of("hour")}:${of("minute")}:${of("second")}`;
}

/**
 * An instant as the clock of a zone shows it.
 * @param {number} ms  UTC instant. @param {string} zone  IANA name that this browser knows.
 * @returns {Moment}
 */
export function wallAt(ms, zone) {
  const local = localAt(ms, zone);
  const whole = Math.floor(ms / 1000) * 1000;
  return { local, offset_min: Math.round((Date.parse(`${local}Z`) - whole) / MINUTE_MS), zone };
}

/**
 * The offset of a zone at a wall time, minutes east. Where the clock is put back and a time comes twice, the first; where
 * it is put forward and a time never comes, the offset before: 02:30 is then an hour after 01:30.
 * @param {string} local  `YYYY-MM-DDTHH:MM`, with seconds or without. @param {string} zone  IANA name.
 */
export function offsetAt(local, zone) {
  const asUtc = Date.parse(`${local}Z`);
  const before = wallAt(asUtc - 86_400_000, zone).offset_min;
  const after = wallAt(asUtc + 86_400_000, zone).offset_min;
  const reads = (/** @type {number} */ offset) =>
    wallAt(asUtc - offset * MINUTE_MS, zone).offset_min === offset;
  return reads(before) || !reads(after) ? before : after;
}

/**
 * @param {string} local  `YYYY-MM-DDTHH:MM`
 * @param {string} zone   IANA name of the nursery's zone.
 * @returns {Moment | null} null where it is no time
 */
export function momentAt(local, zone) {
  if (!/^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}$/.test(local)) return null;
  if (Number.isNaN(Date.parse(`${local}Z`))) return null;
  return { local: `${local}:00`, offset_min: offsetAt(local, zone), zone };
}

/** Now, as an entry field shows it. @param {{local: string}} wall */
export const nowText = (wall) => wall.local.slice(0, 16);

/** A moment as ms since 1970; null where there is none. @param {{local: string, offset_min: number} | null | undefined} moment */
export const msOf = (moment) =>
  moment ? Date.parse(`${moment.local}Z`) - moment.offset_min * MINUTE_MS : null;
