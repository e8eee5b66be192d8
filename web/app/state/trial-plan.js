// A trial while it is planned: what was typed, and its record. Pure; long, as the steps of one form share what was typed.

import { parseDecimal } from "../core/rounding.js";

/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */

/** A comparison of the trial's own: a weight, as typed, by the treatment's number.
 * @typedef {{name: string, weights: Record<string, string>}} PlannedContrast */

/** What the planner starts with. @typedef {typeof EMPTY} Plan */
export const EMPTY = {
  step: "question",
  code: "",
  title: "",
  question: "",
  responsible: /** @type {string | null} */ (null),
  permit: /** @type {string | null} */ (null),
  lots: /** @type {string[]} */ ([]),
  block_lots: /** @type {Record<string, string>} the lot of a block, where somebody chose */ ({}),
  treatments: /** @type {any[]} */ ([]),
  factors: /** @type {{name: string, levels: string}[]} */ ([]),
  unit: /** @type {string | null} */ (null),
  treated_how: /** @type {string | null} */ (null),
  treated_words: "",
  design: "rcbd",
  n_blocks: "4",
  plants_per_plot: "1",
  blocks_are: "",
  cv: "",
  difference: "",
  power: "0.8",
  bench: /** @type {string | null} */ (null),
  rows: "",
  columns: "",
  guard_rows: "0",
  guard_columns: "0",
  out_of_use: "",
  layout: /** @type {any} */ (null),
  reason: "",
  blinded: /** @type {boolean | null} */ (true),
  measurements: /** @type {any[]} */ ([]),
  primary_response: /** @type {string | null} */ (null),
  assessments: /** @type {any[]} */ ([]),
  comparison: "dunnett",
  interaction_scale: /** @type {string | null} */ (null),
  contrasts: /** @type {PlannedContrast[]} */ ([]),
  plan_reason: "",
  wanted_value: "",
  covariate: /** @type {string | null} */ (null),
  plot_area: /** @type {any} as typed */ ({ value: "", unit: "m2" }),
  plotArea: /** @type {any} as stored */ (null),
  overage: "10",
  harvests: /** @type {any[]} */ ([]),
  harvest_seed: "",
  harvest_plan: "",
  isPotted: false,
};

/**
 * A treatment with its name made of its mix and its rate, where nobody has typed another: "Drench 4 mg/L".
 * @param {any} one @param {any} more  What changes. @param {{id: string, name: string}[]} mixes
 */
export function namedByMix(one, more, mixes) {
  const next = { ...one, ...more };
  if (more.name !== undefined || (one.name && one.name !== nameOf(one, mixes))) return next;
  return { ...next, name: nameOf(next, mixes) || (one.name ?? "") };
}

/** @param {any} one @param {{id: string, name: string}[]} mixes */
function nameOf({ tank_mix, role, rate, rate_unit }, mixes) {
  const mix = mixes.find((row) => row.id === tank_mix)?.name ?? "";
  const said = role === "rate" && rate ? `${rate} ${rate_unit ?? "mg/L"}` : "";
  return (mix.includes(said) ? mix : `${mix} ${said}`.trim()).slice(0, 120);
}

export const STEPS = [
  "question",
  "lots",
  "treatments",
  "unit",
  "design",
  "layout",
  "measurements",
  "assessments",
  "harvest",
  "end",
];

/** Roles for which no label speaks. */
const OFF_LABEL = new Set(["blank", "other"]);

/** Whether some treatment needs an authority of its own. @param {{treatments: any[]}} plan */
export const needsPermit = (plan) => plan.treatments.some((one) => OFF_LABEL.has(one.role));

/** The number of the treatment that others are held against: untreated, else water, else the first.
 * @param {any[]} treatments */
function controlOf(treatments) {
  const of = (/** @type {string} */ role) => treatments.find((one) => one.role === role)?.number;
  return of("untreated") ?? of("water") ?? treatments[0]?.number ?? null;
}

/** Treatments numbered 1, 2, 3 in their order; letters belong to mean separation. @param {any[]} rows */
export const numbered = (rows) => rows.map((row, at) => ({ ...row, number: at + 1 }));

/** The levels of a factor as typed: "0, 500 mg/L". @param {string} text */
const levelsOf = (text) =>
  text
    .split(/[,;]/)
    .map((one) => one.trim())
    .filter(Boolean);

/**
 * Every combination of the factors' levels as treatments, the last factor varying fastest; those at the first level of
 * every factor are the untreated ones.
 * @param {{name: string, levels: string}[]} factors
 */
export function factorial(factors) {
  const used = factors.filter(({ name, levels }) => name.trim() && levelsOf(levels).length > 1);
  if (used.length === 0) return [];
  /** @type {{factor: string, level: string}[][]} */
  let rows = [[]];
  for (const { name, levels } of used) {
    rows = rows.flatMap((row) => levelsOf(levels).map((level) => [...row, { factor: name.trim(), level }]));
  }
  return numbered(
    rows.map((levels) => {
      const above = levels.filter(({ level }, i) => level !== levelsOf(used[i].levels)[0]);
      const role =
        above.length === 0
          ? "untreated"
          : above.length === used.length && used.length > 1
            ? "mix"
            : used.length > 1
              ? "partner"
              : "rate";
      const name = above.map(({ factor, level }) => `${factor} ${level}`).join(" + ");
      return { name: name || "untreated", role, levels };
    }),
  );
}

/** A code for a measurement: "Leaf colour" -> "leaf_colour", unlike those there are. @param {string} name @param {string[]} taken */
export function codeOf(name, taken) {
  const plain =
    name
      .normalize("NFD")
      .replace(/\p{M}/gu, "")
      .toLowerCase()
      .replace(/[^a-z0-9]+/g, "_")
      .replace(/^_|_$/g, "")
      .slice(0, 20) || "m";
  if (!taken.includes(plain)) return plain;
  let n = 2;
  while (taken.includes(`${plain}_${n}`)) n += 1;
  return `${plain}_${n}`;
}

/** @param {string} text @param {NumberFormat} numberFormat */
export function decimalOf(text, numberFormat) {
  if (text === undefined || text === null || String(text).trim() === "") return null;
  return parseDecimal(String(text).replace("\u2212", "-"), numberFormat);
}

/** As typed, with the minus sign that travels. @param {any} text */
export const signed = (text) =>
  String(text ?? "")
    .trim()
    .replace("\u2212", "-");

/** A day after treatment; before it, with a minus sign. @param {any} text */
function dayOf(text) {
  const plain = signed(text);
  return /^-?[0-9]{1,6}$/.test(plain) ? Number(plain) : null;
}

/**
 * Cells as typed: "2:3, 4:1".
 * @param {string} text @returns {{cells: number[][], problem: string}}  `problem` is what is no cell.
 */
export function cellsOf(text) {
  const cells = [];
  for (const one of String(text ?? "")
    .split(/[ ,;]+/)
    .filter(Boolean)) {
    const match = /^([1-9][0-9]{0,2}):([1-9][0-9]{0,2})$/.exec(one);
    if (!match) return { cells: [], problem: one };
    cells.push([Number(match[1]), Number(match[2])]);
  }
  return { cells, problem: "" };
}

/** @param {string} text */
export function wholeOf(text) {
  const plain = String(text ?? "").trim();
  return /^[0-9]{1,6}$/.test(plain) ? Number(plain) : null;
}

/**
 * The record's fields; null clears one.
 * @param {Plan} plan @param {NumberFormat} numberFormat
 * @throws {import("../core/errors.js").TepalError} A number is none, or can be two.
 */
export function fieldsOf(plan, numberFormat) {
  const decimal = (/** @type {string} */ text) => decimalOf(text, numberFormat);
  const trimmed = (/** @type {string} */ text) => text.trim() || null;
  const treatments = numbered(plan.treatments).map((one) => ({
    number: one.number,
    name: one.name?.trim() || null,
    role: one.role ?? null,
    tank_mix: one.tank_mix ?? null,
    rate: decimal(one.rate),
    rate_unit: decimal(one.rate) === null ? null : one.rate_unit || null,
    levels: one.levels?.length ? one.levels : null,
    blank_of: wholeOf(one.blank_of) || null,
  }));
  const percent = (/** @type {string} */ text) => {
    const value = decimal(text);
    return value === null ? null : { value, unit: "%" };
  };
  return {
    code: trimmed(plan.code),
    title: trimmed(plan.title),
    question: trimmed(plan.question),
    responsible: plan.responsible,
    permit: plan.permit,
    lots: plan.lots.length > 0 ? plan.lots : null,
    treatments: treatments.map(without),
    factors: plan.factors.map(({ name }) => name.trim()).filter(Boolean),
    control: controlOf(treatments),
    unit: plan.unit,
    treated_how: plan.treated_how,
    treated_words: trimmed(plan.treated_words),
    design: plan.design,
    blocks_are: trimmed(plan.blocks_are),
    n_blocks: wholeOf(plan.n_blocks),
    plants_per_plot: wholeOf(plan.plants_per_plot),
    cv: percent(plan.cv),
    difference_worth: percent(plan.difference),
    power: plan.power,
    blinded: plan.blinded,
    measurements: plan.measurements.map((one) =>
      without({
        ...one,
        least: decimal(one.least),
        most: decimal(one.most),
        decimals: wholeOf(one.decimals),
      }),
    ),
    primary_response: plan.primary_response,
    assessments: plan.assessments.map((one) =>
      without({
        ...one,
        day: dayOf(one.day) ?? 0,
        window: one.sort === "daily_round" ? null : wholeOf(one.window),
        until_day: one.sort === "daily_round" ? dayOf(one.until_day) : null,
      }),
    ),
    comparison: plan.comparison,
    two_sided: true,
    alpha: "0.05",
    interaction_scale: plan.interaction_scale,
    contrasts: contrastsOf(plan, decimal),
    wanted_value: decimal(plan.wanted_value),
    covariate: plan.covariate,
    plot_area: plan.plotArea,
    overage: percent(plan.overage),
    harvests: harvestsOf(plan),
    harvest_seed: plan.harvest_seed || null,
    harvest_plan: trimmed(plan.harvest_plan),
  };
}

const OF_HARVEST = [
  "assessment", "part", "plants_per_plot", "blocks", "weighing", "drying_temperature", "drying_time", "by", "note", "plants",
]; // biome-ignore format: a list of names

/** The harvests that belong to a planned look, in order of their days. @param {Plan} plan */
function harvestsOf(plan) {
  const rows = looksOfHarvest(plan).flatMap(({ code }) => {
    const row = plan.harvests.find((one) => one.assessment === code);
    if (!row) return [];
    const fields = { ...row, plants_per_plot: wholeOf(row.plants_per_plot), note: row.note?.trim() };
    const kept = without(Object.fromEntries(OF_HARVEST.map((name) => [name, fields[name]])));
    return [row.blocks?.length ? kept : without({ ...kept, blocks: null })];
  });
  return rows.length > 0 ? rows : null;
}

/** The planned looks at which plants are harvested, by day. @param {Plan} plan @returns {any[]} */
export const looksOfHarvest = (plan) =>
  plan.assessments.filter((one) => one.sort === "harvest").sort((a, b) => Number(a.day) - Number(b.day));

/** What the server is asked when the plants of the harvests are drawn; null while something lacks. @param {Plan} plan */
export function harvestQuestion(plan) {
  const harvests = looksOfHarvest(plan).flatMap(({ code }) => {
    const row = plan.harvests.find((one) => one.assessment === code);
    const n = wholeOf(row?.plants_per_plot ?? "");
    return n ? [{ assessment: code, plants_per_plot: n, blocks: row.blocks ?? [] }] : [];
  });
  if (harvests.length === 0 || !plan.layout) return null;
  return {
    plots: plan.layout.plots.filter((/** @type {any} */ plot) => !plot.guard),
    plants_per_plot: wholeOf(plan.plants_per_plot) ?? 1,
    harvests,
  };
}

/** A change after which plants that were drawn would be wrong ones. @param {Plan} plan */
export const undrawn = (plan) => ({
  harvests: plan.harvests.map((row) => ({ ...row, plants: null })),
  harvest_seed: "",
});

/** @param {Plan} plan @param {(text: string) => string | null} decimal */
function contrastsOf(plan, decimal) {
  const rows = plan.contrasts.map(({ name, weights }) => ({
    name: name.trim(),
    weights: plan.treatments.flatMap((_, at) => {
      const weight = decimal(weights[at + 1] ?? "");
      return weight === null || Number(weight) === 0 ? [] : [{ treatment: at + 1, weight }];
    }),
  }));
  return rows.length > 0 ? rows : null;
}

/** The members that hold something. @param {Record<string, any>} row */
const without = (row) =>
  Object.fromEntries(
    Object.entries(row).filter(([, value]) => value !== null && value !== "" && value !== undefined),
  );

/**
 * A stored trial as the planner shows it.
 * @param {Record<string, any>} fields @param {NumberFormat} numberFormat
 * @returns {Plan}
 */
export function planOf(fields, { decimal }) {
  const shown = (/** @type {any} */ value) =>
    value === undefined || value === null ? "" : String(value).replace(".", decimal);
  /** @type {Map<string, Set<string>>} */
  const levels = new Map((fields.factors ?? []).map((/** @type {string} */ name) => [name, new Set()]));
  for (const one of fields.treatments ?? [])
    for (const { factor, level } of one.levels ?? []) levels.get(factor)?.add(level);
  const { n_blocks, rows, columns, plots, seed, algorithm } = fields;
  const bench = plots?.find((/** @type {any} */ plot) => plot.bench)?.bench ?? null;
  const block_lots = Object.fromEntries(
    (fields.lots ?? []).length > 1
      ? (plots ?? [])
          .filter((/** @type {any} */ plot) => plot.block && plot.lot)
          .map((/** @type {any} */ plot) => [String(plot.block), plot.lot])
      : [],
  );
  return {
    ...EMPTY,
    ...Object.fromEntries(Object.entries(fields).filter(([name]) => name in EMPTY)),
    treatments: (fields.treatments ?? []).map((/** @type {any} */ one) => ({
      ...one,
      rate: shown(one.rate),
    })),
    factors: [...levels].map(([name, found]) => ({ name, levels: [...found].join(", ") })),
    measurements: (fields.measurements ?? []).map((/** @type {any} */ one) => ({
      ...one,
      least: shown(one.least),
      most: shown(one.most),
    })),
    contrasts: (fields.contrasts ?? []).map((/** @type {any} */ one) => ({
      name: one.name ?? "",
      weights: Object.fromEntries(
        (one.weights ?? []).map((/** @type {any} */ w) => [String(w.treatment), shown(w.weight)]),
      ),
    })),
    n_blocks: String(n_blocks ?? ""),
    plants_per_plot: String(fields.plants_per_plot ?? 1),
    rows: String(rows ?? ""),
    columns: String(columns ?? ""),
    cv: shown(fields.cv?.value),
    difference: shown(fields.difference_worth?.value),
    wanted_value: shown(fields.wanted_value),
    plot_area: fields.plot_area
      ? { value: shown(fields.plot_area.value), unit: fields.plot_area.unit }
      : EMPTY.plot_area,
    plotArea: fields.plot_area ?? null,
    overage: shown(fields.overage?.value),
    harvests: (fields.harvests ?? []).map((/** @type {any} */ one) => ({
      ...one,
      plants_per_plot: String(one.plants_per_plot ?? ""),
    })),
    isPotted: plots?.some((/** @type {any} */ plot) => plot.origin) ?? false,
    bench,
    block_lots,
    layout: plots?.length
      ? {
          ...{ plots, rows, columns, seed, algorithm, n_blocks, bench, block_lots },
          design: fields.design,
          lots: fields.lots ?? [],
          isStored: true,
        }
      : null,
    reason: "",
    plan_reason: "",
  };
}

/**
 * What the server is asked for a layout.
 * @param {Plan} plan
 */
export function layoutQuestion(plan) {
  const rows = wholeOf(plan.rows);
  const columns = wholeOf(plan.columns);
  const { cells: out_of_use } = cellsOf(plan.out_of_use);
  const treatments = numbered(plan.treatments).map(({ number, name, levels, multiple }) => ({
    number,
    name: name || String(number),
    ...(levels?.length ? { levels } : {}),
    ...(multiple ? { multiple } : {}),
  }));
  const factors = plan.factors.map(({ name }) => name.trim()).filter(Boolean);
  return {
    design: plan.design,
    treatments,
    factors: plan.design === "split_plot" ? factors : [],
    whole_plot_factors: plan.design === "split_plot" ? factors.slice(0, 1) : [],
    n_blocks: wholeOf(plan.n_blocks) ?? 1,
    plants_per_plot: wholeOf(plan.plants_per_plot) ?? 1,
    ...(rows && columns
      ? {
          bench: {
            rows,
            columns,
            guard_rows: wholeOf(plan.guard_rows) ?? 0,
            guard_columns: wholeOf(plan.guard_columns) ?? 0,
            ...(out_of_use.length > 0 ? { out_of_use } : {}),
          },
        }
      : {}),
  };
}

/** @param {Plan} plan @param {NumberFormat} numberFormat */
export function sizeQuestion(plan, numberFormat) {
  try {
    const cv = decimalOf(plan.cv, numberFormat);
    const difference = decimalOf(plan.difference, numberFormat);
    const n = wholeOf(plan.n_blocks);
    if (cv === null || difference === null || !n || plan.treatments.length < 2) return null;
    return {
      design: plan.design,
      comparison: plan.comparison === "dunnett" ? "control" : "pairs",
      n_treatments: plan.treatments.length,
      n_replicates: n,
      difference_pct: Number(difference),
      plot_cv_pct: Number(cv),
      plants_per_plot: wholeOf(plan.plants_per_plot) ?? 1,
      power: Number(plan.power),
    };
  } catch {
    return null;
  }
}

/** What is often measured; bounds only ask a question. Common practice, no source. @type {Record<string, any>} */
export const OFTEN = {
  height: { unit: "cm", type: "continuous", least: "1", most: "150", decimals: 1, wanted: "lower" },
  width: { unit: "cm", type: "continuous", least: "1", most: "150", decimals: 1, wanted: "none" },
  branches: { type: "count", least: "0", most: "60", decimals: 0, wanted: "higher" },
  flowers: { type: "count", least: "0", most: "200", decimals: 0, wanted: "higher" },
  first_flower: { unit: "d", type: "days", least: "0", most: "200", decimals: 0, wanted: "lower" },
  phytotoxicity: { unit: "%", type: "continuous", least: "0", most: "100", decimals: 0, wanted: "lower" },
  leaf_colour: { type: "rating", least: "1", most: "5", decimals: 0, wanted: "none" },
  rooted: { type: "proportion", least: "0", most: "1", decimals: 0, wanted: "higher" },
  dry_weight: { unit: "g", type: "continuous", least: "0", most: "200", decimals: 2, wanted: "none" },
};
