// How the amounts of a mix come about, as formulas with the user's own numbers, to be followed by hand. The numbers are the
// mix core's; here they are only written out. Pure.
import { adjuvantMl } from "../core/dilution.js";
import { linesOf, sharedMlPerContainer, sharedMlPerM2 } from "../core/lines.js";
import { decimalText, formatNumber, formatQuantity, significantDecimals } from "../core/rounding.js";
import { densityGPerMl, strengthsOf } from "../core/strength.js";
import { convert, quantityValue, toBase, unitOf } from "../core/units.js";

/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */
/** @typedef {import("../core/tank.js").TankPlan} TankPlan */
/**
 * One line to follow: what is done (a catalogue code with texts) and the formula with its result.
 * @typedef {{code: string, params: Record<string, string>, formula: string}} Reckoning
 */
/** A partner with its reckoning. @typedef {{id: string, name: string, steps: Reckoning[]}} Reckoned */

const L_PER_MEASURE = { dry: "mg/g", liquid: "mg/mL" };

/**
 * @param {any} request           What was handed to `tankPlan`.
 * @param {TankPlan} plan         What it gave.
 * @param {Record<string, string>} placeNames  Line id -> name of the place.
 * @returns {{volume: Reckoning[], partners: Reckoned[]}}
 */
export function reckoningOf(request, plan, placeNames) {
  const write = writerFor(request.number_format);
  const lines = linesOf(request.lines, calibratedOf(request));
  return {
    volume: volumeSteps(request, plan, lines, placeNames, write),
    partners: plan.components.map((component) => {
      const record = request.components.find((/** @type {any} */ one) => one.id === component.id);
      return {
        id: component.id,
        name: component.product_name,
        steps: [
          ...targetSteps(record, component, plan, lines, request, write),
          ...loadSteps(component, plan, write),
        ],
      };
    }),
  };
}

/** @param {any} request */
const calibratedOf = ({ calibrated }) =>
  calibrated ? quantityValue(calibrated, "volume_per_area", "calibrated") : null;

/**
 * How numbers are written in a formula: every digit that was typed, five significant digits of what was computed, so that
 * the next line comes out by hand too.
 * @param {NumberFormat} format
 */
function writerFor(format) {
  /** @param {number} value @param {string} unit */
  const number = (value, unit) => {
    let places = significantDecimals(value, 5);
    while (places > 0 && decimalText(value, places).endsWith("0")) places -= 1;
    return unit === "mg/g"
      ? `${formatQuantity(value, "1", format, places)}\u00a0mg/g`
      : formatQuantity(value, unit, format, places);
  };
  return {
    number,
    /** @param {number} litres */
    litres: (litres) => number(litres, "L"),
    /** @param {{value: string, unit: string}} stored */
    typed: (stored) => {
      const symbol = unitOf(stored.unit).symbol;
      return `${stored.value.replace(".", format.decimal)}${symbol === "" ? "" : `\u00a0${symbol}`}`;
    },
    /** @param {number} value @param {number} nDecimals */
    plain: (value, nDecimals) => formatNumber(value, nDecimals, format),
  };
}
/** @typedef {ReturnType<typeof writerFor>} Writer */

/** @param {string} code @param {string} formula @param {Record<string, string>} [params] @returns {Reckoning} */
const step = (code, formula, params = {}) => ({ code, params, formula });

/**
 * Places, their sum, what is added, and the stock behind an injector.
 * @param {any} request @param {TankPlan} plan @param {ReadonlyArray<import("../core/lines.js").Line>} lines
 * @param {Record<string, string>} names @param {Writer} write
 */
function volumeSteps(request, plan, lines, names, write) {
  /** @type {Reckoning[]} */
  const steps = [];
  const perArea = request.lines.find((/** @type {any} */ line) => line.volume_per_area)?.volume_per_area;
  const perItem = request.lines.find(
    (/** @type {any} */ line) => line.volume_per_container,
  )?.volume_per_container;
  if (perArea && perArea.unit !== "mL/m2")
    steps.push(converted("mix.how.rate_unit", perArea, "mL/m2", write));
  if (perItem && !METRIC_ITEMS.has(perItem.unit))
    steps.push(converted("mix.how.rate_unit", perItem, metricItem(perItem.unit), write));
  for (const line of lines) {
    const volume = write.litres(line.volume_l);
    const params = { place: names[line.id] ?? line.id };
    if (line.ml_per_container !== null)
      steps.push(
        step(
          "mix.how.place_containers",
          `${write.plain(Number(line.n_containers), 0)} × ${write.number(line.ml_per_container, "mL")} ÷ 1000 = ${volume}`,
          params,
        ),
      );
    else if (line.ml_per_m2 !== null)
      steps.push(
        step(
          "mix.how.place_area",
          `${write.number(Number(line.area_m2), "m2")} × ${write.number(line.ml_per_m2, "mL/m2")} ÷ 1000 = ${volume}`,
          params,
        ),
      );
    else steps.push(step("mix.how.place_volume", volume, params));
  }
  const parts = lines.map((line) => write.litres(line.volume_l));
  if (lines.length > 1)
    steps.push(step("mix.how.sum", `${parts.join(" + ")} = ${write.litres(plan.applied_l)}`));
  if (plan.extra_l > 0)
    steps.push(
      step(
        "mix.how.extra",
        `${write.litres(plan.applied_l)} + ${write.litres(plan.extra_l)} = ${write.litres(plan.applied_l + plan.extra_l)}`,
      ),
    );
  if (plan.injector_factor !== 1) {
    const { ratio, meaning } = request.injector;
    const factor = write.number(plan.injector_factor, "1");
    if (meaning === "part_to_water")
      steps.push(
        step("mix.how.injector_to_water", `${write.typed({ value: ratio, unit: "1" })} + 1 = ${factor}`, {
          ratio,
        }),
      );
    steps.push(
      step(
        meaning === "part_to_water" ? "mix.how.injector_stock" : "mix.how.injector_in_total",
        `${write.litres(plan.applied_l + plan.extra_l)} ÷ ${factor} = ${write.litres(plan.volume_l)}`,
        { ratio },
      ),
    );
  }
  return steps;
}

const METRIC_ITEMS = new Set(["mL/{pot}", "mL/{plant}", "mL/{tray}", "mL/{bulb}"]);

/** "[foz_us]/{pot}" -> "mL/{pot}" @param {string} unit */
const metricItem = (unit) => `mL/${unit.slice(unit.indexOf("/") + 1)}`;

/** @param {string} code @param {{value: string, unit: string}} stored @param {string} unit @param {Writer} write */
const converted = (code, stored, unit, write) =>
  step(
    code,
    `${write.typed(stored)} = ${write.number(convert(Number(stored.value), stored.unit, unit), unit)}`,
  );

/**
 * From the target to the amount of the whole batch.
 * @param {any} record @param {TankPlan["components"][0]} component @param {TankPlan} plan
 * @param {ReadonlyArray<import("../core/lines.js").Line>} lines @param {any} request @param {Writer} write
 * @returns {Reckoning[]}
 */
function targetSteps(record, component, plan, lines, request, write) {
  const finalL = plan.applied_l + plan.extra_l;
  const product = record.product;
  const measured = component.unit;
  const total = write.number(component.total, measured);
  const perL = write.number(component.amount_per_l, `${measured}/L`);
  const volume = write.litres(finalL);
  if (record.matches) {
    const other = request.components.find((/** @type {any} */ one) => one.id === record.matches);
    return [
      step("mix.how.matches", `${perL} × ${volume} = ${total}`, {
        product: other?.product.name ?? record.matches,
      }),
    ];
  }
  const strengths = strengthsOf(product);
  if ((record.target_of || (strengths.length > 0 ? "ai" : "product")) === "product")
    return productSteps(record, component, lines, finalL, write);

  const aimed = aimedAt(record, strengths);
  const per = measured === "g" ? L_PER_MEASURE.dry : L_PER_MEASURE.liquid;
  const index = strengths.indexOf(aimed);
  const steps = [strengthStep(product, product.ingredients[index], aimed, per, write)];
  const concentration = component.ais[index].mg_per_l;
  const wanted = write.number(concentration, "mg/L");
  const dimension = unitOf(record.target.unit).dimension;
  if (dimension === "mass_per_item") {
    const ml = write.number(sharedMlPerContainer(lines), "mL");
    steps.push(
      step("mix.how.dose_item", `${inMg(record.target, write)} × 1000 ÷ ${ml} = ${wanted}`, { ai: aimed.ai }),
    );
  } else if (dimension === "mass_per_area") {
    if (record.target.unit !== "mg/m2")
      steps.push(converted("mix.how.target_unit", record.target, "mg/m2", write));
    const dose = write.number(toBase(Number(record.target.value), record.target.unit), "mg/m2");
    const ml = write.number(sharedMlPerM2(lines), "mL/m2");
    steps.push(step("mix.how.dose_area", `${dose} × 1000 ÷ ${ml} = ${wanted}`, { ai: aimed.ai }));
  } else if (record.target.unit !== "mg/L") {
    steps.push(converted("mix.how.target_unit", record.target, "mg/L", write));
  }
  steps.push(
    step(
      measured === "g" ? "mix.how.weigh" : "mix.how.c1v1",
      `${wanted} × ${volume} ÷ ${write.number(aimed.mg_per_measure, per)} = ${total}`,
      { ai: aimed.ai },
    ),
  );
  return steps;
}

/** The strength that the target counts; `tankPlan` has refused what is open. @param {any} record @param {readonly any[]} strengths */
function aimedAt(record, strengths) {
  const fitting = strengths.filter((one) => !record.target_ai || one.ai === record.target_ai);
  return fitting.find((one) => one.expressed_as === record.target_expressed_as) ?? fitting[0];
}

/** A dose per pot, plant or bulb in mg. @param {{value: string, unit: string}} target @param {Writer} write */
const inMg = (target, write) => write.number(toBase(Number(target.value), target.unit), "mg");

/**
 * What the label's strength means per mL or g.
 * @param {any} product @param {any} ingredient @param {any} aimed @param {string} per @param {Writer} write
 */
function strengthStep(product, ingredient, aimed, per, write) {
  const { strength, basis } = ingredient;
  const result = write.number(aimed.mg_per_measure, per);
  const params = { ai: aimed.ai, label: write.typed(strength) };
  if (strength.unit !== "%")
    return step("mix.how.strength_label", `${write.typed(strength)} = ${result}`, params);
  const density = per === "mg/mL" && basis === "w_w" ? densityGPerMl(product) : null;
  if (density !== null)
    return step(
      "mix.how.strength_by_weight",
      `${write.typed(strength)} × 10 × ${write.typed(product.density)} = ${result}`,
      params,
    );
  return step(
    per === "mg/g" ? "mix.how.strength_dry" : "mix.how.strength_in_volume",
    `${write.typed(strength)} × 10 = ${result}`,
    params,
  );
}

/**
 * A rate of product: by volume, in per cent, by weight, or per area.
 * @param {any} record @param {TankPlan["components"][0]} component
 * @param {ReadonlyArray<import("../core/lines.js").Line>} lines @param {number} finalL @param {Writer} write
 */
function productSteps(record, component, lines, finalL, write) {
  const { target, product } = record;
  const { dimension } = unitOf(target.unit);
  const measured = component.unit;
  const total = write.number(component.total, measured);
  const perL = write.number(component.amount_per_l, `${measured}/L`);
  const volume = write.litres(finalL);
  if (dimension === "fraction") {
    const amount = write.number(adjuvantMl(Number(target.value), finalL), "mL");
    return [step("mix.how.percent", `${write.typed(target)} × 10 × ${volume} = ${amount}`)];
  }
  /** @type {Reckoning[]} */
  const steps = [];
  const isByWeight = dimension === "mass_concentration" || dimension === "mass_per_area";
  if (dimension === "volume_per_area" || dimension === "mass_per_area") {
    const unit = isByWeight ? "g/m2" : "mL/m2";
    if (target.unit !== unit) steps.push(converted("mix.how.target_unit", target, unit, write));
    const rate = write.number(convert(Number(target.value), target.unit, unit), unit);
    const ml = write.number(sharedMlPerM2(lines), "mL/m2");
    const given = (convert(Number(target.value), target.unit, unit) * 1000) / sharedMlPerM2(lines);
    steps.push(
      step(
        "mix.how.product_area",
        `${rate} × 1000 ÷ ${ml} = ${write.number(given, isByWeight ? "g/L" : "mL/L")}`,
      ),
    );
    if (isByWeight && measured === "mL")
      steps.push(
        step(
          "mix.how.by_density",
          `${write.number(given, "g/L")} ÷ ${write.typed(product.density)} = ${perL}`,
        ),
      );
  } else {
    const unit = isByWeight ? "g/L" : "mL/L";
    if (target.unit !== unit) steps.push(converted("mix.how.target_unit", target, unit, write));
    if (isByWeight && measured === "mL") {
      const grams = write.number(convert(Number(target.value), target.unit, "g/L"), "g/L");
      steps.push(step("mix.how.by_density", `${grams} ÷ ${write.typed(product.density)} = ${perL}`));
    }
  }
  steps.push(step("mix.how.product_rate", `${perL} × ${volume} = ${total}`));
  return steps;
}

/**
 * From the whole batch to each load; nothing where there is one.
 * @param {TankPlan["components"][0]} component @param {TankPlan} plan @param {Writer} write
 */
function loadSteps(component, plan, write) {
  const nLoads = plan.loads.reduce((sum, load) => sum + load.numbers.length, 0);
  if (nLoads === 1) return [];
  return plan.loads.map((load) => {
    const amount = load.amounts.find((one) => one.component_id === component.id);
    return step(
      load.numbers.length === 1 ? "mix.how.load" : "mix.how.loads",
      `${write.number(component.total, component.unit)} × ${write.litres(load.volume_l)} ÷ ${write.litres(plan.volume_l)} = ${write.number(amount?.exact ?? 0, component.unit)}`,
      { numbers: load.numbers.join(", ") },
    );
  });
}
