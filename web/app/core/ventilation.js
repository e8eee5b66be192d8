/**
 * When an enclosed space has been ventilated enough after an application: 40 CFR 170.405(b)(3).
 * Twin: server/tepal/domain/ventilation.py. Ventilate until the label's inhalation level is met; where
 * the label gives none, any ONE of: 10 air exchanges; 2 h mechanical; 4 h passive; 11 h closed and then
 * 1 h mechanical or 2 h passive; 24 h closed. Options i to iii and the 11 h were read in the compliance
 * guide, the hours after the 11 h and the 24 h are from memory for the federal text. California (3 CCR
 * 6769, read) knows no 11 h options, and lets parts of its options add up to 100 %.
 *
 * A spell is `{sort: "mechanical" | "passive" | "closed", began_at, ended_at, air_exchanges}`. A spell
 * without an end ends where the next one begins; the last one runs on. Hours of one option count in one
 * unbroken stretch (own, stricter reading).
 * @module
 */

import { TepalError, textOf } from "./errors.js";
import { momentMs } from "./moments.js";
import { notNegative } from "./ranges.js";
import { decimalValue } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/** @typedef {{sort: string, start: number, end: number, exchanges: number}} Spell */
/**
 * Whether the criteria are met; `expected_ms`: when, if the running spell goes on. `option`:
 * label_level, air_exchanges_10, mechanical_2_h, passive_4_h, closed_24_h, closed_11_h_mechanical_1_h,
 * closed_11_h_passive_2_h, mixed_parts; null where nothing leads there.
 * @typedef {object} Ventilation
 * @property {boolean} is_met
 * @property {number | null} met_ms
 * @property {number | null} expected_ms
 * @property {string | null} option
 */

export const VENTILATION_RULES = Object.freeze(["federal", "california"]);

const HOUR_MS = 3_600_000;
/** @type {Readonly<Record<string, number>>} */
const WHOLE_MS = { mechanical: 2 * HOUR_MS, passive: 4 * HOUR_MS, closed: 24 * HOUR_MS };
/** @type {Readonly<Record<string, string>>} */
const SINGLE = { mechanical: "mechanical_2_h", passive: "passive_4_h", closed: "closed_24_h" };
/** @type {Readonly<Record<string, number>>} */
const AFTER_CLOSED_MS = { mechanical: 1 * HOUR_MS, passive: 2 * HOUR_MS };
/** @type {Readonly<Record<string, string>>} */
const AFTER_CLOSED = {
  mechanical: "closed_11_h_mechanical_1_h",
  passive: "closed_11_h_passive_2_h",
};
const CLOSED_FIRST_MS = 11 * HOUR_MS;
const AIR_EXCHANGES = 10;

/** A spell of ventilation is of an unknown sort, or ends before it starts. */
export class VentilationError extends TepalError {}

/**
 * The spells by start; what lies before the end of the application does not count.
 * @param {ReadonlyArray<JsonRecord>} records
 * @param {number} endedMs
 * @returns {Spell[]}
 */
function readSpells(records, endedMs) {
  const read = records.map((record) => {
    const sort = textOf(record.sort);
    if (!Object.hasOwn(WHOLE_MS, sort)) {
      throw new VentilationError("ventilation.sort_unknown", `${sort} is no sort of ventilation.`, { sort });
    }
    const start = momentMs(record.began_at);
    const stop = record.ended_at ?? null;
    const end = stop === null ? null : momentMs(stop);
    if (end !== null && end < start) {
      throw new VentilationError(
        "ventilation.ends_before_start",
        "A spell of ventilation ends before it starts.",
      );
    }
    const stated = record.air_exchanges ?? null;
    const exchanges =
      stated === null ? 0 : notNegative(decimalValue(stated, "air_exchanges"), "air_exchanges");
    return { start, end, sort, exchanges };
  });
  read.sort((a, b) => a.start - b.start);
  /** @type {Spell[]} */
  const spells = [];
  for (const [i, one] of read.entries()) {
    const following = read.slice(i + 1).find((later) => later.start > one.start);
    const stop = one.end ?? following?.start ?? Number.POSITIVE_INFINITY;
    const from = Math.max(endedMs, one.start);
    if (stop > from) {
      // exchanges counted from before the end of the application are of no use
      const exchanges = one.start >= endedMs ? one.exchanges : 0;
      spells.push({ sort: one.sort, start: from, end: stop, exchanges });
    }
  }
  return spells;
}

/**
 * The unbroken stretches of a sort; a space that is ventilated is not closed.
 * @param {ReadonlyArray<Spell>} spells
 * @param {string} sort
 * @returns {Spell[]}
 */
function stretchesOf(spells, sort) {
  /** @type {Spell[]} */
  let stretches = [];
  for (const spell of spells) {
    if (spell.sort !== sort) continue;
    const last = stretches.at(-1);
    if (last !== undefined && spell.start <= last.end) {
      last.end = Math.max(last.end, spell.end);
    } else {
      stretches.push({ sort, start: spell.start, end: spell.end, exchanges: 0 });
    }
  }
  if (sort !== "closed") return stretches;
  for (const other of spells) {
    if (other.sort === "closed") continue;
    /** @type {Spell[]} */
    const cut = [];
    for (const one of stretches) {
      const before = Math.min(one.end, other.start);
      const after = Math.max(one.start, other.end);
      if (before > one.start) cut.push({ sort, start: one.start, end: before, exchanges: 0 });
      if (one.end > after) cut.push({ sort, start: after, end: one.end, exchanges: 0 });
    }
    stretches = cut;
  }
  return stretches;
}

/**
 * When ten air exchanges were counted; a running spell has none counted yet.
 * @param {ReadonlyArray<Spell>} spells
 * @returns {number | null}
 */
function exchangesMs(spells) {
  let total = 0;
  const ended = spells.filter((one) => one.end !== Number.POSITIVE_INFINITY);
  for (const spell of ended.sort((a, b) => a.end - b.end)) {
    total += spell.exchanges;
    if (total >= AIR_EXCHANGES) return spell.end;
  }
  return null;
}

/**
 * When parts of the options add up to a whole (California only). At every instant the quickest of the
 * running sorts counts; a spell whose counted exchanges make the larger part counts by them, at its end.
 * @param {ReadonlyArray<Spell>} spells
 * @returns {number | null}
 */
function mixedMs(spells) {
  const parts = [
    ...spells.filter((one) => one.sort === "mechanical"),
    ...spells.filter((one) => one.sort === "passive"),
    ...stretchesOf(spells, "closed"),
  ];
  /** @type {[number, number][]} */
  const countedParts = [];
  /** @type {Spell[]} */
  const timed = [];
  for (const one of parts) {
    const share = one.exchanges / AIR_EXCHANGES;
    const isOver = one.end !== Number.POSITIVE_INFINITY;
    if (isOver && share > (one.end - one.start) / WHOLE_MS[one.sort]) countedParts.push([one.end, share]);
    else timed.push(one);
  }
  const ends = [...timed.map((one) => one.end), ...countedParts.map(([at]) => at)];
  const cuts = [...new Set([...timed.map((one) => one.start), ...ends])].sort((a, b) => a - b);
  let total = 0;
  for (const [i, cut] of cuts.entries()) {
    for (const [at, share] of countedParts) if (at === cut) total += share;
    if (total >= 1) return cut;
    if (i + 1 === cuts.length) return null;
    /** @type {number | null} */
    let whole = null;
    for (const one of timed) {
      const isOn = one.start <= cut && cut < one.end;
      if (isOn && (whole === null || WHOLE_MS[one.sort] < whole)) whole = WHOLE_MS[one.sort];
    }
    if (whole === null) continue;
    const needed = (1 - total) * whole;
    // a millisecond of slack for the rounding of the shares
    if (needed <= cuts[i + 1] - cut + 1) return Math.floor(cut + needed + 0.5);
    total += (cuts[i + 1] - cut) / whole;
  }
  return null;
}

/**
 * @param {ReadonlyArray<Spell>} spells
 * @param {string} rule
 * @returns {[number, string][]}
 */
function candidatesOf(spells, rule) {
  /** @type {[number, string][]} */
  const found = [];
  const exchanged = exchangesMs(spells);
  if (exchanged !== null) found.push([exchanged, "air_exchanges_10"]);
  const closed = stretchesOf(spells, "closed");
  for (const sort of ["mechanical", "passive"]) {
    for (const one of stretchesOf(spells, sort)) {
      if (one.end - one.start >= WHOLE_MS[sort]) found.push([one.start + WHOLE_MS[sort], SINGLE[sort]]);
      if (rule === "federal" && one.end - one.start >= AFTER_CLOSED_MS[sort]) {
        for (const first of closed) {
          if (first.end === one.start && first.end - first.start >= CLOSED_FIRST_MS) {
            found.push([one.start + AFTER_CLOSED_MS[sort], AFTER_CLOSED[sort]]);
          }
        }
      }
    }
  }
  for (const one of closed) {
    if (one.end - one.start >= WHOLE_MS.closed) found.push([one.start + WHOLE_MS.closed, SINGLE.closed]);
  }
  if (rule === "california") {
    const mixed = mixedMs(spells);
    if (mixed !== null) found.push([mixed, "mixed_parts"]);
  }
  return found;
}

/**
 * Return whether the ventilation criteria are met at an instant. Throws `VentilationError`
 * (`ventilation.sort_unknown`, `ventilation.ends_before_start`, `ventilation.rule_unknown`).
 * @param {number} endedMs end of the application, ms since 1970
 * @param {ReadonlyArray<JsonRecord>} spells in any order
 * @param {number} nowMs the instant asked about
 * @param {string} [rule] 'federal' or 'california'
 * @param {boolean | null} [isLevelOnLabel] the label gives an inhalation level: only that counts
 * @param {number | null} [levelMetMs] when the level was measured as met
 * @returns {Readonly<Ventilation>}
 */
export function ventilation(
  endedMs,
  spells,
  nowMs,
  rule = "federal",
  isLevelOnLabel = null,
  levelMetMs = null,
) {
  if (!VENTILATION_RULES.includes(rule)) {
    throw new VentilationError("ventilation.rule_unknown", `${rule} is no rule of ventilation.`, {
      rule: textOf(rule),
    });
  }
  if (isLevelOnLabel === true) {
    if (levelMetMs === null || levelMetMs < endedMs) return nothing();
    return answer(levelMetMs, "label_level", nowMs);
  }
  /** @type {[number, string] | null} */
  let best = null;
  for (const one of candidatesOf(readSpells(spells, endedMs), rule)) {
    if (best === null || one[0] < best[0]) best = one;
  }
  return best === null ? nothing() : answer(best[0], best[1], nowMs);
}

function nothing() {
  return Object.freeze({ is_met: false, met_ms: null, expected_ms: null, option: null });
}

/**
 * @param {number} atMs
 * @param {string} option
 * @param {number} nowMs
 */
function answer(atMs, option, nowMs) {
  const isMet = atMs <= nowMs;
  return Object.freeze({ is_met: isMet, met_ms: isMet ? atMs : null, expected_ms: atMs, option });
}
