// Apply, first two steps: which places, and which mix in which tank.

import { localDecimal } from "../core/number_format.js";
import { decimalText, parseDecimal } from "../core/rounding.js";
import { convert, quantityValue } from "../core/units.js";
import { choiceLabel } from "../forms/labels.js";
import { ChoiceField, SeveralField } from "../ui/choices.js";
import { QuantityField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { errorText } from "./apply-measure.js";

/** @typedef {import("../state/apply.js").Place} Place */
/** @typedef {{value: string, unit: string}} Quantity */
/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */

const AREA_UNITS = [
  { code: "m2", label: "m²" },
  { code: "[sft_i]", label: "ft²" },
];
const TANK_UNITS = [
  { code: "L", label: "L" },
  { code: "[gal_us]", label: "gal" },
];

/**
 * A typed quantity as it is stored, or null where it is no number yet.
 * @param {Quantity} typed @param {NumberFormat} format @returns {Quantity | null}
 */
export function storedQuantity(typed, format) {
  if (typed.value.trim() === "") return null;
  try {
    return { value: parseDecimal(typed.value, format), unit: typed.unit };
  } catch {
    return null;
  }
}

/**
 * What is wrong with a typed quantity, in words; "" where nothing is.
 * @param {Quantity} typed @param {NumberFormat} format
 */
export function quantityError(typed, format) {
  if (typed.value.trim() === "") return "";
  try {
    const value = Number(parseDecimal(typed.value, format));
    return value > 0 ? "" : t("form.not_above_zero");
  } catch (error) {
    return errorText(error);
  }
}

/**
 * The chosen places with the area that is treated on each.
 * @param {Place[]} all @param {import("./apply.js").ApplyDraft} form
 */
export const treatedPlaces = (all, form) =>
  all
    .filter((place) => form.places.includes(place.key))
    .map((place) => ({ ...place, treated: form.areas[place.key] ?? place.area }));

/** @param {{treated: Quantity | null, place: string}[]} places @param {NumberFormat} format */
export function placeSummary(places, format) {
  if (places.length === 0) return "";
  const areas = places.map((place) => place.treated).filter((area) => area !== null);
  const m2 = areas.reduce((sum, area) => sum + quantityValue(area, "area", "area"), 0);
  const names = [...new Set(places.map((place) => place.place))].join("; ");
  return `${names} · ${localDecimal(decimalText(m2, 1), format)}\u00a0m²`;
}

/** @param {any} props */
export function WhereStep({ form, set, all, job }) {
  const format = job.numberFormat;
  const choices = all.map((/** @type {Place} */ place) => ({
    value: place.key,
    label: place.crop ? `${place.lot?.shown.fields.code ?? ""} ${place.crop}` : t("apply.no_lot"),
    detail: [place.place, place.area ? areaText(place.area, format) : t("apply.area_unknown")].join(" · "),
  }));
  const unknown = job.places.filter((/** @type {any} */ place) => place.area === null);
  return html`<div class="stack">
    <${SeveralField} label=${t("apply.where_label")} values=${form.places} choices=${choices}
      onValues=${(/** @type {string[]} */ places) => set({ places })} />
    ${unknown.map(
      (/** @type {any} */ place) => html`<${AreaField} key=${place.key} place=${place} format=${format}
        typed=${form.typedAreas?.[place.key] ?? form.areas[place.key] ?? { value: "", unit: "m2" }}
        onTyped=${(/** @type {Quantity} */ typed) => {
          const stored = quantityError(typed, format) === "" ? storedQuantity(typed, format) : null;
          const areas = { ...form.areas };
          if (stored) areas[place.key] = stored;
          else delete areas[place.key];
          set({ areas, typedAreas: { ...form.typedAreas, [place.key]: typed } });
        }} />`,
    )}
  </div>`;
}

/** Several lots share a bench: the part that is treated is asked for, never guessed. @param {any} props */
function AreaField({ place, typed, onTyped, format }) {
  return html`<${QuantityField} label=${t("apply.area_of", { crop: place.crop, place: place.place })} hint=${t("apply.area_hint")}
    value=${typed} onValue=${onTyped} units=${AREA_UNITS} error=${quantityError(typed, format)} />`;
}

/** @param {Quantity} area @param {NumberFormat} format */
function areaText(area, format) {
  const m2 = convert(Number(area.value), area.unit, "m2");
  const ft2 = convert(Number(area.value), area.unit, "[sft_i]");
  return `${localDecimal(decimalText(m2, 1), format)} m² (${decimalText(ft2, 0)} ft²)`;
}

/** @param {any} props */
export function MixStep({ form, set, mixes, job, error, plan }) {
  const live = mixes.filter((/** @type {any} */ row) => row.shown.state !== "void");
  const typed = form.typedTank ?? form.tank;
  return html`<div class="stack">
    <${ChoiceField} label=${t("apply.mix_label")} value=${form.mix} onValue=${(/** @type {string} */ mix) => set({ mix })}
      choices=${live.map((/** @type {any} */ row) => ({
        value: row.id,
        label: row.shown.fields.name ?? "",
        detail: mixDetail(row, job),
      }))} />
    <${QuantityField} label=${t("apply.tank")} hint=${t("apply.tank_hint")} value=${typed} units=${TANK_UNITS}
      error=${quantityError(typed, job.numberFormat)}
      onValue=${(/** @type {Quantity} */ next) => {
        const stored =
          quantityError(next, job.numberFormat) === "" ? storedQuantity(next, job.numberFormat) : null;
        set({ typedTank: next, tank: stored ?? { value: "", unit: next.unit } });
      }} />
    ${error && html`<${Message} tone="stopped" title=${errorText(error)} live=${true} />`}
    ${plan && html`<p class="muted">${t("apply.volume", { metric: plan.volume_text.metric, us: plan.volume_text.us })}</p>`}
  </div>`;
}

/** Partners and targets in a line. @param {any} row @param {any} job */
function mixDetail(row, job) {
  const parts = (row.shown.fields.components ?? []).map((/** @type {any} */ component) => {
    const product = job.products.find((/** @type {any} */ one) => one.id === component.product);
    const name = product?.shown.fields.name ?? t("apply.product_missing");
    const target = component.target
      ? `${localDecimal(component.target.value, job.numberFormat)} ${unitLabel(component.target.unit)}`
      : "";
    return `${name} ${target}`;
  });
  return [choiceLabel("tank_mix.method", row.shown.fields.method), ...parts].join(" · ");
}

/** @param {string} code */
const unitLabel = (code) => (code === "mg/L" ? "mg/L (ppm)" : code.replaceAll(/[[\]{}]/g, ""));
