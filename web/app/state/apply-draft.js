// What Apply holds until it is signed, and how an order or the last application fills it. Pure.
import { decimalText, significantDecimals } from "../core/rounding.js";
import { convert } from "../core/units.js";
import { trialAreas } from "./measure.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {{value: string, unit: string}} Quantity */

/** The key under which this phone keeps it. */
export const DRAFT = "apply";

/** The steps in order; a draft remembers where it is. */
export const STEPS = ["where", "mix", "check", "measure", "spray", "end", "sign"];

/** What the form holds. @typedef {typeof EMPTY} ApplyDraft */
export const EMPTY = {
  step: "where",
  /** @type {string[]} keys of places */ places: [],
  /** @type {Record<string, {value: string, unit: string}>} */ areas: {},
  /** @type {Record<string, number>} containers on a place, where that is not on file */ containers: {},
  /** @type {Quantity | null} what a trial mixes beyond need, before the mix's own */ extra: null,
  /** @type {{code: string, treatment: number, nPlots: number} | null} the trial whose plots the areas are of */ ofTrial:
    null,
  /** @type {string | null} */ mix: null,
  /** @type {string | null} */ sprayer: null,
  air: { temperature: { value: "", unit: "Cel" }, humidity: { value: "", unit: "%" } },
  tank: { value: "", unit: "L" },
  loadsMixed: 0,
  /** @type {string | null} */ record: null,
  /** @type {boolean | null} */ stoppedEarly: null,
  stoppedNote: "",
  note: "",
  left: { value: "", unit: "L" },
  n_photos: 0,
  /** @type {string | null} the spray order it does */ order: null,
  /** @type {string | null} a trial authority that the order names */ permit: null,
  /** @type {boolean} it was done before it is entered */ isLater: false,
  /** @type {string} local time, only where it is entered later */ startedText: "",
  endedText: "",
  /** @type {Record<string, {value: string | null, reason: string}>} answers by finding */ answers: {},
  /** @type {{mixing: boolean, applying: boolean}} */ worn: { mixing: false, applying: false },
  /** @type {{mixing: string, applying: string}} why it is not worn */ notWorn: { mixing: "", applying: "" },
  /** @type {Record<string, string | null>} batch by product, where somebody chose one */ batches: {},
  /** @type {string} local time of the next overhead watering, where somebody knows it */ waterDue: "",
  /** @type {string | null} the PPE that was not ticked when the button was pressed */ asksPpe: null,
};

/** Whether a form holds something that somebody chose and that is not signed yet. @param {Partial<ApplyDraft> | null} form */
export const isBegun = (form) =>
  Boolean(
    form &&
      (form.record || form.order || form.mix || form.isLater || form.note?.trim() || form.places?.length),
  );

/** Whether a form holds something else than the order that is to be done now. @param {ApplyDraft} form @param {string} order */
export const isOtherBegun = (form, order) => form.order !== order && isBegun(form);

/** @param {RecordRow | null | undefined} row @param {string} name @returns {any} */
const field = (row, name) => row?.shown.fields[name] ?? null;

/**
 * The keys of places that lines name: a lot on a bench, all benches of a lot, or whatever stands on a bench.
 * @param {{bench?: string | null, lot?: string | null, untreated?: boolean | null}[]} lines
 * @param {{key: string, bench: RecordRow, lot: RecordRow | null}[]} all
 */
export function keysOf(lines, all) {
  const wanted = lines.filter((line) => !line.untreated);
  const left = lines.filter((line) => line.untreated);
  const fits = (/** @type {any} */ line, /** @type {any} */ place) =>
    (!line.bench || line.bench === place.bench.id) &&
    (!line.lot || line.lot === place.lot?.id) &&
    Boolean(line.bench || line.lot);
  return all
    .filter((place) => wanted.some((line) => fits(line, place)) && !left.some((line) => fits(line, place)))
    .map((place) => place.key);
}

/** A capacity in L or gallons, as the tank is asked for. @param {Quantity} capacity @returns {Quantity} */
export function inTankUnit(capacity) {
  if (capacity.unit === "L" || capacity.unit === "[gal_us]") return capacity;
  const unit = capacity.unit === "mL" ? "L" : "[gal_us]";
  const value = convert(Number(capacity.value), capacity.unit, unit);
  return { value: decimalText(value, Math.max(0, significantDecimals(value, 6))), unit };
}

/**
 * What stands in the form when an order is done: places, mix, sprayer and tank; it opens at the first step that lacks
 * something.
 * @param {{id: string, fields: Record<string, any>, all: any[], sprayers: RecordRow[], lastTank: Quantity | null, trial?: any}} job
 */
export function fromOrder({ id, fields, all, sprayers, lastTank, trial = null }) {
  const asked = keysOf(fields.lines ?? [], all);
  const named = all.filter((place) => asked.includes(place.key));
  const { areas, containers, nPlots } = trialAreas(trial, { id, treatment: fields.treatment }, named);
  // the other lots on a bench with plots are none of the trial's business
  const places = nPlots > 0 ? asked.filter((key) => key in areas) : asked;
  const capacity = field(
    sprayers.find((row) => row.id === fields.sprayer),
    "capacity",
  );
  const tank = capacity ? inTankUnit(capacity) : lastTank;
  const hasAreas = all
    .filter((place) => places.includes(place.key))
    .every((place) => place.area !== null || place.key in areas);
  const step = places.length === 0 || !hasAreas ? "where" : fields.tank_mix && tank ? "check" : "mix";
  return {
    ...EMPTY,
    order: id,
    places,
    areas,
    containers,
    extra: nPlots > 0 ? (trial.overage ?? null) : null,
    ofTrial: nPlots > 0 ? { code: String(trial.code ?? ""), treatment: fields.treatment, nPlots } : null,
    mix: fields.tank_mix ?? null,
    sprayer: fields.sprayer ?? null,
    permit: fields.permit ?? null,
    ...(tank ? { tank } : {}),
    step,
  };
}

/** The newest application of a person on this phone that is signed or ended, to be repeated.
 * @param {RecordRow[]} applications @param {string | undefined} member */
export function lastOf(applications, member) {
  const own = applications.filter(
    (row) => row.shown.state !== "void" && field(row, "operator") === member && field(row, "ended_at"),
  );
  return own.sort((a, b) => startOf(b).localeCompare(startOf(a)))[0] ?? null;
}

/** @param {RecordRow} row */
const startOf = (row) => field(row, "started_at")?.local ?? "";

/** The same again: places, mix, sprayer, tank. @param {RecordRow} last @param {any[]} all */
export function fromLast(last, all) {
  const fields = last.shown.fields;
  const tank = fields.tank_capacity ? inTankUnit(fields.tank_capacity) : null;
  return {
    places: keysOf(fields.lines ?? [], all),
    mix: fields.tank_mix ?? null,
    sprayer: fields.sprayer ?? null,
    ...(tank ? { tank } : {}),
  };
}

/**
 * The batches that can be in the tank of each product, the one that runs out first foremost.
 * @param {any[]} used  Products of the mix. @param {RecordRow[]} batches
 * @returns {Map<string, RecordRow[]>}
 */
export function batchesOf(used, batches) {
  const live = batches.filter((row) => row.shown.state !== "void");
  return new Map(
    used.map((product) => [
      product.id,
      live
        .filter((row) => field(row, "product") === product.id)
        .sort((a, b) => (field(a, "expires_on") ?? "9").localeCompare(field(b, "expires_on") ?? "9")),
    ]),
  );
}

/**
 * The batch of each product: the one chosen, or the only one on file. Of several nobody is picked for the operator.
 * @param {Record<string, string | null>} chosen @param {Map<string, RecordRow[]>} offered
 * @returns {Record<string, RecordRow>}
 */
export function batchesIn(chosen, offered) {
  /** @type {Record<string, RecordRow>} */
  const found = {};
  for (const [product, rows] of offered) {
    const row =
      product in chosen
        ? rows.find((one) => one.id === chosen[product])
        : rows.length === 1
          ? rows[0]
          : undefined;
    if (row) found[product] = row;
  }
  return found;
}
