/**
 * The table of what each record standard asks for, and whether a record has it. Twin:
 * server/tepal/domain/requirements.py, the same rows in the same order. Sources are in each row; 'read'
 * and 'memory' say whether the number was read in a published text.
 * @module
 */

import { textOf } from "./errors.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/**
 * One row: `need` required, conditional or optional; `condition` what a conditional one asks:
 * hours_limited and stage_limited (of a product's label), not_certified (the operator is not the
 * certified applicator), germany.
 * @typedef {object} Requirement
 * @property {string} standard
 * @property {string} field
 * @property {string} need
 * @property {string | null} condition
 * @property {string} citation
 * @property {string} basis
 */
/**
 * What a US state adds: years of keeping, days to record, further fields; with its source.
 * @typedef {object} RegionRule
 * @property {number} keep_years
 * @property {number | null} record_within_days
 * @property {ReadonlyArray<string>} fields
 * @property {string} citation
 */
/**
 * What an EU state does otherwise: start of electronic conversion, keeping by whole years.
 * @typedef {{conversion_from: string, by_year: boolean, citation: string}} CountryRule
 */

export const STANDARDS = Object.freeze(["wps", "commercial_restricted_use", "eu", "private_restricted_use"]);
export const EU_COUNTRIES = Object.freeze(
  "AT BE BG CY CZ DE DK EE ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK".split(" "),
);

const WPS = "40 CFR 170.311(b)(1)";
const COM = "40 CFR 171.303(b)(7)";
const RUP = "7 CFR 110.3(a) (rescinded 2025)";
const EU = "Reg. (EU) 2023/564, Annex";

/** @type {ReadonlyArray<readonly [string, string, string, string | null, string, string]>} */
const ROWS = [
  ["wps", "sds", "required", null, `${WPS}(i)`, "read"],
  ["wps", "product_name", "required", null, `${WPS}(ii)`, "memory"],
  ["wps", "registration_number", "required", null, `${WPS}(ii)`, "memory"],
  ["wps", "active_ingredients", "required", null, `${WPS}(ii)`, "memory"],
  ["wps", "crop", "required", null, `${WPS}(iii)`, "memory"],
  ["wps", "location", "required", null, `${WPS}(iii)`, "memory"],
  ["wps", "description", "required", null, `${WPS}(iii)`, "memory"],
  ["wps", "start", "required", null, `${WPS}(iv)`, "memory"],
  ["wps", "end", "required", null, `${WPS}(iv)`, "memory"],
  ["wps", "rei", "required", null, `${WPS}(v)`, "memory"],
  ["wps", "double_notice", "optional", null, "40 CFR 170.409", "memory"],
  ["wps", "method_class", "optional", null, "40 CFR 170.405", "memory"],
  ["wps", "amount", "optional", null, "not asked by 40 CFR 170.311(b)", "memory"],
  ["wps", "rate", "optional", null, "not asked by 40 CFR 170.311(b)", "memory"],
  ["wps", "size", "optional", null, "not asked by 40 CFR 170.311(b)", "memory"],
  ["wps", "operator", "optional", null, "not asked by 40 CFR 170.311(b)", "memory"],
  ["commercial_restricted_use", "customer_name", "required", null, COM, "read"],
  ["commercial_restricted_use", "customer_address", "required", null, COM, "read"],
  ["commercial_restricted_use", "location", "required", null, COM, "read"],
  ["commercial_restricted_use", "size", "required", null, COM, "read"],
  ["commercial_restricted_use", "crop", "required", null, COM, "read"],
  ["commercial_restricted_use", "start", "required", null, COM, "read"],
  ["commercial_restricted_use", "product_name", "required", null, COM, "read"],
  ["commercial_restricted_use", "registration_number", "required", null, COM, "read"],
  ["commercial_restricted_use", "amount", "required", null, COM, "read"],
  ["commercial_restricted_use", "certified_applicator", "required", null, COM, "read"],
  ["commercial_restricted_use", "certificate_number", "required", null, COM, "read"],
  ["commercial_restricted_use", "operator", "conditional", "not_certified", COM, "read"],
  ["eu", "type_of_use", "required", null, EU, "read"],
  ["eu", "product_name", "required", null, EU, "read"],
  ["eu", "authorisation_number", "required", null, EU, "read"],
  ["eu", "date", "required", null, EU, "read"],
  ["eu", "start", "conditional", "hours_limited", EU, "read"],
  ["eu", "quantity", "required", null, `${EU}; Reg. (EC) 1107/2009 Art. 67(1)`, "read"],
  ["eu", "rate", "optional", null, `${EU} (amount per unit)`, "memory"],
  ["eu", "location", "required", null, `${EU}; Art. 1(2)`, "read"],
  ["eu", "size", "required", null, EU, "read"],
  ["eu", "crop", "required", null, `${EU}; Art. 1(3)`, "read"],
  ["eu", "crop_eppo", "required", null, `${EU}; Art. 1(3)`, "read"],
  ["eu", "bbch", "conditional", "stage_limited", `${EU}; Art. 1(3)`, "read"],
  ["eu", "operator", "conditional", "germany", "PflSchG s. 11; Art. 1(4)", "read"],
  ["private_restricted_use", "product_name", "required", null, `${RUP}(1)`, "read"],
  ["private_restricted_use", "registration_number", "required", null, `${RUP}(1)`, "read"],
  ["private_restricted_use", "amount", "required", null, `${RUP}(2)`, "read"],
  ["private_restricted_use", "location", "required", null, `${RUP}(3)`, "read"],
  ["private_restricted_use", "size", "required", null, `${RUP}(3)`, "read"],
  ["private_restricted_use", "crop", "required", null, `${RUP}(3)`, "read"],
  ["private_restricted_use", "date", "required", null, `${RUP}(4)`, "read"],
  ["private_restricted_use", "certified_applicator", "required", null, `${RUP}(5)`, "read"],
  ["private_restricted_use", "certificate_number", "optional", null, `${RUP}(5)`, "read"],
];

/** @type {ReadonlyArray<Readonly<Requirement>>} */
export const REQUIREMENTS = Object.freeze(
  ROWS.map(([standard, field, need, condition, citation, basis]) =>
    Object.freeze({ standard, field, need, condition, citation, basis }),
  ),
);

/** @type {Readonly<Record<string, Readonly<RegionRule>>>} */
export const REGIONS = Object.freeze({
  PA: {
    keep_years: 3,
    record_within_days: 1,
    fields: ["end"],
    citation: "7 Pa. Code 128.35; Penn State Extension",
  },
  WA: {
    keep_years: 7,
    record_within_days: null,
    fields: [],
    citation: "Washington State Department of Agriculture, record page",
  },
  NC: {
    keep_years: 3,
    record_within_days: null,
    fields: [],
    citation: "North Carolina record summary table",
  },
  TX: {
    keep_years: 2,
    record_within_days: null,
    fields: ["start", "purpose", "rate", "equipment"],
    citation: "4 TAC 7.31",
  },
});
/** @type {ReadonlyMap<string, string>} */
const REGION_NAMES = new Map([
  ["PENNSYLVANIA", "PA"],
  ["WASHINGTON", "WA"],
  ["NORTH CAROLINA", "NC"],
  ["TEXAS", "TX"],
]);

/** @type {Readonly<Record<string, Readonly<CountryRule>>>} */
export const COUNTRIES = Object.freeze({
  DE: {
    conversion_from: "2027-01-01",
    by_year: true,
    citation: "reported use of Reg. (EU) 2025/2203, news item",
  },
  ES: {
    conversion_from: "2027-01-01",
    by_year: false,
    citation: "reported use of Reg. (EU) 2025/2203, news item",
  },
});

/**
 * Return the two letters of a US state that a rule is known for, or ''.
 * @param {JsonRecord} establishment
 * @returns {string}
 */
export function regionOf(establishment) {
  const country = textOf(establishment.country).toUpperCase();
  if (country !== "US" && country !== "") return "";
  const region = textOf(establishment.region).trim().toUpperCase().replace(/^US-/, "");
  const name = REGION_NAMES.get(region) ?? region;
  return Object.hasOwn(REGIONS, name) ? name : "";
}

/**
 * Return the rows of a standard; a US state's additions are required on top.
 * @param {string} standard
 * @param {string} [region]
 * @returns {ReadonlyArray<Readonly<Requirement>>}
 */
export function requirements(standard, region = "") {
  const rows = REQUIREMENTS.filter((row) => row.standard === standard);
  const state = Object.hasOwn(REGIONS, region) ? REGIONS[region] : null;
  if (state === null || standard === "eu") return Object.freeze(rows);
  const held = rows.filter((row) => row.need === "required").map((row) => row.field);
  for (const field of state.fields) {
    if (held.includes(field)) continue;
    rows.push(
      Object.freeze({
        standard,
        field,
        need: "required",
        condition: null,
        citation: state.citation,
        basis: "read",
      }),
    );
  }
  return Object.freeze(rows);
}

/** @param {any} value */
function has(value) {
  if (value === null || value === undefined || value === "") return false;
  return !(Array.isArray(value) && value.length === 0);
}

/**
 * A number of another country's register is no number here.
 * @param {JsonRecord} product
 * @param {string} country
 */
function isRegistered(product, country) {
  const origin = textOf(product.country).toUpperCase();
  return has(product.registration_number) && (origin === "" || origin === country);
}

/**
 * @param {string} field
 * @param {JsonRecord} product
 * @param {string} country
 * @returns {boolean}
 */
function ofProduct(field, product, country) {
  if (field === "product_name") return has(product.name);
  if (field === "registration_number") return isRegistered(product, "US");
  if (field === "authorisation_number") return isRegistered(product, country);
  if (field === "active_ingredients") {
    /** @type {JsonRecord[]} */
    const ingredients = product.ingredients ?? [];
    return ingredients.length > 0 && ingredients.every((one) => has(one.ai));
  }
  if (field === "sds") return has(product.sds_on);
  if (field === "quantity") return has(product.amount) || has(product.target);
  if (field === "rate") return has(product.target);
  return has(product[field]);
}

/**
 * @param {string} field
 * @param {JsonRecord} line
 * @param {JsonRecord} application
 * @returns {boolean}
 */
function ofLine(field, line, application) {
  if (field === "crop") return has(line.crop) || has(application.site);
  if (field === "location") return has(line.place) || has(line.house);
  if (field === "description") return has(line.bench) || has(application.area_described);
  return has(line[field]);
}

const PRODUCT_FIELDS = [
  "product_name",
  "registration_number",
  "authorisation_number",
  "active_ingredients",
  "sds",
  "rei",
  "double_notice",
  "amount",
  "quantity",
  "rate",
];
const LINE_FIELDS = ["crop", "crop_eppo", "location", "description", "bbch"];
// field of a standard -> field of the application
/** @type {Readonly<Record<string, string>>} */
const PLAIN_FIELDS = {
  start: "started_at",
  end: "ended_at",
  method_class: "method_class",
  operator: "operator_name",
  certified_applicator: "certified_applicator_name",
  certificate_number: "certified_applicator_number",
  type_of_use: "site",
  purpose: "purpose",
  equipment: "sprayer",
};

/**
 * Return what lacks a field of a standard: names of products or places, '' for the record. Empty: nothing
 * lacks it. A record without any product or place lacks their fields.
 * @param {string} field
 * @param {JsonRecord} application
 * @param {JsonRecord} establishment
 * @returns {ReadonlyArray<string>}
 */
export function lacking(field, application, establishment) {
  if (PRODUCT_FIELDS.includes(field)) {
    const country = textOf(establishment.country).toUpperCase();
    /** @type {JsonRecord[]} */
    const all = application.products ?? [];
    const products = all.filter((one) => (one.kind || "product") === "product");
    if (products.length === 0) return Object.freeze([""]);
    const without = products.filter((one) => !ofProduct(field, one, country));
    return Object.freeze(without.map((one) => textOf(one.name)));
  }
  /** @type {JsonRecord[]} */
  const lines = application.lines ?? [];
  if (LINE_FIELDS.includes(field)) {
    if (lines.length === 0) return Object.freeze([""]);
    const without = lines.filter((one) => !ofLine(field, one, application));
    return Object.freeze(without.map((one) => textOf(one.place)));
  }
  return Object.freeze(hasPlain(field, application, lines) ? [] : [""]);
}

/**
 * @param {string} field
 * @param {JsonRecord} application
 * @param {JsonRecord[]} lines
 * @returns {boolean}
 */
function hasPlain(field, application, lines) {
  if (field === "date") return has(application.started_at) || has(application.applied_on);
  if (field === "size") {
    if (has(application.area)) return true;
    return lines.length > 0 && lines.every((one) => has(one.area) || has(one.n_containers));
  }
  if (field === "customer_name" || field === "customer_address") {
    return has(application.customer?.[field.slice("customer_".length)]);
  }
  return has(application[PLAIN_FIELDS[field]]);
}
