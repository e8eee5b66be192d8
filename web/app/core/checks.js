/**
 * Checks before mixing and on arrival: the same situation gives the same findings on both sides. Twin:
 * server/tepal/domain/checks.py, whose head says what a `situation` holds.
 * @module
 */

import { Finding, TepalError } from "./errors.js";
import { houseFindings } from "./house_checks.js";
import { labelFindings } from "./label_checks.js";
import { stockFindings } from "./stock_checks.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */

const ORDER = ["stop", "caution", "note"];

/**
 * Return all findings, stops first; within a severity in the order of the checks. A number on record that
 * cannot be read makes its whole check a caution, never a crash: a person stands with the sprayer in hand.
 * @param {JsonRecord} situation
 * @returns {ReadonlyArray<Finding>}
 */
export function checkFindings(situation) {
  /** @type {Finding[]} */
  const found = [];
  for (const part of [labelFindings, houseFindings, stockFindings]) {
    try {
      found.push(...part(situation));
    } catch (error) {
      if (!(error instanceof TepalError)) throw error;
      found.push(
        new Finding(
          "checks.not_readable",
          "caution",
          `A record cannot be read: ${error.message}`,
          null,
          null,
          { problem: error.code },
        ),
      );
    }
  }
  return Object.freeze(ORDER.flatMap((severity) => found.filter((one) => one.severity === severity)));
}

/**
 * Return the findings that block starting.
 * @param {ReadonlyArray<Finding>} findings
 */
export function stops(findings) {
  return Object.freeze(findings.filter((one) => one.severity === "stop"));
}

/**
 * Return the stops and cautions of `now` that were not there when the operator answered.
 * @param {ReadonlyArray<JsonRecord>} before rows of the application's `checks`: `code` and `about`
 *   (product, place or '')
 * @param {ReadonlyArray<Finding>} now findings of the same checks with what is known now
 */
export function knownLater(before, now) {
  const told = new Set(before.map((one) => `${one.code}\n${one.about || ""}`));
  return Object.freeze(
    now.filter((one) => one.severity !== "note" && !told.has(`${one.code}\n${aboutOf(one)}`)),
  );
}

/**
 * Return what a finding is about, as a row of the application's `checks` names it.
 * @param {Finding} finding
 * @returns {string}
 */
export function aboutOf(finding) {
  for (const name of ["product", "place", "sprayer"]) {
    const value = finding.context[name];
    if (typeof value === "string" && value !== "") return value;
  }
  return "";
}
