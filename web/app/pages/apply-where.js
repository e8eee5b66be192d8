// Apply, first two steps: which places, and which mix in which tank.

import { localDecimal } from "../core/number_format.js";
import { decimalText } from "../core/rounding.js";
import { convert, quantityValue } from "../core/units.js";
import { AskedQuantity } from "../forms/asked-quantity.js";
import { choiceLabel } from "../forms/labels.js";
import { fromLast, inTankUnit, lastOf } from "../state/apply-draft.js";
import { useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { ChoiceField, RefField, SeveralField } from "../ui/choices.js";
import { NumberField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { HereBefore } from "./across-before.js";
import { CalibrationAge } from "./calibration-age.js";
import { coreText } from "./core-words.js";

/** @typedef {import("../state/apply.js").Place} Place */
/** @typedef {{value: string, unit: string}} Quantity */
/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */

/** @param {{treated: Quantity | null, place: string}[]} places @param {NumberFormat} format */
export function placeSummary(places, format) {
  if (places.length === 0) return "";
  const areas = places.map((place) => place.treated).filter((area) => area !== null);
  const m2 = areas.reduce((sum, area) => sum + quantityValue(area, "area", "area"), 0);
  const names = [...new Set(places.map((place) => place.place))].join("; ");
  return `${names} · ${localDecimal(decimalText(m2, 1), format)}\u00a0m²`;
}

/** @param {any} props */
export function WhereStep({ form, set, all, job, rows }) {
  const format = job.numberFormat;
  const { session } = useTepal();
  const last = lastOf(rows.application, session.value?.member?.id);
  const choices = all.map((/** @type {Place} */ place) => ({
    value: place.key,
    label: place.crop ? `${place.lot?.shown.fields.code ?? ""} ${place.crop}` : t("apply.no_lot"),
    detail: [place.place, place.area ? areaText(place.area, format) : t("apply.area_unknown")].join(" · "),
  }));
  const unknown = job.places.filter((/** @type {any} */ place) => place.area === null);
  return html`<div class="stack">
    ${
      form.places.length === 0 &&
      html`<div class="row">
      ${last && html`<${Button} icon="undo" onPress=${() => set({ ...fromLast(last, all), typedTank: undefined })}>${t("apply.repeat", { mix: last.shown.fields.mix_name ?? "", place: placesOfLast(last) })}<//>`}
      ${!form.isLater && html`<${Button} kind="quiet" icon="book" onPress=${() => set({ isLater: true })}>${t("apply.enter_later")}<//>`}</div>`
    }
    <${SeveralField} label=${t("apply.where_label")} values=${form.places} choices=${choices}
      onValues=${(/** @type {string[]} */ places) => set({ places })} />
    ${form.ofTrial && html`<${Message} tone="plain" title=${t("apply.of_trial", { ...form.ofTrial, n: form.ofTrial.nPlots })}><p>${placeSummary(job.places, format)}</p><//>`}
    ${unknown.map(
      (/** @type {any} */ place) => html`<${AreaField} key=${place.key} place=${place} format=${format}
        typed=${form.typedAreas?.[place.key] ?? form.areas[place.key] ?? { value: "", unit: "m2" }}
        onTyped=${(/** @type {any} */ typed, /** @type {Quantity | null} */ stored) => {
          const areas = { ...form.areas };
          if (stored) areas[place.key] = stored;
          else delete areas[place.key];
          set({ areas, typedAreas: { ...form.typedAreas, [place.key]: typed } });
        }} />`,
    )}
  </div>`;
}

/** @param {any} last */
const placesOfLast = (last) =>
  [...new Set((last.shown.fields.lines ?? []).map((/** @type {any} */ line) => line.place))].join("; ");

/** Several lots share a bench: the part that is treated is asked for, never guessed. @param {any} props */
function AreaField({ place, typed, onTyped, format }) {
  return html`<${AskedQuantity} label=${t("apply.area_of", { crop: place.crop, place: place.place })} hint=${t("apply.area_hint")}
    typed=${typed} onTyped=${onTyped} units=${["m2", "[sft_i]"]} numberFormat=${format} />`;
}

/** @param {Quantity} area @param {NumberFormat} format */
function areaText(area, format) {
  const m2 = convert(Number(area.value), area.unit, "m2");
  const ft2 = convert(Number(area.value), area.unit, "[sft_i]");
  return `${localDecimal(decimalText(m2, 1), format)} m² (${decimalText(ft2, 0)} ft²)`;
}

/** @param {any} props */
export function MixStep({ form, set, mixes, job, error, plan, mix, rows, sprayer, placeNames }) {
  const live = mixes.filter((/** @type {any} */ row) => row.shown.state !== "void");
  const format = job.numberFormat;
  return html`<div class="stack">
    <${ChoiceField} label=${t("apply.mix_label")} value=${form.mix} onValue=${(/** @type {string} */ mix) => set({ mix })}
      choices=${live.map((/** @type {any} */ row) => ({
        value: row.id,
        label: row.shown.fields.name ?? "",
        detail: mixDetail(row, job),
      }))} />
    <${HereBefore} mix=${mix} lots=${job.places.map((/** @type {any} */ place) => place.lot).filter(Boolean)} />
    ${mix?.shown.fields.volume_per_container && html`<${Containers} form=${form} set=${set} job=${job} />`}
    ${rows.sprayer.length > 0 && html`<${SprayerField} form=${form} set=${set} sprayers=${rows.sprayer} format=${format} />`}
    ${sprayer && html`<${CalibrationAge} sprayer=${sprayer} calibrations=${rows.calibration} />`}
    <${AskedQuantity} label=${t("apply.tank")} hint=${t("apply.tank_hint")} typed=${form.typedTank ?? form.tank} units=${["L", "[gal_us]"]} numberFormat=${format}
      onTyped=${(/** @type {any} */ typedTank, /** @type {any} */ stored) => set({ typedTank, tank: stored ?? { value: "", unit: typedTank.unit } })} />
    ${error && html`<${Message} tone="stopped" title=${coreText(error, format, placeNames)} live=${true} />`}
    ${plan && html`<p class="muted">${t("apply.volume", { metric: plan.volume_text.metric, us: plan.volume_text.us })}</p>`}
  </div>`;
}

/** The sprayer brings its tank along and, where the mix says no volume per area, what it was measured to put down. @param {any} props */
function SprayerField({ form, set, sprayers, format }) {
  const options = sprayers
    .filter((/** @type {any} */ row) => row.shown.state !== "void")
    .map((/** @type {any} */ row) => ({ id: row.id, name: row.shown.fields.name ?? "" }));
  /** @param {string | null} id */
  function pick(id) {
    const capacity = sprayers.find((/** @type {any} */ row) => row.id === id)?.shown.fields.capacity;
    if (!capacity) return set({ sprayer: id });
    const tank = inTankUnit(capacity);
    set({ sprayer: id, tank, typedTank: { ...tank, value: localDecimal(tank.value, format) } });
  }
  return html`<${RefField} label=${t("apply.sprayer")} isOptional=${true} value=${form.sprayer ?? null} options=${options} onValue=${pick} />`;
}

/** Containers on each place, where a lot is shared out over several benches and nobody knows how. @param {any} props */
function Containers({ form, set, job }) {
  const unknown = job.places.filter(
    (/** @type {any} */ place) => place.lot !== null && place.n_containers === null,
  );
  return unknown.map((/** @type {any} */ place) => {
    const typed = form.typedContainers?.[place.key] ?? String(form.containers?.[place.key] ?? "");
    const isWrong = typed.trim() !== "" && !/^[0-9]{1,8}$/.test(typed.trim());
    return html`<${NumberField} key=${place.key} label=${t("apply.containers_of", { crop: place.crop, place: place.place })} hint=${t("apply.containers_hint")}
      isWhole=${true} value=${typed} error=${isWrong ? t("form.not_whole", { value: typed }) : undefined}
      onValue=${(/** @type {string} */ text) => {
        const containers = { ...form.containers };
        if (/^[0-9]{1,8}$/.test(text.trim()) && Number(text) > 0) containers[place.key] = Number(text);
        else delete containers[place.key];
        set({ containers, typedContainers: { ...form.typedContainers, [place.key]: text } });
      }} />`;
  });
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
