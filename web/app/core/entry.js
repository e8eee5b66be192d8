/**
 * Who may enter a restricted area: workers, handlers, early entry; what a contractor must tell. Twin:
 * server/tepal/domain/entry.py. 40 CFR 170.405, 170.407, 170.505, 170.603, 170.605 and 170.313. A
 * restriction bars workers; for a trained handler it is a caution to be answered with the label's PPE.
 * @module
 */

import { Finding, TepalError, textOf } from "./errors.js";
import { momentMs } from "./moments.js";
import { finite, notNegative } from "./ranges.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/**
 * Whether the grower must be told of a changed end, and by when (ms).
 * @typedef {{is_needed: boolean, by_ms: number | null}} ContractorNotice
 */

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
export const EARLY_ENTRY = Object.freeze([
  "no_contact",
  "short_task",
  "declared_emergency",
  "limited_contact",
]);
const WAIT_MS = 4 * HOUR_MS;
// sort -> [most minutes in any 24 h, citation with its basis]
/** @type {Readonly<Record<string, readonly [number, string]>>} */
const MOST_MIN = {
  short_task: [60, "40 CFR 170.603(b); the hour read at EPA, the wait in the superseded text"],
  limited_contact: [480, "40 CFR 170.603(d), read at EPA"],
  declared_emergency: [240, "40 CFR 170.603(c), the 4 h from memory"],
};
const NO_CONTACT = "40 CFR 170.603(a), read at EPA";
const LEAST_AGE = 18;

/** An early entry is of no known sort. */
export class EntryError extends TepalError {}

/**
 * Return what stands against a person's entry now.
 * @param {JsonRecord} state `code` of a RestrictionState
 * @param {JsonRecord} person `is_handler` trained and equipped as a handler; `is_adult` or null
 * @returns {ReadonlyArray<Finding>}
 */
export function entryFindings(state, person) {
  const code = textOf(state.code);
  if (code === "no_restriction_on_file") return Object.freeze([]);
  if (code === "unknown") {
    return Object.freeze([
      new Finding(
        "entry.not_known",
        "caution",
        "What this device knows is old: the sign on the door decides.",
        null,
        "house rule (no source)",
      ),
    ]);
  }
  if (person.is_handler !== true) {
    return Object.freeze([
      new Finding(
        "entry.worker_barred",
        "stop",
        "Workers stay out until the area is reopened.",
        "operator",
        "40 CFR 170.405(b), 170.407(b)",
      ),
    ]);
  }
  return Object.freeze([
    new Finding(
      "entry.handler_in_ppe",
      "caution",
      "Only with the PPE of what was applied there.",
      "operator",
      "40 CFR 170.405(b), 170.505",
    ),
    ...ageFindings(person.is_adult),
  ]);
}

/**
 * @param {unknown} isAdult
 * @returns {Finding[]}
 */
function ageFindings(isAdult) {
  if (isAdult !== false) return [];
  return [
    new Finding(
      "entry.under_age",
      "stop",
      "Handlers and early-entry workers are at least 18 years old.",
      "operator",
      "40 CFR 170.309(c), 170.605(a)",
      { least: LEAST_AGE },
    ),
  ];
}

/**
 * @param {string} code
 * @param {string} message
 * @param {string} source
 * @param {Readonly<Record<string, unknown>>} [context]
 */
function stop(code, message, source, context = {}) {
  return new Finding(code, "stop", message, null, source, context);
}

/**
 * Return what stands against an entry during the REI; none: allowed under its conditions. Throws
 * `EntryError` (`entry.sort_unknown`).
 * @param {JsonRecord} task `sort` no_contact, short_task, declared_emergency or limited_contact; `ended_ms` end of
 *   the application (null: still going on); `at_ms` when it begins; `minutes` planned; `minutes_before` of
 *   this person in the 24 h before; `is_hand_labour`; `is_double_notice` of the label (null: not on file,
 *   counts as yes); `is_ventilation_met` (inhalation level or criteria); `has_ppe`; `is_unforeseen`
 *   (limited contact: unforeseen, and delay would be a major loss); `is_adult` or null
 * @returns {ReadonlyArray<Finding>}
 */
export function earlyEntryFindings(task) {
  const sort = textOf(task.sort);
  if (!EARLY_ENTRY.includes(sort)) {
    throw new EntryError("entry.sort_unknown", `${sort} is no early entry.`, { sort });
  }
  /** @type {Finding[]} */
  const findings = [];
  const source = sort === "no_contact" ? NO_CONTACT : MOST_MIN[sort][1];
  const ended = task.ended_ms ?? null;
  if (ended === null) findings.push(stop("entry.still_spraying", "It is still being sprayed.", source));
  if (task.is_ventilation_met !== true) {
    findings.push(stop("entry.not_ventilated", "The ventilation criteria are not met.", source));
  }
  if (sort === "no_contact") return Object.freeze(findings);
  findings.push(...ageFindings(task.is_adult));
  const isWaiting = sort !== "declared_emergency";
  if (isWaiting && ended !== null && finite(task.at_ms ?? null, "at_ms") < ended + WAIT_MS) {
    findings.push(
      stop("entry.first_4_h", "No early entry in the first 4 h after the application.", source, {
        from_ms: ended + WAIT_MS,
      }),
    );
  }
  if (sort !== "declared_emergency" && task.is_hand_labour !== false) {
    findings.push(stop("entry.hand_labour", "Hand labour is no reason for an early entry.", source));
  }
  const isDouble = task.is_double_notice !== false;
  if (sort === "limited_contact" && isDouble) {
    findings.push(
      stop("entry.double_notice", "Not where the label asks for oral and posted notice.", source),
    );
  }
  if (sort === "limited_contact" && task.is_unforeseen !== true) {
    findings.push(stop("entry.foreseen", "Only for what could not be foreseen.", source));
  }
  if (task.has_ppe !== true) {
    findings.push(stop("entry.no_ppe", "The label's early-entry PPE is needed.", source));
  }
  if (sort !== "declared_emergency" || isDouble) {
    const most = MOST_MIN[sort][0];
    const minutes =
      notNegative(task.minutes ?? null, "minutes") + notNegative(task.minutes_before ?? 0, "minutes_before");
    if (minutes > most) {
      findings.push(
        stop("entry.too_long", `${minutes} min in 24 h are more than the ${most} allowed.`, source, {
          minutes,
          most,
        }),
      );
    }
  }
  return Object.freeze(findings);
}

/** The people that a log line names: several stand apart by comma, semicolon, slash or &. @param {any} who */
const namesIn = (who) =>
  textOf(who)
    .toLowerCase()
    .split(/[,;/&\n]/)
    .map((part) => part.split(/\s+/).filter(Boolean).join(" "))
    .filter((name) => name !== "");

/** The time of spells that lies in a window, ms. @param {[number, number][]} spells @param {number} start @param {number} end */
function inside(spells, start, end) {
  let total = 0;
  for (const [began, ended] of spells) {
    const stretch = Math.min(ended, end) - Math.max(began, start);
    total += Math.max(stretch, 0);
  }
  return total;
}

/**
 * How long a person was in restricted areas besides this entry, min, in the worst 24 h. 40 CFR 170.603 limits the minutes
 * of a worker in ANY 24 h, wherever they were spent: of all 24 h that hold this entry whole, the fullest counts. Entries
 * without contact have no limit and count for none.
 * @param {readonly JsonRecord[]} entries  Fields of the other early entries on file: `who`, `task`, `began_at`, `ended_at`.
 * @param {string} who  Name, as typed; of several names the one with the most minutes counts.
 * @param {number} atMs  When this entry begins.
 * @param {number} minutes  How long it lasts.
 * @returns {number}
 */
export function minutesBefore(entries, who, atMs, minutes) {
  const last = atMs + notNegative(minutes, "minutes") * 60_000;
  let most = 0;
  for (const name of namesIn(who)) {
    /** @type {[number, number][]} */
    const spells = entries
      .filter((one) => one.task !== "no_contact" && one.began_at && one.ended_at)
      .filter((one) => namesIn(one.who).includes(name))
      .map((one) => [momentMs(one.began_at), momentMs(one.ended_at)]);
    const starts = [
      last - DAY_MS,
      atMs,
      ...spells.map(([began]) => began),
      ...spells.map(([, ended]) => ended - DAY_MS),
    ].filter((start) => start >= last - DAY_MS && start <= atMs);
    for (const start of starts) most = Math.max(most, inside(spells, start, start + DAY_MS));
  }
  return most / 60_000;
}

/**
 * Return whether a commercial handler must tell the grower that the end moved: within 2 h after the end;
 * no notice if it moves by under 1 h (40 CFR 170.313, read in the compliance guide).
 * @param {number} plannedEndMs
 * @param {number} endedMs
 * @returns {Readonly<ContractorNotice>}
 */
export function contractorNotice(plannedEndMs, endedMs) {
  if (Math.abs(endedMs - plannedEndMs) < HOUR_MS) return Object.freeze({ is_needed: false, by_ms: null });
  return Object.freeze({ is_needed: true, by_ms: endedMs + 2 * HOUR_MS });
}
