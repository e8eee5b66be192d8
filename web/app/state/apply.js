// What an application is before it is a record: places, mix, tank -> the mix core's request, and the record's fields.
// Pure; the page hands in rows of the registers.
import { decimalText, significantDecimals } from "../core/rounding.js";
import { tankPlan } from "../core/tank.js";
import { quantityValue } from "../core/units.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {{value: string, unit: string}} Quantity */

/**
 * One place that can be treated: a lot on a bench, or a bench without a lot.
 * @typedef {{key: string, bench: RecordRow, house: RecordRow | null, lot: RecordRow | null,
 *   place: string, crop: string, area: Quantity | null, isShared: boolean}} Place
 */

/** @param {RecordRow | null | undefined} row @param {string} name @returns {any} */
const field = (row, name) => row?.shown.fields[name] ?? null;

/**
 * Every bench with each lot on it. Where several lots share a bench, nobody knows the area of one of them:
 * `area` is null and is asked for.
 * @param {RecordRow[]} houses @param {RecordRow[]} benches @param {RecordRow[]} lots
 * @returns {Place[]}
 */
export function placesOf(houses, benches, lots) {
  const live = (/** @type {RecordRow} */ row) => row.shown.state !== "void";
  const houseOf = new Map(houses.map((row) => [row.id, row]));
  const places = benches.filter(live).flatMap((bench) => {
    const house = houseOf.get(field(bench, "house")) ?? null;
    const here = lots.filter((lot) => live(lot) && (field(lot, "benches") ?? []).includes(bench.id));
    const place = [field(house, "name"), field(bench, "name")].filter(Boolean).join(", ");
    return (here.length > 0 ? here : [null]).map((lot) => ({
      key: `${bench.id}/${lot?.id ?? ""}`,
      bench,
      house,
      lot,
      place,
      crop: cropName(lot),
      area: here.length > 1 ? null : field(bench, "area"),
      isShared: here.length > 1,
    }));
  });
  return places.sort((a, b) => a.place.localeCompare(b.place, "en", { numeric: true }));
}

/** @param {RecordRow | null} lot */
export function cropName(lot) {
  if (lot === null) return "";
  const cultivar = field(lot, "cultivar");
  return [field(lot, "crop"), cultivar ? `‘${cultivar}’` : null].filter(Boolean).join(" ");
}

/**
 * @param {{mix: RecordRow, products: RecordRow[], places: (Place & {treated: Quantity | null})[],
 *   instruments: RecordRow[], tank: Quantity, numberFormat: import("../core/rounding.js").NumberFormat}} job
 * @returns {any} the mix core's request
 */
export function requestOf({ mix, products, places, instruments, tank, numberFormat }) {
  const components = field(mix, "components") ?? [];
  const idOf = (/** @type {number} */ i) => String(i + 1);
  return {
    method: field(mix, "method"),
    number_format: numberFormat,
    components: components.map((/** @type {any} */ component, /** @type {number} */ i) => {
      const { matches, product, ...rest } = component;
      const row = products.find((one) => one.id === product);
      return {
        ...rest,
        id: idOf(i),
        product: { id: product, ...(row?.shown.fields ?? {}) },
        ...(matches ? { matches: String(matches) } : {}),
      };
    }),
    lines: places.map((place) => lineOf(place, mix)),
    tank: { capacity: tank },
    instruments: instruments
      .filter((row) => row.shown.state !== "void")
      .map((row) => ({ id: row.id, ...row.shown.fields })),
  };
}

/** @param {Place & {treated: Quantity | null}} place @param {RecordRow} mix */
function lineOf(place, mix) {
  const perContainer = field(mix, "volume_per_container");
  const shared = {
    id: place.key,
    bench: place.bench.id,
    lot: place.lot?.id ?? null,
    ...(place.treated ? { area: place.treated } : {}),
  };
  if (perContainer) {
    return { ...shared, n_containers: field(place.lot, "n_containers"), volume_per_container: perContainer };
  }
  return { ...shared, volume_per_area: field(mix, "volume_per_area") };
}

/**
 * The plan, or why there is none.
 * @param {Parameters<typeof requestOf>[0]} job
 * @returns {{plan: import("../core/tank.js").TankPlan, error: null} | {plan: null, error: any}}
 */
export function planOf(job) {
  try {
    return { plan: tankPlan(requestOf(job)), error: null };
  } catch (error) {
    if (error instanceof Error && "code" in error) return { plan: null, error };
    throw error;
  }
}

/** A computed amount as a quantity on record: four significant digits, as on the screen.
 * @param {number} value @param {string} unit @returns {Quantity} */
const computed = (value, unit) => ({
  value: decimalText(value, Math.max(0, significantDecimals(value, 4))),
  unit,
});

/**
 * The fields of the application when spraying starts.
 * @param {Parameters<typeof requestOf>[0] & {plan: import("../core/tank.js").TankPlan, member: any,
 *   startedAt: {local: string, offset_min: number, zone: string}}} job
 */
export function startFields({ mix, products, places, tank, plan, member, startedAt }) {
  const areas = places.map((place) => place.treated);
  const whole = areas.every((area) => area !== null)
    ? areas.reduce((sum, area) => sum + quantityValue(area, "area", "area"), 0)
    : null;
  return {
    lines: places.map((place, i) => ({
      bench: place.bench.id,
      lot: place.lot?.id ?? null,
      house: place.house?.id ?? null,
      place: place.place,
      lot_code: field(place.lot, "code"),
      crop: place.crop,
      crop_eppo: field(place.lot, "crop_eppo"),
      area: place.treated,
      volume: computed(plan.lines[i].volume_l, "L"),
    })),
    tank_mix: mix.id,
    mix_name: field(mix, "name"),
    method: field(mix, "method"),
    purpose: field(mix, "purpose"),
    products: plan.components.map((component, i) => {
      const row = products.find((one) => one.id === component.product_id);
      return {
        product: component.product_id,
        name: component.product_name,
        registration_number: field(row, "registration_number"),
        kind: field(row, "kind"),
        ingredients: field(row, "ingredients"),
        density: field(row, "density"),
        formulation_type: field(row, "formulation_type"),
        physical_form: field(row, "physical_form"),
        rei: field(row, "rei"),
        label_on: field(row, "label_on"),
        target: field(mix, "components")[i]?.target ?? null,
        amount: computed(component.total, component.unit),
      };
    }),
    volume: computed(plan.volume_l, "L"),
    area: whole === null ? null : computed(whole, "m2"),
    tank_capacity: tank,
    operator: member.id,
    operator_name: member.name,
    started_at: startedAt,
  };
}

/**
 * PPE of the products for an act, each sentence once.
 * @param {RecordRow[]} products @param {"ppe_mixing" | "ppe_applying"} act
 */
export const ppeFor = (products, act) =>
  [...new Set(products.map((row) => field(row, act)).filter(Boolean))].join(" · ");

/** Products whose label, as copied, names no PPE for the act.
 * @param {RecordRow[]} products @param {"ppe_mixing" | "ppe_applying"} act */
export const ppeUnknown = (products, act) =>
  products.filter((row) => !field(row, act)).map((row) => field(row, "name"));
