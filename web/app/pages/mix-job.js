// Everything a mix is computed from, gathered from the registers on this phone: for the mix page and for Apply alike.
import { numberFormatOf } from "../core/number_format.js";
import { placesOf, planOf, requestOf } from "../state/apply.js";
import { calibratedOf, newestOf } from "../state/calibration.js";
import { useRecords } from "../state/context.js";
import { seasonOf } from "../state/season.js";
import { useWrittenNumbers } from "./establishment.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {import("../state/apply.js").Treated} Treated */
/** @typedef {{value: string, unit: string}} Quantity */
/**
 * What a person chose. `areas` and `containers` hold what is not on file, by key of the place.
 * @typedef {object} Chosen
 * @property {string[]} places
 * @property {Record<string, Quantity>} areas
 * @property {Record<string, number>} [containers]
 * @property {string | null} mix
 * @property {Quantity} tank
 * @property {string | null} [sprayer]
 * @property {Quantity | null} [ph]   Of the water; unit [pH].
 * @property {Quantity | null} [extra]   Mixed beyond need, before what the mix says itself.
 */

const KINDS = [
  "house",
  "bench",
  "lot",
  "tank_mix",
  "product",
  "instrument",
  "sprayer",
  "calibration",
  "incompatible_pair",
  "jar_test",
  "application",
];

/**
 * @param {Chosen} form
 * @param {string | null} [except]  The application that is being recorded: it is no earlier one.
 */
export function useMixJob(form, except = null) {
  const numberFormat = numberFormatOf(useWrittenNumbers());
  const rows = Object.fromEntries(KINDS.map((kind) => [kind, useRecords(kind)]));
  if (Object.values(rows).some((list) => list === null)) return null;
  const of = /** @type {Record<string, RecordRow[]>} */ (rows);
  const all = placesOf(of.house, of.bench, of.lot);
  const mix = of.tank_mix.find((row) => row.id === form.mix) ?? null;
  const places = all
    .filter((place) => form.places.includes(place.key))
    .map((place) => ({
      ...place,
      treated: form.areas[place.key] ?? place.area,
      containers: form.containers?.[place.key] ?? place.n_containers,
    }));
  const lots = [...new Set(places.map((place) => place.lot))].filter((lot) => lot !== null);
  const season = seasonOf(of.application, lots, except);
  const newest = newestOf(of.calibration, form.sprayer ?? null);
  const used = (mix?.shown.fields.components ?? [])
    .filter((/** @type {any} */ component) => !component.is_reference)
    .map((/** @type {any} */ component) => of.product.find((row) => row.id === component.product))
    .filter(Boolean);
  const job = {
    mix: /** @type {RecordRow} */ (mix),
    products: of.product,
    places,
    instruments: of.instrument,
    tank: form.tank,
    numberFormat,
    calibrated: newest ? calibratedOf(newest.result) : null,
    pairs: of.incompatible_pair,
    jarTests: of.jar_test,
    season: season.records,
    water: form.ph ? { ph: form.ph.value } : null,
    extra: form.extra ?? null,
  };
  const isPlanned = mix !== null && places.length > 0 && form.tank.value !== "";
  const { plan, error } = isPlanned ? planOf(job) : { plan: null, error: null };
  return {
    all,
    rows: of,
    mix,
    used,
    job,
    plan,
    error,
    newest,
    sprayer: of.sprayer.find((row) => row.id === form.sprayer) ?? null,
    uncounted: season.uncounted,
    request: plan === null ? null : requestOf(job),
    placeNames: Object.fromEntries(places.map((place) => [place.key, nameOf(place)])),
  };
}
/** @typedef {NonNullable<ReturnType<typeof useMixJob>>} MixJob */

/** "House 1, Bench 2 (1·07)" @param {Treated} place */
const nameOf = (place) =>
  place.lot === null ? place.place : `${place.place} (${place.lot.shown.fields.code ?? ""})`;
