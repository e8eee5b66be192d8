// The words of the mix core's errors and findings: numbers as the establishment writes them, places by their names.
import { formatContext, PLAIN_FORMAT } from "../core/rounding.js";
import { hasWords, t } from "../ui/words.js";

/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */

/**
 * @param {any} problem  A `TepalError` or a `Finding`.
 * @param {NumberFormat} [numberFormat]
 * @param {Record<string, string>} [placeNames]  Line id -> name of the place; a line's id says nothing to a person.
 */
export function coreText(problem, numberFormat = PLAIN_FORMAT, placeNames = {}) {
  const code = hasWords(`error.${problem.code}`) ? `error.${problem.code}` : `finding.${problem.code}`;
  if (!hasWords(code)) return problem.message;
  const context = formatContext(problem.context ?? {}, numberFormat);
  if (context.line !== undefined) context.line = placeNames[context.line] ?? context.line;
  return t(code, context);
}
