/**
 * Notice of an application: post a sign, tell people, or both; when, and how large the sign is.
 * Twin: server/tepal/domain/signs.py. 40 CFR 170.409. Read: post at an REI above 4 h in an enclosed space
 * and above 48 h outdoors (University of Wisconsin category note), standard size and placement
 * (Washington state copy), small signs (superseded text of the same rule). From memory: post OR tell
 * below that, both where the label asks, up at most 24 h before, down or covered within 3 days after.
 * @module
 */

import { Finding } from "./errors.js";
import { notNegative } from "./ranges.js";

/**
 * What 170.409 asks for: `must_post` and `must_tell`; where neither must, one of both does.
 * @typedef {object} Notice
 * @property {boolean} must_post
 * @property {boolean} must_tell
 * @property {boolean} is_either
 * @property {string} source
 * @property {ReadonlyArray<Finding>} findings
 */
/**
 * Earliest instant to put the sign up, from when it may and by when it must be down or covered; ms.
 * @typedef {{up_from_ms: number | null, down_from_ms: number | null, down_by_ms: number | null}} SignDates
 */
/**
 * standard, small_a, small_b or too_small, and how far apart such signs may stand.
 * @typedef {{size: string, most_apart_ft: number | null, findings: ReadonlyArray<Finding>}} SignSize
 */

const HOUR_MS = 3_600_000;
const POST_ABOVE_ENCLOSED_H = 4;
const POST_ABOVE_OUTDOOR_H = 48;
const MM_PER_IN = 25.4;
// A print is measured with a ruler: a hundredth of a millimetre is no fault.
const SLACK_MM = 0.01;

const READ = "40 CFR 170.409(a)(1); University of Wisconsin category training note";
const MEMORY = "40 CFR 170.409(a)(1), from memory";
const SIZES = "40 CFR 170.409(b)(3); Washington state copies WAC 16-233-121 and WAC 296-307-12025";

/**
 * @param {boolean} mustPost
 * @param {boolean} mustTell
 * @param {boolean} isEither
 * @param {string} source
 * @param {ReadonlyArray<Finding>} findings
 * @returns {Readonly<Notice>}
 */
function notice(mustPost, mustTell, isEither, source, findings) {
  return Object.freeze({
    must_post: mustPost,
    must_tell: mustTell,
    is_either: isEither,
    source,
    findings: Object.freeze(findings),
  });
}

/**
 * Return the notice that an application needs.
 * @param {number | null} reiH the longest of the mix; null is unknown and is posted
 * @param {boolean | null} isDoubleNotice the label asks for oral AND posted notice; null: not on file
 * @param {boolean} [isEnclosed] a greenhouse, also a hoop house; else the outdoor limit of 48 h
 */
export function noticeOf(reiH, isDoubleNotice, isEnclosed = true) {
  /** @type {Finding[]} */
  const findings = [];
  if (isDoubleNotice === null) {
    findings.push(
      new Finding(
        "signs.double_notice_not_on_file",
        "note",
        "Whether the label asks for oral and posted notice is not on file: read the label.",
        "double_notice",
        MEMORY,
      ),
    );
  }
  if (reiH === null) {
    findings.push(
      new Finding(
        "signs.rei_unknown",
        "caution",
        "The REI is not on file: post a sign.",
        "rei",
        "40 CFR 170.407(c)",
      ),
    );
    return notice(true, isDoubleNotice === true, false, MEMORY, findings);
  }
  const above = isEnclosed ? POST_ABOVE_ENCLOSED_H : POST_ABOVE_OUTDOOR_H;
  const mustPost = notNegative(reiH, "rei_h") > above;
  if (isDoubleNotice === true) {
    return notice(true, true, false, "40 CFR 170.409(a)(1)(i), from memory", findings);
  }
  return notice(mustPost, false, !mustPost, mustPost ? READ : MEMORY, findings);
}

/**
 * Return when a sign may go up (24 h before) and when it must be down (3 days after). From memory, 40
 * CFR 170.409(b)(1): removed or covered within 3 days after the end of the application or of the REI,
 * whichever is later, and not before. Null where a date is not known.
 * @param {number | null} plannedStartMs
 * @param {number | null} endedMs
 * @param {number | null} reiH
 * @returns {Readonly<SignDates>}
 */
export function signDates(plannedStartMs, endedMs, reiH) {
  const up = plannedStartMs === null ? null : plannedStartMs - 24 * HOUR_MS;
  if (endedMs === null || reiH === null) {
    return Object.freeze({ up_from_ms: up, down_from_ms: null, down_by_ms: null });
  }
  const over = endedMs + notNegative(reiH, "rei_h") * HOUR_MS;
  return Object.freeze({ up_from_ms: up, down_from_ms: over, down_by_ms: over + 72 * HOUR_MS });
}

/**
 * Return which size a printed sign has. Standard: 14 x 16 in, letters 1 in or more. Small signs: 7/8 and
 * 1/2 in, circle 3 in, at most 50 ft apart; or 7/16 and 1/4 in, circle 1.5 in, at most 25 ft apart.
 * Anything smaller fails.
 * @param {number} widthMm of the sheet, either way round
 * @param {number} heightMm
 * @param {number} headingMm letters of DANGER and PELIGRO
 * @param {number} lettersMm the smallest other letters
 * @param {number} circleMm across the circle with hand and face
 * @returns {Readonly<SignSize>}
 */
export function signSize(widthMm, heightMm, headingMm, lettersMm, circleMm) {
  const short = notNegative(Math.min(heightMm, widthMm), "width_mm");
  const long = notNegative(Math.max(widthMm, heightMm), "height_mm");
  const heading = notNegative(headingMm, "heading_mm") + SLACK_MM;
  const letters = notNegative(lettersMm, "letters_mm") + SLACK_MM;
  const circle = notNegative(circleMm, "circle_mm") + SLACK_MM;
  const isSheet = short + SLACK_MM >= 14 * MM_PER_IN && long + SLACK_MM >= 16 * MM_PER_IN;
  if (isSheet && heading >= MM_PER_IN && letters >= MM_PER_IN) return size("standard", null);
  if (heading >= (MM_PER_IN * 7) / 8 && letters >= MM_PER_IN / 2 && circle >= MM_PER_IN * 3) {
    return size("small_a", 50);
  }
  if (heading >= (MM_PER_IN * 7) / 16 && letters >= MM_PER_IN / 4 && circle >= MM_PER_IN * 1.5) {
    return size("small_b", 25);
  }
  const finding = new Finding(
    "signs.too_small",
    "stop",
    "The sign is too small to count: letters of 1/4 in (6.35 mm) are the least.",
    "letters_mm",
    SIZES,
    {
      letters_mm: lettersMm,
      heading_mm: headingMm,
      circle_mm: circleMm,
      least_letters_mm: MM_PER_IN / 4,
      least_heading_mm: (MM_PER_IN * 7) / 16,
      least_circle_mm: MM_PER_IN * 1.5,
    },
  );
  return size("too_small", null, [finding]);
}

/**
 * @param {string} name
 * @param {number | null} mostApartFt
 * @param {ReadonlyArray<Finding>} [findings]
 */
function size(name, mostApartFt, findings = []) {
  return Object.freeze({ size: name, most_apart_ft: mostApartFt, findings: Object.freeze(findings) });
}
