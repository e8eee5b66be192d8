/**
 * Order of mixing, partners that must not meet, water and time: what a mix asks for.
 * Twin: server/tepal/domain/mixing_order.py. The order goes by formulation type (two-letter codes of
 * the international coding system, CropLife Technical Monograph 2). Source of the order: Country Guide
 * (Canada), up to emulsifiable concentrates; solutions, surfactants and conditioners from memory. The
 * label wins even where it contradicts this order (Ontario outreach article on tank mixing).
 * @module
 */

import { Finding, textOf } from "./errors.js";
import { positive, within } from "./ranges.js";
import { decimalValue, quantityValue } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/** @typedef {import("./components.js").Rate} Rate */
/**
 * One partner's place after half the water is in and moving; `source` of that place.
 * @typedef {{component_id: string, rank: number, source: string}} MixingStep
 */

// 'not more than three partners': Ontario outreach article on tank mixing order and jar test.
export const MAX_PARTNERS = 3;

const GUIDE = "Country Guide (Canada), tank mixing order";
const MEMORY = "from memory";
const NO_TYPE = "formulation type not on file: the label decides";

// formulation type -> [rank, source of its place]
/** @type {ReadonlyMap<string, readonly [number, string]>} */
const RANKS = new Map([
  ["WP", [2, GUIDE]],
  ["WG", [2, GUIDE]],
  ["DF", [2, GUIDE]],
  ["SP", [2, MEMORY]],
  ["SG", [2, MEMORY]],
  ["ST", [2, MEMORY]],
  ["WT", [2, MEMORY]],
  ["SC", [3, GUIDE]],
  ["CS", [3, MEMORY]],
  ["SE", [3, MEMORY]],
  ["OD", [3, MEMORY]],
  ["EW", [4, MEMORY]],
  ["ME", [4, MEMORY]],
  ["EC", [4, GUIDE]],
  ["DC", [4, MEMORY]],
  ["SL", [5, MEMORY]],
]);
/** @type {readonly [number, string]} */
const CONDITIONER_RANK = [1, MEMORY];
/** @type {readonly [number, string]} */
const ADJUVANT_RANK = [7, MEMORY];
/** @type {readonly [number, string]} */
const UNKNOWN_RANK = [6, NO_TYPE];

/**
 * @param {Rate} rate
 * @returns {readonly [number, string]}
 */
function rankOf(rate) {
  if (rate.kind === "water_conditioner") return CONDITIONER_RANK;
  if (rate.kind === "adjuvant") return ADJUVANT_RANK;
  return RANKS.get(rate.formulation_type || "") ?? UNKNOWN_RANK;
}

/**
 * @param {string} a
 * @param {string} b
 */
function byText(a, b) {
  return a < b ? -1 : a > b ? 1 : 0;
}

/**
 * Return the partners in mixing order; equal ranks keep the order of their ids.
 * @param {ReadonlyArray<Rate>} rates
 * @returns {ReadonlyArray<Readonly<MixingStep>>}
 */
export function mixingSteps(rates) {
  const steps = rates.map((rate) => {
    const [rank, source] = rankOf(rate);
    return Object.freeze({ component_id: rate.id, rank, source });
  });
  steps.sort((a, b) => a.rank - b.rank || byText(a.component_id, b.component_id));
  return Object.freeze(steps);
}

/**
 * Return what a register may call a partner: its product's id or name, or an a.i. in it.
 * @param {Rate} rate
 * @returns {Set<string>}
 */
function namesOf(rate) {
  const names = new Set(rate.ais.map((ai) => ai.ai));
  names.add(rate.product_name);
  if (rate.product_id !== null) names.add(rate.product_id);
  return names;
}

/**
 * @param {Rate} first
 * @param {Rate} second
 * @param {JsonRecord} request
 * @returns {Finding[]}
 */
function pairFindings(first, second, request) {
  /** @type {Finding[]} */
  const findings = [];
  const ones = namesOf(first);
  const others = namesOf(second);
  const both = [first.product_name, second.product_name].sort(byText).join(" + ");
  for (const { a, b, source, reason } of request.incompatible_pairs ?? []) {
    if ((ones.has(a) && others.has(b)) || (ones.has(b) && others.has(a))) {
      findings.push(
        new Finding(
          "mix.incompatible_pair",
          "stop",
          `${both} are on file as not to be mixed.`,
          "components",
          source ?? null,
          { pair: both, reason: reason ?? null },
        ),
      );
    }
  }
  /** @type {unknown[]} */
  const results = [];
  for (const test of request.jar_tests ?? []) {
    /** @type {string[]} */
    const tested = test.products ?? [];
    if (tested.some((name) => ones.has(name)) && tested.some((name) => others.has(name))) {
      results.push(test.result);
    }
  }
  if (results.includes("incompatible")) {
    findings.push(
      new Finding(
        "mix.jar_test_failed",
        "stop",
        `A jar test of ${both} failed.`,
        "components",
        "jar test on file",
        { pair: both },
      ),
    );
  } else if (!results.includes("compatible")) {
    findings.push(
      new Finding(
        "mix.jar_test_missing",
        "note",
        `No jar test of ${both} is on file.`,
        "components",
        "Purdue University PPP-122",
        { pair: both },
      ),
    );
  }
  return findings;
}

/**
 * @param {JsonRecord} record
 * @param {string} name
 * @returns {number | null}
 */
function phOf(record, name) {
  const value = record[name] ?? null;
  return value === null ? null : within(decimalValue(value, name), name, 0, 14);
}

/**
 * @param {JsonRecord} record
 * @param {string} name
 * @returns {number | null}
 */
function temperatureOf(record, name) {
  const value = record[name] ?? null;
  if (value === null) return null;
  return within(quantityValue(value, "temperature", name), name, -20, 80);
}

/**
 * Compare the water with the pH and temperature that the user copied from the label.
 * @param {JsonRecord} product
 * @param {JsonRecord} water
 * @returns {Finding[]}
 */
function waterFindings(product, water) {
  /** @type {Finding[]} */
  const findings = [];
  const name = textOf(product.name);
  const source = textOf(product.water_source) || "label as copied by the user";
  const low = phOf(product, "water_ph_min");
  const high = phOf(product, "water_ph_max");
  if (low !== null || high !== null) {
    const ph = phOf(water, "ph");
    const context = { component: name, low, high };
    if (ph === null) {
      findings.push(
        new Finding(
          "mix.water_ph_unknown",
          "caution",
          `${name} asks for a water pH; measure it.`,
          "water",
          source,
          context,
        ),
      );
    } else if ((low !== null && ph < low) || (high !== null && ph > high)) {
      findings.push(
        new Finding(
          "mix.water_ph_outside",
          "caution",
          `${name}: the water has pH ${ph}, outside what the product asks for.`,
          "water",
          source,
          { ...context, value: ph },
        ),
      );
    }
  }
  const coldest = temperatureOf(product, "water_temperature_min");
  const warmest = temperatureOf(product, "water_temperature_max");
  if (coldest !== null || warmest !== null) {
    const degrees = temperatureOf(water, "temperature");
    const context = { component: name, low: coldest, high: warmest };
    if (degrees === null) {
      findings.push(
        new Finding(
          "mix.water_temperature_unknown",
          "caution",
          `${name} asks for a water temperature; measure it.`,
          "water",
          source,
          context,
        ),
      );
    } else if ((coldest !== null && degrees < coldest) || (warmest !== null && degrees > warmest)) {
      findings.push(
        new Finding(
          "mix.water_temperature_outside",
          "caution",
          `${name}: the water has ${degrees} degC, outside what the product asks for.`,
          "water",
          source,
          { ...context, value: degrees },
        ),
      );
    }
  }
  return findings;
}

/**
 * Return the shortest use-within time of the products in hours; null if none is on file.
 * @param {ReadonlyArray<JsonRecord>} products
 * @returns {number | null}
 */
export function useWithinH(products) {
  /** @type {number | null} */
  let shortest = null;
  for (const product of products) {
    const stated = product.use_within ?? null;
    if (stated === null) continue;
    const hours = positive(quantityValue(stated, "time", "use_within") / 3600, "use_within");
    if (shortest === null || hours < shortest) shortest = hours;
  }
  return shortest;
}

/**
 * Return what is doubtful about a mix: partners, pairs, jar tests, types, water.
 * @param {ReadonlyArray<Rate>} rates the partners in the tank
 * @param {ReadonlyArray<JsonRecord>} components their records; a `product` may state what its label
 *   asks of the water: `water_ph_min`, `water_ph_max` (decimal text), `water_temperature_min`,
 *   `water_temperature_max`, `water_source`
 * @param {JsonRecord} request `water` {ph, temperature}, `incompatible_pairs` [{a, b, reason, source}]
 *   and `jar_tests` [{products, result}]; a, b and products are product ids, product names or active
 *   ingredients
 * @returns {ReadonlyArray<Finding>}
 */
export function mixFindings(rates, components, request) {
  /** @type {Finding[]} */
  const findings = [];
  const ordered = [...rates].sort((a, b) => byText(a.id, b.id));
  if (ordered.length > MAX_PARTNERS) {
    findings.push(
      new Finding(
        "mix.many_partners",
        "note",
        `${ordered.length} partners are more than the ${MAX_PARTNERS} usually advised.`,
        "components",
        "Ontario outreach article on tank mixing order and jar test",
        { n: ordered.length, highest: MAX_PARTNERS },
      ),
    );
  }
  for (const rate of ordered) {
    const isTyped = rate.kind === "product" || rate.kind === "formulation_blank";
    if (isTyped && !RANKS.has(rate.formulation_type ?? "")) {
      findings.push(
        new Finding(
          "mix.formulation_type_unknown",
          "caution",
          `${rate.product_name}: its formulation type is not on file, so its place in the mixing ` +
            "order is not known.",
          "components",
          null,
          { component: rate.product_name },
        ),
      );
    }
  }
  for (const [i, first] of ordered.entries()) {
    for (const second of ordered.slice(i + 1)) {
      findings.push(...pairFindings(first, second, request));
    }
  }
  const products = new Map(components.map((component) => [component.id, component.product]));
  for (const rate of ordered) {
    findings.push(...waterFindings(products.get(rate.id), request.water || {}));
  }
  return Object.freeze(findings);
}
