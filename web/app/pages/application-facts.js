// All that is on record of an application: the whole, line by line, product by product as its label said that day.
import { choiceLabel, fieldLabel } from "../forms/labels.js";
import { useRecords } from "../state/context.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { useFieldsOf } from "./applications.js";
import { Place, placesOf } from "./applied.js";
import { fileOfDay, OpenFile } from "./label-files.js";
import { momentText } from "./record-words.js";
import { useSettings } from "./settings-context.js";

/** @typedef {ReturnType<typeof import("./record-words.js").useValueWords>} ValueWords */

const KIND = "application";
const WHOLE = [
  "started_at",
  "ended_at",
  "operator_name",
  "method",
  "mix_name",
  "purpose",
  "volume",
  "area",
  "sprayer",
  "tank_capacity",
  "volume_left",
  "tank_cleaned",
  "air_temperature",
  "air_humidity",
  "water_due_at",
  "stopped_early",
  "stopped_note",
  "entered_later",
  "note",
];
// What the regulation or the paper asks for is named as missing; the rest is left out when empty.
const ALWAYS = new Set(["started_at", "ended_at", "operator_name", "method", "volume", "area"]);

/** @param {{ fields: Record<string, any>, former: Record<string, any[]>, words: ValueWords }} props */
export function ApplicationFacts({ fields, former, words }) {
  /** @type {Record<string, any>} */
  const filled = {
    ...fields,
    operator_name: fields.operator_name ?? words.text(KIND, "operator", fields.operator),
  };
  const names = WHOLE.filter((name) => ALWAYS.has(name) || (filled[name] ?? null) !== null || former[name]);
  return html`
    <section class="stack"><h2>${t("office.the_whole")}</h2>
      <dl class="facts">${names.map(
        (name) => html`<div key=${name}><dt>${fieldLabel(`${KIND}.${name}`)}</dt>
          <dd><${Value} now=${words.text(KIND, name, filled[name])} before=${(former[name] ?? []).map((old) => words.text(KIND, name, old))} /></dd></div>`,
      )}
      <div><dt>${fieldLabel(`${KIND}.signature`)}</dt><dd><${SignedBy} signature=${fields.signature} /></dd></div></dl></section>
    <${Lines} now=${fields.lines ?? []} before=${former.lines ?? []} words=${words} />
    <${Products} now=${fields.products ?? []} before=${former.products ?? []} words=${words} />`;
}

/**
 * A value, after what it replaced: struck through and still readable.
 * @param {{ now: string | null, before?: (string | null)[], missing?: string }} props
 */
function Value({ now, before = [], missing = t("office.not_on_file") }) {
  const old = before.filter((text, at) => text !== now && text !== before[at - 1]);
  return html`${old.map((text) => html`<del class="old"><span class="visually-hidden">${t("office.was")} </span>${text ?? t("office.nothing")}</del> `)}
    ${now === null ? html`<span class="missing">${missing}</span>` : html`<span class=${old.length > 0 ? "new" : ""}>${now}</span>`}`;
}

/** @param {{ signature: any }} props */
function SignedBy({ signature }) {
  const { language } = useSettings();
  if (!signature) return html`<span class="missing">${t("office.not_signed")}</span>`;
  return html`${t("office.signed_by", {
    name: signature.name ?? t("office.somebody"),
    how: signature.method ? choiceLabel(`${KIND}.signature.method`, signature.method) : "–",
    at: momentText(signature.at, language.value) || "–",
  })}`;
}

/**
 * The former values of one sub-field of a row, by its place in the list; lists of another length are shown whole below.
 * @param {any[][]} before @param {number} at @param {string} name @param {number} length
 */
const formerOf = (before, at, name, length) =>
  before.filter((rows) => rows?.length === length).map((rows) => rows[at]?.[name] ?? null);

/** @param {{ now: any[], before: any[][], words: ValueWords }} props */
function Lines({ now, before, words }) {
  const fieldsOf = useFieldsOf();
  const cell = (/** @type {number} */ at, /** @type {string} */ name) =>
    html`<${Value} now=${inRow(words, "lines", name, now[at][name])} before=${formerOf(before, at, name, now.length).map((old) => inRow(words, "lines", name, old))} />`;
  return html`<section class="stack"><h2>${fieldLabel(`${KIND}.lines`)}</h2>
    ${now.length === 0 && html`<p class="missing">${t("office.not_on_file")}</p>`}
    <ul class="list">${now.map(
      (
        line,
        at,
      ) => html`<li class="line-row" key=${at}>${placesOf([line], fieldsOf).map((place) => html`<${Place} place=${place} />`)}
        <span class="line-amounts"><span>${fieldLabel(`${KIND}.lines.volume`)} <b>${cell(at, "volume")}</b></span>
          <span>${fieldLabel(`${KIND}.lines.area`)} <b>${cell(at, "area")}</b></span></span></li>`,
    )}</ul>
    <${OtherLengths} name="lines" now=${now} before=${before} words=${words} /></section>`;
}

/** @param {{ now: any[], before: any[][], words: ValueWords }} props */
function Products({ now, before, words }) {
  const { language } = useSettings();
  return html`<section class="stack"><h2>${fieldLabel(`${KIND}.products`)}</h2>
    <p class="muted small">${t("office.label_of_that_day")}</p>
    ${now.length === 0 && html`<p class="missing">${t("office.not_on_file")}</p>`}
    ${now.map((product, at) => {
      const value = (/** @type {string} */ name) =>
        html`<${Value} now=${inRow(words, "products", name, product[name])} before=${formerOf(before, at, name, now.length).map((old) => inRow(words, "products", name, old))} />`;
      return html`<article class="card" key=${at}>
        <div class="spread"><h3>${product.name ?? t("office.not_on_file")}</h3><b class="q">${value("amount")}</b></div>
        <dl class="facts">
          <div><dt>${fieldLabel(`${KIND}.products.registration_number`)}</dt><dd>${value("registration_number")}</dd></div>
          <div><dt>${fieldLabel(`${KIND}.products.ingredients`)}</dt><dd><${Ingredients} product=${product} words=${words} /></dd></div>
          <div><dt>${fieldLabel(`${KIND}.products.target`)}</dt><dd>${value("target")}</dd></div>
          <div><dt>${fieldLabel(`${KIND}.products.rei`)}</dt><dd>${product.rei ? value("rei") : html`<${NoRei} kind=${product.kind} />`}</dd></div>
          <div><dt>${fieldLabel(`${KIND}.products.label_on`)}</dt><dd>${product.label_on ? shortDay(product.label_on, language.value) : html`<span class="missing">${t("office.not_on_file")}</span>`}</dd></div>
        </dl><${LabelOfDay} product=${product} /></article>`;
    })}
    <${OtherLengths} name="products" now=${now} before=${before} words=${words} /></section>`;
}

/** The file of the label under which the product was applied, where the office has it. @param {{ product: any }} props */
function LabelOfDay({ product }) {
  const file = fileOfDay(useRecords("label_file"), product.product, product.label_on);
  return file
    ? html`<div><${OpenFile} fields=${file.shown.fields} label=${t("label.open_of_day")} /></div>`
    : null;
}

/** A product without an interval on file: nothing is assumed. @param {{ kind?: string }} props */
export function NoRei({ kind }) {
  if (kind && kind !== "product") return html`<span>${t("office.rei_none_for_kind")}</span>`;
  return html`<span class="missing"><${Icon} name="caution" />${t("office.rei_read_label")}</span>`;
}

/** Active ingredients with their strength and its basis. @param {{ product: any, words: ValueWords }} props */
export function Ingredients({ product, words }) {
  const rows = product.ingredients ?? [];
  if (rows.length === 0) return html`<span class="missing">${t("office.not_on_file")}</span>`;
  return html`${rows.map((/** @type {any} */ row) => html`<span class="ingredient">${row.ai ?? t("office.not_on_file")} <b>${strengthText(row, words)}</b></span>`)}`;
}

/** "118 g/L", "85 % w/w": a per cent without its basis says so. @param {any} row @param {ValueWords} words */
export function strengthText(row, words) {
  const strength = words.inner("product", "ingredients", "strength", row.strength);
  if (strength === null) return t("office.strength_missing");
  const basis = row.basis
    ? t(`office.basis.${row.basis}`)
    : row.strength.unit === "%"
      ? t("office.basis_missing")
      : "";
  const as = row.expressed_as ? t(`office.as.${row.expressed_as}`) : "";
  return [strength, basis, as].filter(Boolean).join(" ");
}

/** @param {ValueWords} words @param {string} list @param {string} name @param {any} value */
const inRow = (words, list, name, value) => words.inner(KIND, list, name, value);

/** Former lists with more or fewer rows, whole. @param {{ name: string, now: any[], before: any[][], words: ValueWords }} props */
function OtherLengths({ name, now, before, words }) {
  const others = before.filter((rows) => rows?.length !== now.length);
  return html`${others.map((rows) => html`<p><del class="old"><span class="visually-hidden">${t("office.was")} </span>${words.text(KIND, name, rows) ?? t("office.nothing")}</del></p>`)}`;
}
