// What an application is before it is a record: places, mix, tank -> the mix core's request, and the record's fields.
// Pure; the page hands in rows of the registers.
import { decimalText, significantDecimals } from "../core/rounding.js";
import { tankPlan } from "../core/tank.js";
import { quantityValue } from "../core/units.js";
import { classOf } from "./restrictions.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {{value: string, unit: string}} Quantity */

/**
 * One place that can be treated: a lot on a bench, or a bench without a lot. `n_containers` is known only where the
 * lot stands on this bench alone: nobody knows how a lot is shared out over several benches.
 * @typedef {{key: string, bench: RecordRow, house: RecordRow | null, lot: RecordRow | null,
 *   place: string, crop: string, area: Quantity | null, n_containers: number | null, isShared: boolean}} Place
 */
/** A place with what is treated on it. @typedef {Place & {treated: Quantity | null, containers?: number | null}} Treated */
/**
 * What is asked of the mix core beside mix and places; all optional.
 * @typedef {object} Beside
 * @property {Quantity | null} [calibrated]  Volume per area that the sprayer was measured to put down.
 * @property {RecordRow[]} [pairs]           Register of pairs not to be mixed.
 * @property {RecordRow[]} [jarTests]        Register of jar tests.
 * @property {any[]} [season]                From state/season.js.
 * @property {{ph?: string | null, temperature?: Quantity | null} | null} [water]
 * @property {Quantity | null} [extra]        A trial's overage: it counts before the mix's own.
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
  const houseOf = new Map(houses.map((row) => [row.id, row]));
  const places = benches.filter(isLive).flatMap((bench) => {
    const house = houseOf.get(field(bench, "house")) ?? null;
    const here = lots.filter((lot) => isLive(lot) && (field(lot, "benches") ?? []).includes(bench.id));
    const place = [field(house, "name"), field(bench, "name")].filter(Boolean).join(", ");
    return (here.length > 0 ? here : [null]).map((lot) => ({
      key: `${bench.id}/${lot?.id ?? ""}`,
      bench,
      house,
      lot,
      place,
      crop: cropName(lot),
      area: here.length > 1 ? null : field(bench, "area"),
      n_containers: (field(lot, "benches") ?? []).length === 1 ? field(lot, "n_containers") : null,
      isShared: here.length > 1,
    }));
  });
  return places.sort((a, b) => a.place.localeCompare(b.place, "en", { numeric: true }));
}

/** House and place in words of a bench, as a line of an application has them; null where the bench is not on this phone.
 * @param {string} id @param {RecordRow[]} benches @param {RecordRow[]} houses */
export function placeOfBench(id, benches, houses) {
  const bench = benches.find((row) => row.id === id);
  if (!bench) return { house: null, place: null };
  const house = houses.find((row) => row.id === field(bench, "house"));
  return {
    house: field(bench, "house"),
    place: [field(house, "name"), field(bench, "name")].filter(Boolean).join(", ") || null,
  };
}

/** @param {RecordRow | null} lot */
export function cropName(lot) {
  if (lot === null) return "";
  const cultivar = field(lot, "cultivar");
  return [field(lot, "crop"), cultivar ? `‘${cultivar}’` : null].filter(Boolean).join(" ");
}

/**
 * The mix core's request. Twin: server/tepal/services/mixing.py, which builds it for the mixing sheet.
 * @param {{mix: RecordRow, products: RecordRow[], places: Treated[], instruments: RecordRow[], tank: Quantity,
 *   numberFormat: import("../core/rounding.js").NumberFormat} & Beside} job
 * @returns {any}
 */
export function requestOf({ mix, products, places, instruments, tank, numberFormat, ...beside }) {
  const components = field(mix, "components") ?? [];
  return {
    method: field(mix, "method"),
    number_format: numberFormat,
    components: components.map((/** @type {any} */ component, /** @type {number} */ i) => {
      const { matches, product, ...rest } = component;
      const row = products.find((one) => one.id === product);
      return {
        ...rest,
        id: String(i + 1),
        product: { id: product, ...(row?.shown.fields ?? {}) },
        ...(matches ? { matches: String(matches) } : {}),
      };
    }),
    lines: places.map((place) => lineOf(place, mix)),
    tank: { capacity: tank },
    instruments: instruments
      .filter((row) => isLive(row) && field(row, "resolution") && field(row, "capacity"))
      .map((row) => ({ id: row.id, ...row.shown.fields })),
    ...besideOf(mix, beside),
  };
}

/** @param {RecordRow} row */
const isLive = (row) => row.shown.state !== "void";

/** @param {RecordRow} mix @param {Beside} beside */
function besideOf(mix, { calibrated, pairs = [], jarTests = [], season = [], water, extra: asked }) {
  const ratio = field(mix, "injector_ratio");
  const liveTests = jarTests.filter((row) => isLive(row) && field(row, "products") && field(row, "result"));
  return {
    ...(ratio ? { injector: { ratio, meaning: field(mix, "injector_meaning") } } : {}),
    ...((asked ?? field(mix, "extra")) ? { extra: asked ?? field(mix, "extra") } : {}),
    ...(calibrated ? { calibrated } : {}),
    ...(water?.ph || water?.temperature ? { water } : {}),
    incompatible_pairs: pairs
      .filter((row) => isLive(row) && field(row, "a") && field(row, "b"))
      .map((row) => ({ ...row.shown.fields })),
    jar_tests: liveTests.map((row) => ({ products: field(row, "products"), result: field(row, "result") })),
    season,
  };
}

/** @param {Treated} place @param {RecordRow} mix */
function lineOf(place, mix) {
  const perContainer = field(mix, "volume_per_container");
  const shared = {
    id: place.key,
    bench: place.bench.id,
    lot: place.lot?.id ?? null,
    ...(place.treated ? { area: place.treated } : {}),
    ...(place.containers ? { n_containers: place.containers } : {}),
  };
  if (perContainer) return { ...shared, volume_per_container: perContainer };
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

/** What an application keeps of a label as it stood on that day: papers and standards ask for it. */
const OF_LABEL = [
  "registration_number", "country", "kind", "ingredients", "density", "formulation_type", "physical_form", "rei", "label_on",
  "double_notice", "respirator", "restricted_use", "hours_limited", "stage_limited", "ppe_mixing", "ppe_applying",
]; // biome-ignore format: a list of names

/**
 * The fields of the application when spraying starts.
 * @param {Parameters<typeof requestOf>[0] & {plan: import("../core/tank.js").TankPlan, member: any,
 *   startedAt: {local: string, offset_min: number, zone: string}, sprayer?: RecordRow | null,
 *   air?: {temperature: Quantity | null, humidity: Quantity | null}, batches?: Record<string, RecordRow>, more?: Record<string, any>}} job
 *   more  What the steps before the start gave: order, answers of the checks, PPE worn, when the office was heard.
 */
export function startFields({
  mix,
  products,
  places,
  tank,
  plan,
  member,
  startedAt,
  sprayer,
  air,
  batches,
  more,
}) {
  const fields = {
    lines: places.map((place, i) => lineApplied(place, plan.lines[i].volume_l)),
    tank_mix: mix.id,
    mix_name: field(mix, "name"),
    method: field(mix, "method"),
    purpose: field(mix, "purpose"),
    products: productsApplied(mix, products, plan, batches ?? {}),
    volume: computed(plan.volume_l, "L"),
    area: wholeArea(places),
    tank_capacity: tank,
    sprayer: sprayer?.id ?? null,
    droplet: field(sprayer, "droplet"),
    site: field(places[0]?.house, "site"),
    air_temperature: air?.temperature ?? null,
    air_humidity: air?.humidity ?? null,
    operator: member.id,
    operator_name: member.name,
    started_at: startedAt,
    ...more,
  };
  return { ...fields, method_class: classOf(fields).number };
}

/** @param {Treated} place @param {number} volumeL */
const lineApplied = (place, volumeL) => ({
  bench: place.bench.id,
  lot: place.lot?.id ?? null,
  house: place.house?.id ?? null,
  place: place.place,
  lot_code: field(place.lot, "code"),
  crop: place.crop,
  crop_eppo: field(place.lot, "crop_eppo"),
  area: place.treated,
  n_containers: place.containers ?? null,
  volume: computed(volumeL, "L"),
  stage: field(place.lot, "stage"),
  bbch: field(place.lot, "bbch"),
});

/** @param {Treated[]} places */
function wholeArea(places) {
  const areas = places.map((place) => place.treated);
  if (areas.some((area) => area === null)) return null;
  return computed(
    areas.reduce((sum, area) => sum + quantityValue(area, "area", "area"), 0),
    "m2",
  );
}

/** @param {RecordRow} mix @param {RecordRow[]} products @param {import("../core/tank.js").TankPlan} plan
 * @param {Record<string, RecordRow>} batches  By product. */
function productsApplied(mix, products, plan, batches) {
  const inTank = (field(mix, "components") ?? []).filter((/** @type {any} */ one) => !one.is_reference);
  return plan.components.map((component, i) => {
    const row = products.find((one) => one.id === component.product_id);
    return {
      product: component.product_id,
      name: component.product_name,
      ...Object.fromEntries(OF_LABEL.map((name) => [name, field(row, name)])),
      target: inTank[i]?.target ?? null,
      amount: computed(component.total, component.unit),
      batch: batches[component.product_id ?? ""]?.id ?? null,
      batch_code: field(batches[component.product_id ?? ""], "code"),
    };
  });
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
