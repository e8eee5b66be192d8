/**
 * The root of all errors that Tepal raises on purpose, and the finding that rules return.
 * Twin: server/tepal/domain/errors.py. Misuse or impossible input throws a `TepalError`; a rule that
 * is breached or an assumption in doubt is a returned `Finding`; a bug flies as what it is.
 * @module
 */

/** @typedef {"stop" | "caution" | "note"} Severity */

/** An error with a stable code and parameters; the catalogue holds its words. */
export class TepalError extends Error {
  /**
   * @param {string} code dotted, append-only, in the catalogues as `error.<code>`
   * @param {string} message English sentence for logs and developers
   * @param {Readonly<Record<string, unknown>>} [context] JSON values that fill the catalogue's message
   */
  constructor(code, message, context = {}) {
    super(message);
    this.name = new.target.name;
    this.code = code;
    this.context = Object.freeze({ ...context });
  }
}

/** A unit is unknown, or of another dimension than the place asks for. */
export class UnitError extends TepalError {}

/** A number is not finite or lies outside what the formula is defined for. */
export class OutOfRangeError extends TepalError {}

/** A thing named by an id is not there. */
export class NotFoundError extends TepalError {}

/**
 * Return a text as it is and '' for anything else: contexts and names hold texts only.
 * @param {unknown} value
 * @returns {string}
 */
export function textOf(value) {
  return typeof value === "string" ? value : "";
}

/** What a rule found: a code with parameters, how serious, and where the rule comes from. */
export class Finding {
  /**
   * @param {string} code
   * @param {Severity} severity
   * @param {string} message
   * @param {string | null} [field]
   * @param {string | null} [source]
   * @param {Readonly<Record<string, unknown>>} [context]
   */
  constructor(code, severity, message, field = null, source = null, context = {}) {
    this.code = code;
    this.severity = severity;
    this.message = message;
    this.field = field;
    this.source = source;
    this.context = Object.freeze({ ...context });
    Object.freeze(this);
  }
}
