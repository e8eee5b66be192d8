/**
 * One product's label, ready to speak about it: findings said once, stops opened by a permit. Twin:
 * server/tepal/domain/label_teller.py. What `label_checks`, `season_checks` and the house's checks share.
 * @module
 */

import { Finding, textOf } from "./errors.js";
import { unitOf } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/** @typedef {import("./errors.js").Severity} Severity */
/** @typedef {import("./applied.js").AppliedDose} AppliedDose */
/** @typedef {import("./label_uses.js").LabelLimit} LabelLimit */
/** @typedef {[string, number | null]} Value a.i. or '', and what it comes to */

// Amounts on record carry four significant digits: two of them are off by one part in 1000 at most.
export const CEILING_SLACK = 1.001;

/** @type {Readonly<Record<string, string>>} */
const PERS = { per_l: "L", per_m2: "m²", per_container: "pot" };

/**
 * The names of a product's active ingredients, for comparison.
 * @param {JsonRecord} product
 * @returns {Set<string>}
 */
export function aisOf(product) {
  /** @type {JsonRecord[]} */
  const ingredients = product.ingredients ?? [];
  const named = new Set(ingredients.map((one) => textOf(one.ai).trim().toLowerCase()));
  named.delete("");
  return named;
}

/**
 * Whether a trial authority is valid today; without a last day it is not.
 * @param {JsonRecord} permit
 * @param {JsonRecord} situation
 * @returns {boolean}
 */
export function isPermitValid(permit, situation) {
  const today = textOf(situation.today);
  const first = permit.valid_from ?? null;
  const last = permit.valid_to ?? null;
  return last !== null && today <= last && (first === null || today >= first);
}

/** The label of one product of the application, ready to speak about it. */
export class LabelTeller {
  /**
   * @param {JsonRecord} product
   * @param {JsonRecord} label
   * @param {JsonRecord} situation
   */
  constructor(product, label, situation) {
    this.name = textOf(product.name);
    this.product = product;
    this.label = label;
    const day = textOf(label.label_on);
    this.source = day === "" ? "label as copied by the user" : `label of ${day}, as copied`;
    /** @type {JsonRecord} */
    const permit = situation.permit ?? {};
    const isOpen = (permit.products ?? []).includes(product.product) && isPermitValid(permit, situation);
    this.permit = isOpen ? textOf(permit.number) : "";
    /** @type {Finding[]} */
    this.findings = [];
    /** @type {Set<string>} */
    this.seen = new Set();
  }

  /**
   * Add a finding once per product and place; a permit turns a stop into a caution.
   * @param {string} code
   * @param {Severity} severity
   * @param {string} message
   * @param {string} field
   * @param {Readonly<Record<string, any>>} [context]
   */
  say(code, severity, message, field, context = {}) {
    const key = `${code}\n${context.place ?? ""}\n${context.ai ?? ""}`;
    if (this.seen.has(key)) return;
    this.seen.add(key);
    const byPermit = severity === "stop" && this.permit !== "";
    this.findings.push(
      new Finding(code, byPermit ? "caution" : severity, `${this.name}: ${message}`, field, this.source, {
        product: this.name,
        ...context,
        ...(byPermit ? { permit: this.permit } : {}),
      }),
    );
  }
}

/**
 * What a limit counts; null where it is not known.
 * @param {Readonly<LabelLimit>} limit
 * @param {ReadonlyArray<Readonly<AppliedDose>>} doses
 * @returns {Value[]}
 */
export function valuesOf(limit, doses) {
  /** @type {Value[]} */
  const found = [];
  for (const dose of doses) {
    if (limit.is_ai !== (dose.ai !== "")) continue;
    const by = { per_l: dose.per_l, per_m2: dose.per_m2, per_container: dose.per_container };
    const value = by[/** @type {keyof typeof by} */ (limit.per)];
    found.push([dose.ai, dose.unit === limit.unit ? value : null]);
  }
  return found;
}

/**
 * Say which of the values are above a limit, or not known.
 * @param {LabelTeller} teller
 * @param {Readonly<LabelLimit>} limit
 * @param {string} code
 * @param {ReadonlyArray<Value>} values
 * @param {string} place
 */
export function compare(teller, limit, code, values, place) {
  const stated = unitOf(limit.stated.unit).symbol;
  const shown = { limit_stated: `${limit.stated.value} ${stated}`, place };
  if (!limit.is_readable) {
    teller.say(
      "checks.ceiling_not_comparable",
      "caution",
      `the ceiling of ${shown.limit_stated} cannot be compared: compare it by hand.`,
      "products",
      shown,
    );
    return;
  }
  const unit = `${limit.unit}/${PERS[limit.per]}`;
  for (const [ai, value] of values.length === 0 ? [/** @type {Value} */ (["", null])] : values) {
    if (value === null) {
      teller.say(
        "checks.dose_not_known",
        "caution",
        `the dose is not known, so the ceiling of ${shown.limit_stated} is unchecked.`,
        "products",
        shown,
      );
    } else if (value > limit.value * CEILING_SLACK) {
      teller.say(code, "stop", `${value} ${unit} are above the label's ${limit.value} ${unit}.`, "products", {
        ...shown,
        ai,
        value,
        limit: limit.value,
        unit,
      });
    }
  }
}

/**
 * Each product of the application with its label; {} where that is not on file. Where a record does not say
 * what kind of product it was, the label does.
 * @param {JsonRecord} situation
 * @returns {[JsonRecord, JsonRecord][]}
 */
export function labelled(situation) {
  /** @type {JsonRecord[]} */
  const products = situation.application?.products ?? [];
  return products.map((product) => {
    const label = situation.products?.[product.product ?? ""] ?? {};
    return [{ ...product, kind: product.kind || label.kind || "product" }, label];
  });
}

/**
 * A typed quantity with its symbol; '–' where there is none.
 * @param {any} quantity
 * @returns {string}
 */
export function shown(quantity) {
  if ((quantity ?? null) === null) return "–";
  return `${textOf(quantity.value)} ${unitOf(quantity.unit).symbol}`;
}
