// Times and days in words, by the nursery's clock: a phone set to another zone must not show another hour than the sign on
// the door. 24 hours, since a record that says 7:30 for the evening is a wrong record. Only calendar and clock go through
// Intl; quantities never do.

/** @type {Intl.DateTimeFormatOptions} */
const CLOCK = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
/** Each is made once: every screen asks, and one costs a slow phone up to 20 ms. @type {Map<string, Intl.DateTimeFormat>} */
const formats = new Map();

/** @param {string} locale @param {Intl.DateTimeFormatOptions} parts @param {string | undefined} timeZone */
function formatOf(locale, parts, timeZone) {
  const key = `${locale} ${JSON.stringify(parts)} ${timeZone}`;
  const known = formats.get(key) ?? new Intl.DateTimeFormat(locale, { ...parts, timeZone });
  formats.set(key, known);
  return known;
}

/** IANA name of the nursery's zone; undefined, the device's own, until the phone knows it. @type {string | undefined} */
let nurseryZone;

/** @type {string | null | undefined} */
let askedZone;

/** Show instants by this zone from now on; one that this browser does not know is left out. @param {string | null | undefined} zone */
export function setZone(zone) {
  if (zone === askedZone) return; // asked with every drawing, and a format is dear to make
  askedZone = zone;
  try {
    nurseryZone = zone ? formatOf("en-GB", CLOCK, zone).resolvedOptions().timeZone : undefined;
  } catch {
    nurseryZone = undefined;
  }
}

/** The zone that instants are shown and stamped by: the nursery's, else the device's own. */
export const zoneInUse = () => nurseryZone ?? Intl.DateTimeFormat().resolvedOptions().timeZone;

/** The calendar day at an instant, `YYYY-MM-DD`. @param {number} ms */
export function dayAt(ms) {
  const parts = new Intl.DateTimeFormat("en-GB", {
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
    timeZone: nurseryZone,
  }).formatToParts(ms);
  const of = (/** @type {string} */ type) => parts.find((part) => part.type === type)?.value ?? "";
  return `${of("year")}-${of("month")}-${of("day")}`;
}

/** The instant from which the clock on the wall counts the hours of the day that `ms` lies in. @param {number} ms */
export function midnightBefore(ms) {
  const [hours, minutes, seconds] = new Intl.DateTimeFormat("en-GB", {
    hour: "2-digit",
    minute: "2-digit",
    second: "2-digit",
    hourCycle: "h23",
    timeZone: nurseryZone,
  })
    .format(ms)
    .split(":")
    .map(Number);
  return ms - (ms % 1000) - ((hours * 60 + minutes) * 60 + seconds) * 1000;
}

/**
 * "10:42"
 * @param {number} ms  UTC instant in milliseconds.
 * @param {string} [timeZone]  IANA name; the nursery's by default.
 */
export function clockTime(ms, timeZone = nurseryZone) {
  return formatOf("en-GB", CLOCK, timeZone).format(ms);
}

/**
 * "Tuesday 12 May", "martes, 12 de mayo"
 * @param {number} ms
 * @param {string} language
 * @param {string} [timeZone]
 */
export function dayName(ms, language, timeZone = nurseryZone) {
  const locale = language === "en" ? "en-GB" : language;
  const text = formatOf(locale, { weekday: "long", day: "numeric", month: "long" }, timeZone).format(ms);
  return text.replace(/^(\p{L}+), (?=\d+ \p{L}+$)/u, "$1 ");
}

/**
 * Hours and minutes until a moment, for the countdown that stands second: "3 h 05 min", "12 min".
 * @param {number} ms  From now; negative counts as none left.
 */
export function countdown(ms) {
  const minutes = Math.max(0, Math.ceil(ms / 60_000));
  const hours = Math.floor(minutes / 60);
  return hours === 0 ? `${minutes} min` : `${hours} h ${String(minutes % 60).padStart(2, "0")} min`;
}

/**
 * "November 2026", "noviembre de 2026"
 * @param {string} month  `YYYY-MM`
 * @param {string} language
 */
export function monthName(month, language) {
  const locale = language === "en" ? "en-GB" : language;
  return formatOf(locale, { month: "long", year: "numeric" }, "UTC").format(
    Date.parse(`${month}-01T00:00:00Z`),
  );
}

/**
 * "12 Nov 2026": a calendar day where there is no room for its full name.
 * @param {string} day  `YYYY-MM-DD`
 * @param {string} language
 */
export function shortDay(day, language) {
  const locale = language === "en" ? "en-GB" : language;
  return formatOf(locale, { day: "numeric", month: "short", year: "numeric" }, "UTC").format(
    Date.parse(`${day}T00:00:00Z`),
  );
}

/**
 * "26 Nov": a day near enough to need no year.
 * @param {string} day  `YYYY-MM-DD`
 * @param {string} language
 */
export function dayAndMonth(day, language) {
  const locale = language === "en" ? "en-GB" : language;
  return formatOf(locale, { day: "numeric", month: "short" }, "UTC").format(Date.parse(`${day}T00:00:00Z`));
}
