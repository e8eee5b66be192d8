// Values of records in words: names of fields, choices, references, quantities; and what a change changed, value by value.
import { choiceLabel, fieldLabel } from "../forms/labels.js";
import { useRecords, useTepal } from "../state/context.js";
import { recordsHeld } from "../state/held-groups.js";
import { decimalShown, storedText } from "../ui/amounts.js";
import { clockTime, dayAt, shortDay } from "../ui/when.js";
import { words as catalogue, t } from "../ui/words.js";
import { useWrittenNumbers } from "./establishment.js";
import { keptText } from "./kept-finding.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {{ name: string, type: string, ref?: string, fields?: Spec[], [key: string]: any }} Spec */
/** A check before mixing and the answer to it. @param {any} one */
const keptAnswer = (one) => [keptText(one), one.answer].filter(Boolean).join(" · ");

/** @typedef {{ label: string, was: string | null, to: string | null }} Difference  null: there was or is nothing. */

const NAMED_KINDS = [
  "house", "bay", "bench", "lot", "product", "tank_mix", "member", "sprayer", "device", "permit", "batch",
]; // biome-ignore format: a list of names

/**
 * What a record is called.
 * @param {string} kind @param {Record<string, any>} fields
 */
export function recordName(kind, fields) {
  if (kind === "lot") return spaced(fields.code, cropName(fields));
  if (kind === "incompatible_pair") return [fields.a, fields.b].filter(Boolean).join(" + ");
  return (
    fields.name ??
    fields.label ??
    fields.code ??
    fields.number ??
    fields.product_name ??
    fields.file_name ??
    ""
  );
}

/** "Lantana ‘Copperline’" @param {Record<string, any>} fields */
export const cropName = ({ crop, cultivar }) => spaced(crop, cultivar && `‘${cultivar}’`);

/** Two words, or the one there is. @param {string | undefined} a @param {string | undefined} b */
const spaced = (a, b) => (a && b ? `${a} ${b}` : a || b || "");

/** list of records -> names by id: made once per list, since thousands of rows ask. @type {WeakMap<object, Map<string, string>>} */
const namesOf = new WeakMap();

/** @param {string} kind @param {RecordRow[]} rows */
function namesIn(kind, rows) {
  let names = namesOf.get(rows);
  if (!names) {
    names = new Map(rows.map(({ id, shown }) => [id, recordName(kind, shown.fields)]));
    namesOf.set(rows, names);
  }
  return names;
}

/**
 * What was made of parts, kept while they are the same, from page to page: a register's rows hang on it.
 * @template {any[]} P @template T
 * @param {(...parts: P) => T} make
 * @returns {(...parts: P) => T}
 */
function keptWhileSame(make) {
  /** @type {{ parts: P, result: T } | null} */
  let kept = null;
  return (...parts) => {
    if (kept === null || parts.some((part, at) => part !== kept?.parts[at]))
      kept = { parts, result: make(...parts) };
    return kept.result;
  };
}

/** @typedef {(kind: string, id: string) => string | null} NameOf */

/** The records that only held entries know, of a list of held entries: read once a list. */
const heldIn = keptWhileSame((/** @type {RecordRow[] | null} */ rows) => recordsHeld(rows ?? []));

const nameOfIn = keptWhileSame(
  (/** @type {RecordRow[] | null} */ held, /** @type {(RecordRow[] | null)[]} */ ...lists) =>
    /** @type {NameOf} */
    (kind, id) => {
      const rows = lists[NAMED_KINDS.indexOf(kind)];
      return (rows && namesIn(kind, rows).get(id)) ?? heldName(kind, heldIn(held)[`${kind}/${id}`]);
    },
);

/** "A2 Lantana (proposed, waits for a grower)": nobody has made the record yet.
 * @param {string} kind @param {{ fields: Record<string, any>, isAsked: boolean } | undefined} found */
function heldName(kind, found) {
  const name = found && recordName(kind, found.fields);
  return name ? t(found.isAsked ? "held.name_asked" : "held.name_apart", { name }) : null;
}

/**
 * A function (kind, id) -> name, or null where this phone has no such record. What only a held entry knows is named with that.
 * The same one until a name changes.
 */
export const useNames = () => nameOfIn(useRecords("held"), ...NAMED_KINDS.map((kind) => useRecords(kind)));

/**
 * What speaks of values: `text(kind, field, value)` (null where there is none) and `differences(kind, changes)`. The same
 * one until something that it speaks with changes.
 */
export function useValueWords() {
  const tepal = useTepal();
  const { language } = useSettings();
  return wordsIn(tepal.forms.value, language.value, useWrittenNumbers(), useNames(), catalogue.value);
}

const wordsIn = keptWhileSame(
  (
    /** @type {any} */ forms,
    /** @type {string} */ language,
    /** @type {string} */ numberFormat,
    /** @type {NameOf} */ nameOf,
    /** @type {unknown} */ _catalogue, // read through t(): other words, other texts
  ) => valueWords(forms, language, numberFormat, nameOf),
);

/** @param {any} forms @param {string} language @param {string} numberFormat @param {NameOf} nameOf */
function valueWords(forms, language, numberFormat, nameOf) {
  /** @param {string} kind @returns {Spec[]} */
  const specs = (kind) => forms?.kinds[kind]?.fields ?? [];

  /** "lot.stage" -> its spec: looked up once, since every row of a long list asks. @type {Map<string, Spec | undefined>} */
  const found = new Map();

  /** @param {string} kind @param {string} name @param {string} words */
  function specOf(kind, name, words) {
    if (!found.has(words))
      found.set(
        words,
        specs(kind).find((spec) => spec.name === name),
      );
    return found.get(words);
  }

  /** @param {string} words @param {Spec | undefined} spec @param {any} value @returns {string | null} */
  function inWords(words, spec, value) {
    if (value === null || value === undefined || value === "") return null;
    switch (spec?.type) {
      case "quantity":
        return storedText(value, numberFormat);
      case "number":
        return decimalShown(value, numberFormat);
      case "moment":
        return momentText(value, language);
      case "date":
        return shortDay(value, language);
      case "bool":
        return t(value ? "control.yes" : "control.no");
      case "choice":
        return choiceLabel(words, value);
      case "choices":
        return value.map((/** @type {string} */ one) => choiceLabel(words, one)).join(", ");
      case "texts":
        return value.join(", ");
      case "measured":
        return typeof value === "object"
          ? t(`missing_why.${value.missing}`)
          : /^-?[0-9.]+$/.test(value)
            ? decimalShown(value, numberFormat)
            : shortDay(value, language);
      case "ref":
        return nameOf(spec.ref ?? "", value) ?? t("office.not_on_phone");
      case "refs":
        return value
          .map((/** @type {string} */ id) => nameOf(spec.ref ?? "", id) ?? t("office.not_on_phone"))
          .join(", ");
      case "group":
        return groupText(words, spec, value);
      case "list":
        if (spec.name === "checks") return value.map(keptAnswer).join("; ");
        return value.map((/** @type {any} */ row) => groupText(words, spec, row)).join("; ");
      default:
        if (INSTANT.test(String(value))) return instantText(Date.parse(value), language);
        return typeof value === "object" ? JSON.stringify(value) : String(value);
    }
  }

  /** @param {string} words @param {Spec} spec @param {Record<string, any>} row */
  const groupText = (words, spec, row) =>
    (spec.fields ?? [])
      .map((inner) => inWords(`${words}.${inner.name}`, inner, row[inner.name]))
      .filter((text) => text !== null)
      .join(" · ");

  /** @param {string} words @param {Spec | undefined} spec @param {any} was @param {any} to @param {string} [before]
   * @returns {Difference[]} */
  function between(words, spec, was, to, before = "") {
    const label = before + fieldLabel(words);
    if (spec?.type === "group" && isRecord(was) && isRecord(to))
      return inside(words, spec, was, to, `${label} · `);
    if (spec?.type === "list" && Array.isArray(was) && Array.isArray(to) && was.length === to.length) {
      return was.flatMap((row, at) =>
        inside(words, spec, row, to[at], `${label} ${at + 1}${nameOfRow(row, nameOf)} · `),
      );
    }
    const [old, fresh] = [inWords(words, spec, was), inWords(words, spec, to)];
    return old === fresh ? [] : [{ label, was: old, to: fresh }];
  }

  /** @param {string} words @param {Spec} spec @param {any} was @param {any} to @param {string} before */
  const inside = (words, spec, was, to, before) =>
    (spec.fields ?? []).flatMap((one) =>
      between(`${words}.${one.name}`, one, was[one.name], to[one.name], before),
    );

  return {
    specs,
    nameOf,
    /** @param {string} kind @param {string} name @param {any} value */
    text(kind, name, value) {
      const words = `${kind}.${name}`;
      return inWords(words, specOf(kind, name, words), value);
    },
    /** A field inside a list or group. @param {string} kind @param {string} list @param {string} name @param {any} value */
    inner: (kind, list, name, value) => {
      const outer = specs(kind).find((spec) => spec.name === list);
      return inWords(
        `${kind}.${list}.${name}`,
        outer?.fields?.find((spec) => spec.name === name),
        value,
      );
    },
    /** @param {string} kind @param {Record<string, {was: any, to: any}> | null | undefined} changes
     * @returns {Difference[]} */
    differences: (kind, changes) =>
      Object.entries(changes ?? {}).flatMap(([name, { was, to }]) =>
        between(
          `${kind}.${name}`,
          specs(kind).find((spec) => spec.name === name),
          was,
          to,
        ),
      ),
  };
}

/** An instant that the phone wrote down itself, such as when the office was last heard. */
const INSTANT = /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z$/;

/** "12 Nov 2026, 07:32" by the nursery's clock. @param {number} ms @param {string} language */
const instantText = (ms, language) => `${shortDay(dayAt(ms), language)}, ${clockTime(ms)}`;

/** @param {any} value */
const isRecord = (value) => typeof value === "object" && value !== null && !Array.isArray(value);

/** @param {any} row @param {NameOf} nameOf */
function nameOfRow(row, nameOf) {
  const name = row?.name ?? row?.crop ?? (row?.product && nameOf("product", row.product)) ?? row?.ai;
  return name ? ` (${name})` : "";
}

/**
 * "12 Nov 2026, 07:32", as the clock on the wall showed it.
 * @param {{local: string} | null | undefined} moment @param {string} language
 */
export function momentText(moment, language) {
  if (!moment?.local) return "";
  return `${shortDay(moment.local.slice(0, 10), language)}, ${moment.local.slice(11, 16)}`;
}
