// Between what a person typed and what travels. What was typed is kept as typed (in the draft, on the screen); it becomes a
// wire value only when it is saved, and where that is not possible the problem names the field and nothing is lost. Pure.
import { localDecimal } from "../core/number_format.js";
import { parseDecimal } from "../core/rounding.js";
import { UNITS } from "../core/units.js";
import { fieldProblem } from "./checks.js";

/** @typedef {import("./checks.js").FieldSpec} FieldSpec */
/** @typedef {import("./checks.js").Problem} Problem */
/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */

/**
 * How the establishment writes numbers, which units come first, and what zone a wall time is in.
 * @typedef {object} Ways
 * @property {NumberFormat} numberFormat
 * @property {string} unitSystem  "metric" or "us"
 * @property {(local: string) => { offset_min: number, zone: string }} zoneAt  Of the nursery at a wall time.
 */

/**
 * What the controls show for a record's values.
 * @param {FieldSpec[]} specs @param {Record<string, any>} values @param {Ways} ways
 * @returns {Record<string, any>}
 */
export function typedOf(specs, values, ways) {
  return Object.fromEntries(
    specs.map((spec) => [spec.name, typedField(spec, values[spec.name] ?? null, ways)]),
  );
}

/** @param {FieldSpec} spec @param {any} value @param {Ways} ways @returns {any} */
function typedField(spec, value, ways) {
  switch (spec.type) {
    case "quantity":
      return value === null
        ? { value: "", unit: firstUnit(spec, ways) }
        : { value: localDecimal(value.value, ways.numberFormat), unit: value.unit };
    case "number":
      return value === null ? "" : localDecimal(value, ways.numberFormat);
    case "integer":
      return value === null ? "" : String(value);
    case "moment":
      return value === null ? "" : value.local.slice(0, 16);
    case "refs":
    case "choices":
      return value ?? [];
    case "texts":
      return (value ?? []).join("\n");
    case "group":
      return typedOf(spec.fields ?? [], value ?? {}, ways);
    case "list":
      return (value ?? []).map((/** @type {any} */ row) => typedOf(spec.fields ?? [], row, ways));
    case "text":
    case "longtext":
    case "date":
      return value ?? "";
    default:
      return value;
  }
}

/**
 * The unit that stands ready: the first one offered in the establishment's system.
 * @param {FieldSpec} spec @param {Ways} ways
 */
function firstUnit({ unit_choices: units = [] }, { unitSystem }) {
  return units.find((code) => [unitSystem, "any"].includes(UNITS[code]?.system)) ?? units[0] ?? "";
}

/**
 * The wire values of what was typed, and what could not be read.
 * @param {FieldSpec[]} specs @param {Record<string, any>} typed @param {Ways} ways
 * @param {Record<string, any>} [before]  The values that `typedOf` was given: a number that nobody touched stays as it is,
 *   though "1.050" typed anew could be two things.
 * @param {string} [path]  Of the group these fields are in: "components.0."
 * @returns {{ values: Record<string, any>, problems: Record<string, Problem>, missing: string[] }}
 *   values    Without the fields that have a problem; empty fields are null.
 *   problems  By path: "area", "components.0.target".
 *   missing   Paths of required fields that are empty.
 */
export function wireOf(specs, typed, ways, before = {}, path = "") {
  /** @type {Record<string, any>} */
  const values = {};
  /** @type {Record<string, Problem>} */
  const problems = {};
  /** @type {string[]} */
  const missing = [];
  for (const spec of specs) {
    const here = `${path}${spec.name}`;
    const found = wireField(spec, typed[spec.name], ways, before?.[spec.name] ?? null, here);
    Object.assign(problems, found.problems);
    missing.push(...found.missing);
    if (found.value !== undefined) values[spec.name] = found.value;
    const isEmpty = found.value === null || (Array.isArray(found.value) && found.value.length === 0);
    if (spec.required && isEmpty) missing.push(here);
  }
  return { values, problems, missing };
}

/**
 * @param {FieldSpec} spec @param {any} typed @param {Ways} ways @param {any} before @param {string} path
 * @returns {{ value: any, problems: Record<string, Problem>, missing: string[] }}  `value` undefined: has a problem
 */
function wireField(spec, typed, ways, before, path) {
  if (spec.type === "list") {
    const rows = (typed ?? []).map((/** @type {any} */ row, /** @type {number} */ at) =>
      wireOf(spec.fields ?? [], row, ways, before?.[at] ?? {}, `${path}.${at}.`),
    );
    return gathered(
      rows,
      rows.map((/** @type {any} */ row) => row.values),
      spec,
      path,
    );
  }
  if (spec.type === "group") {
    const inner = wireOf(spec.fields ?? [], typed ?? {}, ways, before ?? {}, `${path}.`);
    const isEmpty = Object.values(inner.values).every((value) => value === null);
    if (isEmpty && Object.keys(inner.problems).length === 0)
      return { value: null, problems: {}, missing: [] };
    return gathered([inner], inner.values, spec, path);
  }
  const read = readTyped(spec, typed, ways, before);
  const problem = "problem" in read ? read.problem : fieldProblem(spec, read.value);
  if (problem) return { value: undefined, problems: { [path]: problem }, missing: [] };
  return { value: /** @type {any} */ (read).value, problems: {}, missing: [] };
}

/** @param {any[]} inner @param {any} value @param {FieldSpec} spec @param {string} path */
function gathered(inner, value, spec, path) {
  const problems = Object.assign({}, ...inner.map((one) => one.problems));
  const missing = inner.flatMap((one) => one.missing);
  if (Object.keys(problems).length > 0) return { value: undefined, problems, missing };
  const problem = fieldProblem(spec, value);
  if (problem) return { value: undefined, problems: { [path]: problem }, missing };
  return { value, problems, missing };
}

/**
 * @param {FieldSpec} spec @param {any} typed @param {Ways} ways @param {any} before
 * @returns {{ value: any } | { problem: Problem }}
 */
function readTyped(spec, typed, ways, before) {
  if (typed === null || typed === undefined || typed === "") return { value: null };
  switch (spec.type) {
    case "text":
    case "longtext":
      return { value: typed.trim() || null };
    case "texts": {
      const lines = typed.split("\n").map((/** @type {string} */ line) => line.trim());
      const texts = lines.filter(Boolean);
      return { value: texts.length > 0 ? texts : null };
    }
    case "quantity": {
      if (typed.value.trim() === "") return { value: null };
      const read = readNumber(typed.value, ways, before?.value, typed.read);
      return "problem" in read ? read : { value: { value: read.value, unit: typed.unit } };
    }
    case "number":
      return readNumber(textIn(typed), ways, before, typed.read);
    case "integer": {
      const read = readNumber(textIn(typed), ways, null, typed.read);
      if ("problem" in read) return read;
      return /^-?[0-9]+$/.test(read.value)
        ? { value: Number(read.value) }
        : { problem: { code: "not_whole", params: { value: textIn(typed) } } };
    }
    case "moment":
      return { value: { local: typed.length === 16 ? `${typed}:00` : typed, ...ways.zoneAt(typed) } };
    default:
      return { value: typed };
  }
}

/**
 * The text of a number that was typed: `{text, read}` once the person has said which of two readings is meant.
 * @param {string | { text: string, read: string }} typed
 */
export const textIn = (typed) => (typeof typed === "string" ? typed : typed.text);

/**
 * @param {string} text @param {Ways} ways @param {string | null | undefined} before
 * @param {string | undefined} chosen  The reading that the person chose of two.
 * @returns {{ value: string } | { problem: Problem }}
 */
function readNumber(text, { numberFormat }, before, chosen) {
  if (chosen !== undefined) return { value: chosen };
  if (typeof before === "string" && text === localDecimal(before, numberFormat)) return { value: before };
  try {
    return { value: parseDecimal(text, numberFormat) };
  } catch (error) {
    return { problem: numberProblem(error, text, numberFormat) };
  }
}

/**
 * The problem of a number that can't be read. Anything but that flies.
 * @param {unknown} error @param {string} text @param {NumberFormat} numberFormat
 * @returns {Problem}
 */
export function numberProblem(error, text, numberFormat) {
  const { code, context } = /** @type {any} */ (error);
  if (typeof code !== "string" || !code.startsWith("number.")) throw error;
  const [one, other] = context.readings ?? ["", ""];
  return { code, params: { text: text.trim(), one, other, decimal: numberFormat.decimal } };
}
