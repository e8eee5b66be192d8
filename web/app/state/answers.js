// Findings before mixing and what the operator answers. A stop blocks the start, never the record; a caution waits for an
// answer that is kept with the application; a note only says what is not on file. Pure.

import { aboutOf } from "../core/checks.js";

/** @typedef {{code: string, severity: "stop" | "caution" | "note", source?: string | null, context?: any, field?: string | null, message?: string}} Found */
/** One line: the finding in words, and a key that stays the same while the finding does.
 * @typedef {{key: string, words: string, finding: Found}} Told */
/** @typedef {{value: string | null, reason: string}} Given */

/** The answers offered; the last one needs words. */
export const ANSWERS = Object.freeze(["seen_to", "grower_agrees", "other"]);

const ORDER = { stop: 0, caution: 1, note: 2 };

/**
 * Each finding once in words, the gravest first.
 * @param {Found[]} findings @param {(finding: Found) => string} wordsOf
 * @returns {Told[]}
 */
export function toldOnce(findings, wordsOf) {
  const told = new Map();
  for (const finding of [...findings].sort((a, b) => ORDER[a.severity] - ORDER[b.severity])) {
    const words = wordsOf(finding);
    if (!told.has(words)) told.set(words, { key: `${finding.code}/${words}`, words, finding });
  }
  return [...told.values()];
}

/** @param {Given | undefined} given */
const isGiven = (given) =>
  given !== undefined && given.value !== null && (given.value !== "other" || given.reason.trim() !== "");

/**
 * How far the check step is.
 * @param {Told[]} told @param {Record<string, Given>} answers
 */
export function progressOf(told, answers) {
  const stops = told.filter(({ finding }) => finding.severity === "stop");
  const cautions = told.filter(({ finding }) => finding.severity === "caution");
  const unanswered = cautions.filter(({ key }) => !isGiven(answers[key]));
  return { stops, cautions, unanswered, notes: told.length - stops.length - cautions.length };
}

/**
 * The findings as the application keeps them.
 * @param {Told[]} told @param {Record<string, Given>} answers @param {(value: string) => string} labelOf
 */
export const keptChecks = (told, answers, labelOf) =>
  told.slice(0, 200).map(({ key, finding }) => {
    const given = answers[key];
    const answer = isGiven(given)
      ? given.value === "other"
        ? given.reason.trim()
        : labelOf(/** @type {string} */ (given.value))
      : null;
    return {
      code: finding.code.slice(0, 80),
      severity: finding.severity,
      about: aboutOf(/** @type {any} */ (finding)).slice(0, 200) || null,
      answer: answer === null ? null : answer.slice(0, 400),
    };
  });
