// Whether a value may stand in a field of a form spec. Twin of the checks in server/tepal/forms/fields.py: the same codes
// for the same values, tried on shared cases (tests/web/field_cases.json). Pure.

/**
 * One field of a form spec, as GET /api/v1/forms serves it.
 * @typedef {object} FieldSpec
 * @property {string} name
 * @property {string} type  text, longtext, texts, choice, choices, measured, quantity, number, integer, bool, date, moment, ref, refs, digest, group, list
 * @property {boolean} [required]      The paper needs it; a record without it is kept and printed with "missing".
 * @property {number} [max_length]
 * @property {string[]} [choices]
 * @property {string[]} [unit_choices] UCUM codes
 * @property {number} [min]
 * @property {number} [max]
 * @property {string} [ref]            Kind referred to.
 * @property {number} [max_rows]
 * @property {FieldSpec[]} [fields]    Of a group or of each row of a list.
 */

/**
 * What is wrong, for problem-words.js to put into words.
 * @typedef {{ code: string, params: Record<string, string | number> }} Problem
 */

const DECIMAL = /^-?[0-9]{1,12}(\.[0-9]{1,9})?$/;
const UUID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/;
const LOCAL = /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d$/;
const DAY = /^\d{4}-\d\d-\d\d$/;
const DIGEST = /^[0-9a-f]{64}$/;
// biome-ignore lint/suspicious/noControlCharactersInRegex: these are what is refused
const CONTROL = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f]|\p{Surrogate}/u;
const MOST_REFS = 500;
const MOST_ROWS = 200;
const MOST_TEXTS = 60;
const MISSING_WHYS = ["dead", "discarded", "not_measured", "lost"];

/** @type {Record<string, (spec: FieldSpec, value: any) => string | null>} */
const CHECKS = {
  text: (spec, value) => {
    if (typeof value !== "string") return "not_text";
    // Python counts code points, and so does the spread
    if ([...value].length > (spec.max_length ?? 200)) return "too_long";
    return CONTROL.test(value) ? "control_characters" : null;
  },
  longtext: (spec, value) => CHECKS.text({ ...spec, max_length: spec.max_length ?? 4000 }, value),
  texts: (spec, value) => {
    if (!Array.isArray(value) || value.length > MOST_TEXTS) return "not_a_list";
    return firstOf(value, (one) => CHECKS.text(spec, one));
  },
  choice: (spec, value) => (spec.choices?.includes(value) ? null : "not_a_choice"),
  choices: (spec, value) => {
    if (!Array.isArray(value) || value.length > (spec.choices ?? []).length) return "not_a_list";
    return firstOf(value, (one) => CHECKS.choice(spec, one));
  },
  measured: (_, value) => {
    if (value !== null && typeof value === "object" && !Array.isArray(value)) {
      if (!hasExactly(value, ["missing", "note"]) || !MISSING_WHYS.includes(value.missing))
        return "not_measured_reason";
      return value.note === null
        ? null
        : CHECKS.text({ name: "note", type: "text", max_length: 400 }, value.note);
    }
    return typeof value === "string" && DECIMAL.test(value) ? null : CHECKS.date(_, value);
  },
  number: (spec, value) => {
    if (typeof value !== "string" || !DECIMAL.test(value)) return "not_a_number";
    return within(spec, Number(value));
  },
  quantity: (spec, value) => {
    if (!hasExactly(value, ["unit", "value"])) return "not_a_quantity";
    if (typeof value.value !== "string" || !DECIMAL.test(value.value)) return "not_a_number";
    if (!spec.unit_choices?.includes(value.unit)) return "unit_not_offered";
    return within(spec, Number(value.value));
  },
  integer: (spec, value) => (Number.isInteger(value) ? within(spec, value) : "not_whole"),
  bool: (_, value) => (typeof value === "boolean" ? null : "not_yes_or_no"),
  date: (_, value) => (typeof value === "string" && DAY.test(value) && isDay(value) ? null : "not_a_day"),
  moment: (_, value) => {
    if (!hasExactly(value, ["local", "offset_min", "zone"])) return "not_a_moment";
    const { local, offset_min: offset, zone } = value;
    if (
      typeof local !== "string" ||
      !LOCAL.test(local) ||
      !isDay(local.slice(0, 10)) ||
      !isTime(local.slice(11))
    )
      return "not_a_moment";
    if (!Number.isInteger(offset) || Math.abs(offset) > 16 * 60) return "not_a_moment";
    return typeof zone === "string" && zone.length > 0 && zone.length <= 64 ? null : "not_a_moment";
  },
  ref: (_, value) => (typeof value === "string" && UUID.test(value) ? null : "not_a_reference"),
  refs: (spec, value) => {
    if (!Array.isArray(value) || value.length > MOST_REFS) return "not_a_list";
    return firstOf(value, (one) => CHECKS.ref(spec, one));
  },
  digest: (_, value) => (typeof value === "string" && DIGEST.test(value) ? null : "not_a_digest"),
  group: (spec, value) => {
    if (value === null || typeof value !== "object" || Array.isArray(value)) return "not_a_group";
    return firstOf(Object.entries(value), ([name, inner]) => {
      const field = spec.fields?.find((one) => one.name === name);
      if (!field) return "unknown_field";
      return inner === null ? null : CHECKS[field.type](field, inner);
    });
  },
  list: (spec, value) => {
    if (!Array.isArray(value)) return "not_a_list";
    if (value.length > (spec.max_rows ?? MOST_ROWS)) return "too_many_rows";
    return firstOf(value, (row) => CHECKS.group(spec, row));
  },
};

/**
 * What is wrong with a value, or null. null and undefined are always fine: they clear a field.
 * @param {FieldSpec} spec
 * @param {any} value  As it travels (wire value).
 * @returns {Problem | null}
 */
export function fieldProblem(spec, value) {
  if (value === null || value === undefined) return null;
  const code = CHECKS[spec.type](spec, value);
  return code === null ? null : { code, params: paramsOf(spec, value) };
}

/** @param {FieldSpec} spec @param {any} value */
function paramsOf(spec, value) {
  /** @type {Record<string, string | number>} */
  const params = {};
  if (spec.min !== undefined) params.min = spec.min;
  if (spec.max !== undefined) params.max = spec.max;
  if (spec.max_length !== undefined) params.most = spec.max_length;
  if (spec.max_rows !== undefined) params.most = spec.max_rows;
  if (typeof value === "string") params.length = [...value].length;
  if (typeof value === "string" || typeof value === "number") params.value = value;
  if (value?.unit !== undefined) {
    params.value = String(value.value);
    params.unit = String(value.unit);
  }
  return params;
}

/** @param {FieldSpec} spec @param {number} number */
const within = ({ min = 0, max = 1e9 }, number) => (number >= min && number <= max ? null : "out_of_range");

/** @param {any} value @param {string[]} names  Sorted. */
function hasExactly(value, names) {
  if (value === null || typeof value !== "object" || Array.isArray(value)) return false;
  return Object.keys(value).sort().join() === names.join();
}

/** @param {string} text  YYYY-MM-DD; whether the calendar has this day. */
function isDay(text) {
  const [year, month, day] = text.split("-").map(Number);
  if (year < 1 || month < 1 || month > 12 || day < 1) return false;
  const isLeap = year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0);
  return day <= [31, isLeap ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31][month - 1];
}

/** @param {string} text  HH:MM:SS */
function isTime(text) {
  const [hour, minute, second] = text.split(":").map(Number);
  return hour < 24 && minute < 60 && second < 60;
}

/**
 * The first code that the check finds in a list.
 * @template T
 * @param {T[]} list @param {(one: T) => string | null} check
 */
function firstOf(list, check) {
  for (const one of list) {
    const code = check(one);
    if (code !== null) return code;
  }
  return null;
}
