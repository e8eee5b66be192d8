// The day in the office: blocks of the houses, what was applied, what needs a person. Pure; the page hands in rows and time.
import { completeness, standardsFor } from "../core/standards.js";
import { msOf } from "./moments.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {import("../ui/lanes.js").Block} Block */

const HOUR_MS = 3_600_000;

/** @param {RecordRow} row @param {string} name @returns {any} */
const field = (row, name) => row.shown.fields[name] ?? null;

/** Applications that started on a day and are not void, by time. @param {RecordRow[]} applications @param {string} day */
export const appliedOn = (applications, day) =>
  applications
    .filter((row) => row.shown.state !== "void" && field(row, "started_at")?.local.slice(0, 10) === day)
    .sort((a, b) => field(a, "started_at").local.localeCompare(field(b, "started_at").local));

/**
 * A house's blocks of a day, in hours of the local day.
 * @param {object} job
 * @param {string} job.house
 * @param {RecordRow[]} job.applications @param {RecordRow[]} job.restrictions
 * @param {{row: RecordRow, state: string}[]} job.orders
 * @param {Set<string>} job.benches     Of the house.
 * @param {string} job.today            YYYY-MM-DD, by the nursery's clock.
 * @param {number} job.dayStartMs       Its midnight.
 * @param {number} job.nowMs            Server time.
 * @param {(hours: string) => string} job.label  Of a restriction: its interval in words.
 * @param {(fields: any) => string} job.titleOf  Of an order.
 * @returns {Block[]}
 */
export function blocksOf(job) {
  const { house, dayStartMs, nowMs } = job;
  const hour = (/** @type {number} */ ms) => (ms - dayStartMs) / HOUR_MS;
  const isToday = (/** @type {Block} */ block) => block.to > 0 && block.from < 24;
  const acts = job.applications
    .filter(
      (row) =>
        row.shown.state !== "void" &&
        (field(row, "lines") ?? []).some((/** @type {any} */ line) => line.house === house),
    )
    .flatMap((row) => {
      const from = msOf(field(row, "started_at"));
      const ended = msOf(field(row, "ended_at"));
      // an older record without its end is a gap of the record, said so elsewhere: no work of today
      if (from === null || (ended === null && from < dayStartMs)) return [];
      return [
        {
          from: hour(from),
          to: hour(ended ?? Math.max(nowMs, from)),
          kind: /** @type {const} */ ("act"),
        },
      ];
    });
  const restricted = job.restrictions
    .filter((row) => row.shown.state !== "void" && field(row, "house") === house && field(row, "ended_at"))
    .flatMap((row) => {
      const from = /** @type {number} */ (msOf(field(row, "ended_at")));
      const rei = field(row, "rei");
      const reopened = msOf(field(row, "reopened_at"));
      // until the interval ends; where it is not on file or nobody has reopened it, up to now at least
      const end = rei ? from + Number(rei.value) * HOUR_MS : Number.POSITIVE_INFINITY;
      const to = reopened ?? Math.max(end, nowMs);
      return [
        {
          from: hour(from),
          to: hour(to),
          kind: /** @type {const} */ ("restricted"),
          label: rei ? job.label(rei.value) : job.label(""),
        },
      ];
    });
  const planned = job.orders
    .filter(
      ({ row, state }) =>
        ["due", "planned", "late"].includes(state) && inHouse(row, job.benches) && coversDay(row, job.today),
    )
    .flatMap(({ row }) => {
      const { from_time, to_time } = row.shown.fields;
      if (!from_time && !to_time) return [];
      const from = from_time ? hourOf(from_time) : Math.max(0, hourOf(to_time) - 1);
      const to = to_time ? hourOf(to_time) : Math.min(24, hourOf(from_time) + 1);
      return [{ from, to, kind: /** @type {const} */ ("planned"), label: job.titleOf(row.shown.fields) }];
    });
  return [...restricted, ...planned, ...acts].filter(isToday);
}

/** @param {string} time  HH:MM */
const hourOf = (time) => Number(time.slice(0, 2)) + Number(time.slice(3, 5)) / 60;

/** @param {RecordRow} row @param {Set<string>} benches */
const inHouse = (row, benches) =>
  (field(row, "lines") ?? []).some((/** @type {any} */ line) => line.bench && benches.has(line.bench));

/** @param {RecordRow} row @param {string} day  YYYY-MM-DD */
function coversDay(row, day) {
  const { window_from, window_to } = row.shown.fields;
  return (
    (!window_from || window_from <= day) &&
    (!window_to || window_to >= day) &&
    Boolean(window_from || window_to)
  );
}

/**
 * What an application lacks for the standards that apply, each once.
 * @param {Record<string, any>} fields @param {Record<string, any>} establishment
 */
export function missingFields(fields, establishment) {
  /** @type {Map<string, import("../core/errors.js").Finding>} */
  const found = new Map();
  for (const standard of standardsFor(fields, establishment)) {
    for (const one of completeness(standard, fields, establishment).missing) {
      if (one.severity === "caution") found.set(one.code, one);
    }
  }
  return [...found.values()];
}
