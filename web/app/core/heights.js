/**
 * Height against its lines: a wanted curve from dates and finish height, and what a week makes of it.
 * Twin: server/tepal/domain/heights.py, whose head names the sources. The shape (sigmoid in three phases)
 * was read in an abstract; the logistic and its steepness are our own, no source. `exp` differs in the last
 * digit between languages, so the twins agree to 1e-12.
 * @module
 */

import { TepalError } from "./errors.js";
import { addDays, dayNumber } from "./moments.js";
import { finite, notNegative, positive, within } from "./ranges.js";
import { decimalValue, quantityValue } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/**
 * Lower, wanted and upper height on a day in cm, and the wanted rate in cm per day.
 * @typedef {{lower_cm: number, wanted_cm: number, upper_cm: number, cm_per_d: number}} HeightLines
 */
/**
 * `verdict`: below, within, above. `trend`: slower, as_wanted, faster, unknown.
 * @typedef {{verdict: string, deviation_cm: number, deviation_pct: number, trend: string}} HeightVerdict
 */
/**
 * Growth in cm per day before and after an application; null with fewer than two days.
 * @typedef {{before_cm_per_d: number | null, after_cm_per_d: number | null}} Slopes
 */
/**
 * First day for a second application, and whether the plan or the label decides.
 * @typedef {{on: string, by: string}} SecondDate
 */

// Own choice, no source: with 8 the middle half of the time brings 79 % of the growth.
export const STEEPNESS = 8.0;
// Own choice, no source: a rate within a tenth of the line's own is neither faster nor slower.
const SAME_RATE = 0.1;
// University of Florida 2004 schedule, read: 14 to 16 in at finish, 6.7 % around the middle.
const USUAL_TOLERANCE_PCT = 6.7;

/** Dates or heights of a curve contradict each other. */
export class HeightError extends TepalError {}

/**
 * The share of growth done at a share of the time, 0 at 0 and 1 at 1.
 * @param {number} x
 */
function shareAt(x) {
  const low = 1 / (1 + Math.exp(STEEPNESS * 0.5));
  const high = 1 / (1 + Math.exp(-STEEPNESS * 0.5));
  const here = 1 / (1 + Math.exp(-STEEPNESS * (x - 0.5)));
  return (here - low) / (high - low);
}

/**
 * Return the lines on a day; before the start those of the start, after the finish its own. Throws
 * `HeightError` (`height.finish_before_start`, `height.finish_below_start`), `MomentError`,
 * `OutOfRangeError`.
 * @param {number} startCm
 * @param {number} finishCm
 * @param {string} startOn
 * @param {string} finishOn
 * @param {number} tolerancePct
 * @param {string} day
 * @returns {Readonly<HeightLines>}
 */
export function heightLines(startCm, finishCm, startOn, finishOn, tolerancePct, day) {
  const first = dayNumber(startOn);
  const last = dayNumber(finishOn);
  const low = notNegative(startCm, "start_cm");
  const high = positive(finishCm, "finish_cm");
  const part = within(tolerancePct, "tolerance_pct", 0, 100) / 100;
  if (last <= first) {
    throw new HeightError("height.finish_before_start", "The finish must be later than the start.", {
      start_on: startOn,
      finish_on: finishOn,
    });
  }
  if (high <= low) {
    throw new HeightError("height.finish_below_start", "The finish height must be above the start height.", {
      start_cm: low,
      finish_cm: high,
    });
  }
  const nDays = last - first;
  const now = dayNumber(day) - first;
  /** @param {number} days */
  const at = (days) => {
    if (days <= 0) return low;
    if (days >= nDays) return high;
    return low + (high - low) * shareAt(days / nDays);
  };
  const wanted = at(now);
  // the rate around the day, over two days
  const rate = (at(now + 1) - at(now - 1)) / 2;
  return Object.freeze({
    lower_cm: wanted * (1 - part),
    wanted_cm: wanted,
    upper_cm: wanted * (1 + part),
    cm_per_d: rate,
  });
}

/**
 * Return a lot's lines on a day; null where dates or finish height are not on file. A lot without a start
 * height starts at 0; without a tolerance it gets 6.7 %.
 * @param {JsonRecord} lot
 * @param {string} day
 * @returns {Readonly<HeightLines> | null}
 */
export function lotHeightLines(lot, day) {
  const startOn = lot.growth_start_on ?? null;
  const finishOn = lot.finish_on ?? null;
  const finish = lot.finish_height ?? null;
  if (startOn === null || finishOn === null || finish === null) return null;
  const start = lot.start_height ?? null;
  const stated = lot.height_tolerance ?? null;
  return heightLines(
    start === null ? 0 : quantityValue(start, "length", "start_height") * 100,
    quantityValue(finish, "length", "finish_height") * 100,
    startOn,
    finishOn,
    stated === null ? USUAL_TOLERANCE_PCT : decimalValue(stated.value, "height_tolerance"),
    day,
  );
}

/**
 * Return where a height lies, and whether the plants grow faster than the line asks.
 * @param {number} heightCm
 * @param {Readonly<HeightLines>} lines
 * @param {number | null} [slopeCmPerD]
 * @returns {Readonly<HeightVerdict>}
 */
export function heightVerdict(heightCm, lines, slopeCmPerD = null) {
  const height = notNegative(heightCm, "height_cm");
  let verdict = "within";
  if (height < lines.lower_cm) verdict = "below";
  else if (height > lines.upper_cm) verdict = "above";
  const deviation = height - lines.wanted_cm;
  const pct = lines.wanted_cm > 0 ? (deviation / lines.wanted_cm) * 100 : 0;
  let trend = "unknown";
  if (slopeCmPerD !== null) {
    const slope = finite(slopeCmPerD, "slope_cm_per_d");
    trend = "as_wanted";
    if (slope > lines.cm_per_d * (1 + SAME_RATE)) trend = "faster";
    else if (slope < lines.cm_per_d * (1 - SAME_RATE)) trend = "slower";
  }
  return Object.freeze({ verdict, deviation_cm: deviation, deviation_pct: pct, trend });
}

/**
 * The least-squares slope; null where the points are all of one day.
 * @param {ReadonlyArray<readonly [number, number]>} points
 * @returns {number | null}
 */
function slopeOf(points) {
  const n = points.length;
  if (n < 2) return null;
  let sumX = 0;
  let sumY = 0;
  for (const [x, y] of points) {
    sumX += x;
    sumY += y;
  }
  const meanX = sumX / n;
  const meanY = sumY / n;
  let above = 0;
  let below = 0;
  for (const [x, y] of points) {
    above += (x - meanX) * (y - meanY);
    below += (x - meanX) * (x - meanX);
  }
  return below === 0 ? null : above / below;
}

/**
 * Return the growth before and after an application, by least squares; a point on the day of the
 * application counts for both sides.
 * @param {ReadonlyArray<JsonRecord>} points {on: day, height_cm}, in any order
 * @param {string} appliedOn
 * @returns {Readonly<Slopes>}
 */
export function slopes(points, appliedOn) {
  const day = dayNumber(appliedOn);
  const read = points.map((one) => {
    /** @type {readonly [number, number]} */
    const point = [dayNumber(one.on) - day, notNegative(one.height_cm ?? null, "height_cm")];
    return point;
  });
  return Object.freeze({
    before_cm_per_d: slopeOf(read.filter(([x]) => x <= 0)),
    after_cm_per_d: slopeOf(read.filter(([x]) => x >= 0)),
  });
}

/**
 * Return the first day for a second application: as planned, but never inside the label's interval.
 * @param {string} firstOn
 * @param {number} wantedDays
 * @param {number | null} minIntervalD
 * @returns {Readonly<SecondDate>}
 */
export function secondOn(firstOn, wantedDays, minIntervalD) {
  const planned = Math.ceil(notNegative(wantedDays, "wanted_days"));
  const least = minIntervalD === null ? 0 : Math.ceil(notNegative(minIntervalD, "min_interval"));
  if (least > planned) return Object.freeze({ on: addDays(firstOn, least), by: "label" });
  return Object.freeze({ on: addDays(firstOn, planned), by: "plan" });
}
