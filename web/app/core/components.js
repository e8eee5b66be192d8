/**
 * Partners of a tank mix: each one's own target turned into product per litre of final solution.
 * Twin: server/tepal/domain/components.py. A component is a record
 * `{id, product, target {value, unit}, target_of, target_ai, target_expressed_as, matches}`; see
 * `rateOf` for what each target means. Nothing is guessed: a target that can mean two things throws.
 * @module
 */

import { productG, productMl } from "./dilution.js";
import { NotFoundError, TepalError, textOf } from "./errors.js";
import { sharedMlPerContainer, sharedMlPerM2 } from "./lines.js";
import { positive } from "./ranges.js";
import { densityGPerMl, StrengthError, strengthsOf } from "./strength.js";
import { quantityValue, unitOf } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/** @typedef {import("./lines.js").Line} Line */
/** @typedef {import("./strength.js").Strength} Strength */
/**
 * One active ingredient of a partner in the final solution.
 * @typedef {{ai: string, expressed_as: string, mg_per_l: number}} AiRate
 */
/**
 * One partner per litre of final solution: mL of a liquid or g of a dry one, and its a.i.
 * @typedef {object} Rate
 * @property {string} id
 * @property {string | null} product_id
 * @property {string} product_name
 * @property {string} kind
 * @property {string} physical_form
 * @property {string | null} formulation_type
 * @property {string} unit
 * @property {number} amount_per_l
 * @property {ReadonlyArray<Readonly<AiRate>>} ais
 */
export const KINDS = Object.freeze(["product", "adjuvant", "formulation_blank", "water_conditioner"]);

/** A partner of the mix does not say what it aims at, or says what its product cannot do. */
export class ComponentError extends TepalError {}

/**
 * @param {JsonRecord} component
 * @param {ReadonlyArray<Strength>} strengths
 * @param {string} name
 * @returns {Strength}
 */
function aimedStrength(component, strengths, name) {
  if (strengths.length === 0) {
    throw new ComponentError(
      "component.no_active_ingredient",
      `${name} has no active ingredient; its target is an amount of product.`,
      { component: name },
    );
  }
  const ais = new Set(strengths.map((strength) => strength.ai));
  const wanted = component.target_ai ?? null;
  if (wanted === null && ais.size > 1) {
    throw new ComponentError(
      "component.target_ai_missing",
      `${name} has several active ingredients; say which one the target counts.`,
      { component: name, ais: [...ais].sort() },
    );
  }
  const fitting = strengths.filter((strength) => wanted === null || strength.ai === wanted);
  if (fitting.length === 0) {
    throw new NotFoundError("component.target_ai_unknown", `${name} does not contain ${wanted}.`, {
      component: name,
      ai: textOf(wanted),
    });
  }
  if (fitting.length === 1) return fitting[0];
  const countedAs = component.target_expressed_as ?? null;
  const chosen = fitting.filter((strength) => strength.expressed_as === countedAs);
  if (chosen.length !== 1) {
    throw new ComponentError(
      "component.salt_or_acid_equivalent",
      `${name}: the label states ${fitting[0].ai} as ${fitting[0].expressed_as} and as ` +
        `${fitting[1].expressed_as}; say which one the target counts.`,
      {
        component: name,
        ai: fitting[0].ai,
        choices: fitting.map((strength) => strength.expressed_as),
      },
    );
  }
  return chosen[0];
}

/**
 * @param {number} mgPerL
 * @param {Strength} strength
 * @param {boolean} isDry
 */
function productPerLFromAi(mgPerL, strength, isDry) {
  if (isDry) return productG(mgPerL, 1, strength.mg_per_measure);
  return productMl(mgPerL, 1, strength.mg_per_measure);
}

/**
 * @param {JsonRecord} component
 * @param {string} dimension
 * @param {ReadonlyArray<Line>} lines
 * @param {string} name
 */
function aiMgPerL(component, dimension, lines, name) {
  const target = component.target;
  if (dimension === "mass_concentration") {
    return positive(quantityValue(target, dimension, "target"), "target");
  }
  if (dimension === "mass_per_item") {
    const mg = positive(quantityValue(target, dimension, "target"), "target");
    return (mg * 1000) / sharedMlPerContainer(lines);
  }
  if (dimension === "mass_per_area") {
    const mg = positive(quantityValue(target, dimension, "target"), "target");
    return (mg * 1000) / sharedMlPerM2(lines);
  }
  throw new ComponentError(
    "component.target_unit",
    `${name}: a target of ${dimension} says nothing about the active ingredient; give mg/L, mg per ` +
      "container or mg per area, or say that it counts product.",
    { component: name, dimension },
  );
}

/**
 * @param {JsonRecord} component
 * @param {string} dimension
 * @param {boolean} isDry
 * @param {ReadonlyArray<Line>} lines
 * @param {string} name
 */
function productPerL(component, dimension, isDry, lines, name) {
  if (["volume_ratio", "fraction", "volume_per_area"].includes(dimension) && isDry) {
    throw new ComponentError(
      "component.volume_for_dry_product",
      `${name} is dry; it is weighed, a volume cannot be measured.`,
      { component: name },
    );
  }
  if (
    !["volume_ratio", "fraction", "volume_per_area", "mass_concentration", "mass_per_area"].includes(
      dimension,
    )
  ) {
    throw new ComponentError(
      "component.target_unit",
      `${name}: a target of ${dimension} is no rate of product.`,
      { component: name, dimension },
    );
  }
  let amount = positive(quantityValue(component.target, dimension, "target"), "target");
  if (dimension === "volume_per_area" || dimension === "mass_per_area") {
    amount = (amount * 1000) / sharedMlPerM2(lines);
  }
  if (dimension === "fraction") amount = amount * 10;
  if (dimension === "mass_concentration" || dimension === "mass_per_area") {
    amount = amount / 1000;
    if (!isDry) {
      const density = densityGPerMl(component.product);
      if (density === null) {
        throw new StrengthError(
          "strength.density_missing",
          `${name} is a liquid with a rate by weight; its density is needed.`,
          { ai: name },
        );
      }
      amount = amount / density;
    }
  }
  if (amount > 1000) {
    throw new ComponentError(
      "component.more_than_the_tank",
      `${name}: ${amount} mL or g of product do not go into a litre.`,
      { component: name, amount_per_l: amount },
    );
  }
  return amount;
}

/**
 * Return one partner's product and active ingredients per litre of final solution.
 *
 * `component` has a `product` (see `strengthsOf`; `kind` one of KINDS, default 'product') and a
 * `target` {value, unit}. `target_of` says what the target counts: 'ai' (default for a product with
 * active ingredients) as mg/L, mg per container or mg per area; 'product' (default otherwise) as
 * mL/L, % by volume, mass per volume, or an amount of product per area. `target_ai` where the product
 * has several, `target_expressed_as` where the label states a salt and an acid equivalent.
 * @param {JsonRecord} component
 * @param {ReadonlyArray<Line>} lines asked for their volume only by a dose per container or area
 * @returns {Readonly<Rate>}
 */
export function rateOf(component, lines) {
  const product = component.product;
  if (typeof product !== "object" || product === null || Array.isArray(product)) {
    throw new ComponentError("component.product_missing", "A partner of the mix names no product.", {
      component: component.id ?? null,
    });
  }
  const name = textOf(product.name) || textOf(component.id);
  const stated = product.kind ?? null;
  const kind = stated === null || stated === "" ? "product" : stated;
  if (!KINDS.includes(kind)) {
    throw new ComponentError("component.kind_unknown", `${name}: ${kind} is no kind of product.`, {
      component: name,
      kind: textOf(kind),
    });
  }
  const strengths = strengthsOf(product);
  if (kind === "product" && strengths.length === 0) {
    throw new ComponentError(
      "component.ingredients_missing",
      `${name} has no active ingredient on file; copy it from the label.`,
      { component: name },
    );
  }
  if (kind === "formulation_blank" && strengths.length > 0) {
    throw new ComponentError(
      "component.blank_with_ingredient",
      `${name} is a formulation blank, so it has no active ingredient.`,
      { component: name },
    );
  }
  const isDry = product.physical_form === "dry";
  const { dimension } = unitOf(component.target?.unit);
  const counts = component.target_of || (strengths.length > 0 ? "ai" : "product");
  let perL;
  if (counts === "ai") {
    const aimed = aimedStrength(component, strengths, name);
    const mgPerL = aiMgPerL(component, dimension, lines, name);
    perL = productPerLFromAi(mgPerL, aimed, isDry);
  } else if (counts === "product") {
    perL = productPerL(component, dimension, isDry, lines, name);
  } else {
    throw new ComponentError("component.target_of_unknown", `${name}: a target counts 'ai' or 'product'.`, {
      component: name,
    });
  }
  const amountPerL = perL;
  return Object.freeze({
    id: component.id,
    product_id: textOf(product.id) || null,
    product_name: name,
    kind,
    physical_form: product.physical_form,
    formulation_type: textOf(product.formulation_type) || null,
    unit: isDry ? "g" : "mL",
    amount_per_l: amountPerL,
    ais: Object.freeze(
      strengths.map((strength) =>
        Object.freeze({
          ai: strength.ai,
          expressed_as: strength.expressed_as,
          mg_per_l: amountPerL * strength.mg_per_measure,
        }),
      ),
    ),
  });
}

/**
 * Return a formulation blank at the amount of the product whose formulation it shares.
 * @param {JsonRecord} component
 * @param {Rate} matched
 * @param {ReadonlyArray<Line>} lines
 * @returns {Readonly<Rate>}
 */
function blankRate(component, matched, lines) {
  // Any amount does: only the blank's own form and name are read from this rate.
  const isDry = component.product?.physical_form === "dry";
  const target = { value: "1", unit: isDry ? "g/L" : "mL/L" };
  const blank = rateOf({ ...component, target, target_of: "product" }, lines);
  if (blank.unit !== matched.unit) {
    throw new ComponentError(
      "component.blank_of_other_form",
      `${blank.product_name} and ${matched.product_name} must both be liquid or both dry.`,
      { component: blank.product_name, matched: matched.product_name },
    );
  }
  return Object.freeze({ ...blank, amount_per_l: matched.amount_per_l, ais: Object.freeze([]) });
}

/**
 * Return every partner's rate, in the order of the records. A component with `matches` (a formulation
 * blank, the formulation without its a.i.) takes the amount of the component of that id; that one need
 * not be in the tank if it is marked `is_reference`, so that a trial's blank can be mixed alone at its
 * product's amount.
 * @param {ReadonlyArray<JsonRecord>} components
 * @param {ReadonlyArray<Line>} lines
 * @returns {ReadonlyArray<Readonly<Rate>>}
 */
export function ratesOf(components, lines) {
  if (components.every((component) => component.is_reference)) {
    throw new ComponentError("component.none", "The mix has no product.");
  }
  /** @type {Map<string, Readonly<Rate>>} */
  const found = new Map();
  /** @type {Set<string>} */
  const seen = new Set();
  for (const component of components) {
    const key = component.id;
    if (typeof key !== "string" || key === "") {
      throw new ComponentError("component.id_missing", "A partner of the mix has no id.");
    }
    if (seen.has(key)) {
      throw new ComponentError("component.id_twice", `Two partners are called ${key}.`, { id: key });
    }
    seen.add(key);
    if ((component.matches ?? null) === null) found.set(key, rateOf(component, lines));
  }
  for (const component of components) {
    if ((component.matches ?? null) === null) continue;
    const matched = found.get(textOf(component.matches));
    if (matched === undefined) {
      throw new NotFoundError(
        "component.match_unknown",
        `There is no partner ${component.matches} to match.`,
        { id: textOf(component.matches) },
      );
    }
    found.set(component.id, blankRate(component, matched, lines));
  }
  return Object.freeze(
    components
      .filter((component) => !component.is_reference)
      .map((component) => /** @type {Readonly<Rate>} */ (found.get(component.id))),
  );
}
