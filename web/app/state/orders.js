// Spray orders: what is planned, how it stands, what a program proposes, and when the label lets the next one be. Pure.
import { addDays, dayNumber } from "../core/moments.js";
import { keysOf } from "./apply-draft.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {"cancelled" | "skipped" | "done" | "partly" | "running" | "late" | "due" | "planned"} OrderState */

/** @param {RecordRow | null | undefined} row @param {string} name @returns {any} */
const field = (row, name) => row?.shown.fields[name] ?? null;
/** @param {RecordRow} row */
const isLive = (row) => row.shown.state !== "void";

/**
 * How an order stands on a day. An application that names it says so by itself; an outcome says what an application can't.
 * @param {RecordRow} order @param {RecordRow[]} outcomes @param {RecordRow[]} applications @param {string} today  `YYYY-MM-DD`
 * @returns {{state: OrderState, outcome: RecordRow | null, applications: RecordRow[]}}
 */
export function orderStanding(order, outcomes, applications, today) {
  const own = applications.filter((row) => isLive(row) && field(row, "order") === order.id);
  const said = outcomes
    .filter((row) => isLive(row) && field(row, "order") === order.id)
    .sort((a, b) => (field(b, "at")?.local ?? "").localeCompare(field(a, "at")?.local ?? ""));
  const outcome = said[0] ?? null;
  return { state: stateOf(order, outcome, own, today), outcome, applications: own };
}

/** @param {RecordRow} order @param {RecordRow | null} outcome @param {RecordRow[]} own @param {string} today @returns {OrderState} */
function stateOf(order, outcome, own, today) {
  if (field(order, "cancelled") === true) return "cancelled";
  if (outcome) return field(outcome, "result") ?? "done";
  if (own.some((row) => !field(row, "ended_at"))) return "running";
  if (own.some((row) => field(row, "stopped_early") !== true)) return "done";
  if (own.length > 0) return "partly";
  const { window_from: from, window_to: to } = order.shown.fields;
  if (to && to < today) return "late";
  if (!from || from <= today) return "due";
  return "planned";
}

/** Whether somebody still has to do something about it. @param {OrderState} state */
export const isOpen = (state) => ["running", "late", "due", "planned", "partly"].includes(state);

/** Orders for a person, late ones first. @param {{row: RecordRow, state: OrderState}[]} orders @param {string | undefined} member */
export const dueFor = (orders, member) =>
  orders
    .filter(
      ({ row, state }) =>
        ["late", "due", "partly"].includes(state) &&
        (field(row, "operator") === null || field(row, "operator") === member),
    )
    .sort(byWindow);

/**
 * Which of what a phone's Today offers is the next step: what this person sprays right now, else the order that is due
 * longest, else a form that was begun, else a fresh application. One application at a time: a fresh one beside a due order
 * would leave the order open.
 * @param {{running: boolean, due: {row: RecordRow}[], begun: {order: string | null} | null}} found
 * @returns {"running" | "order" | "begun" | "fresh"}
 */
export function nextStep({ running, due, begun }) {
  if (running) return "running";
  if (begun?.order && due.some(({ row }) => row.id === begun.order)) return "begun";
  if (due.length > 0) return "order";
  return begun ? "begun" : "fresh";
}

/** @param {{row: RecordRow}} a @param {{row: RecordRow}} b */
export const byWindow = (a, b) => windowKey(a.row).localeCompare(windowKey(b.row));

/** @param {RecordRow} row */
function windowKey(row) {
  const { window_to, window_from, to_time, from_time } = row.shown.fields;
  return `${window_to ?? window_from ?? "9999"} ${to_time ?? from_time ?? "99"}`;
}

/** Lines of an order from chosen places. @param {{key: string, bench: RecordRow, lot: RecordRow | null}[]} all
 * @param {string[]} chosen @param {string[]} untreated */
export const linesOf = (all, chosen, untreated) =>
  all
    .filter((place) => chosen.includes(place.key))
    .map((place) => ({
      lot: place.lot?.id ?? null,
      bench: place.bench.id,
      untreated: untreated.includes(place.key) ? true : null,
    }));

/** The places of an order, as keys: all, and those left untreated. @param {any[]} lines @param {any[]} all */
export function chosenOf(lines, all) {
  const left = lines.filter((line) => line.untreated).map((line) => ({ ...line, untreated: null }));
  const untreated = keysOf(left, all);
  return { chosen: [...new Set([...keysOf(lines, all), ...untreated])], untreated };
}

/**
 * What a program proposes for a lot: a step a week of the crop, with the days of that week, and whether there is an order yet.
 * @param {RecordRow} program @param {RecordRow} lot @param {RecordRow[]} orders @param {RecordRow[]} events  Of the lot's life.
 */
export function proposalsOf(program, lot, orders, events) {
  const from = startOf(program, lot, events);
  return (field(program, "steps") ?? [])
    .filter((/** @type {any} */ step) => step.week !== null && step.week !== undefined && step.tank_mix)
    .map((/** @type {any} */ step) => ({
      step,
      from: from === null ? null : addDays(from, step.week * 7),
      to: from === null ? null : addDays(from, step.week * 7 + 6),
      order:
        orders.find(
          (row) =>
            isLive(row) &&
            field(row, "program") === program.id &&
            field(row, "week") === step.week &&
            (field(row, "lines") ?? []).some((/** @type {any} */ line) => line.lot === lot.id),
        ) ?? null,
    }));
}

/** The day that weeks are counted from: an event of the lot's life, else its start. @param {RecordRow} program
 * @param {RecordRow} lot @param {RecordRow[]} events @returns {string | null} */
function startOf(program, lot, events) {
  const what = field(program, "counted_from");
  const event = events
    .filter((row) => isLive(row) && field(row, "lot") === lot.id && field(row, "what") === what)
    .map((row) => field(row, "at")?.local.slice(0, 10))
    .filter(Boolean)
    .sort()[0];
  if (event) return event;
  return what === "start" || what === "stick" || what === null ? field(lot, "started_on") : null;
}

/**
 * The earliest day for a mix on lots by the labels' intervals, across products with the same a.i. and counting what the
 * supplier applied. `silent`: products whose label, as copied, gives no interval here: read the label.
 * @param {{mix: RecordRow | null, products: RecordRow[], lots: RecordRow[], applications: RecordRow[],
 *   treatments: RecordRow[]}} job
 * @returns {{day: string | null, product: string, last: string | null, silent: string[]}}
 */
export function earliestNext({ mix, products, lots, applications, treatments }) {
  const used = (field(mix, "components") ?? [])
    .map((/** @type {any} */ one) => products.find((row) => row.id === one.product))
    .filter((/** @type {any} */ row) => row && (field(row, "kind") ?? "product") === "product");
  let found = {
    day: /** @type {string | null} */ (null),
    product: "",
    last: /** @type {string | null} */ (null),
  };
  /** @type {string[]} */
  const silent = [];
  for (const product of used) {
    const days = intervalDays(product, lots, field(mix, "method"));
    if (days === null) {
      silent.push(field(product, "name") ?? "");
      continue;
    }
    const last = lastWith(aisOf(field(product, "ingredients")), lots, applications, treatments);
    if (last === null) continue;
    const day = addDays(last, Math.ceil(days));
    if (found.day === null || dayNumber(day) > dayNumber(found.day))
      found = { day, product: field(product, "name") ?? "", last };
  }
  return { ...found, silent };
}

/** @param {any[] | null} rows */
const aisOf = (rows) => (rows ?? []).map((row) => String(row.ai ?? "").toLowerCase()).filter(Boolean);

/** The longest interval that a label gives for any of the crops. @param {RecordRow} product @param {RecordRow[]} lots @param {string | null} method */
function intervalDays(product, lots, method) {
  const crops = lots.map((lot) => String(field(lot, "crop") ?? "").toLowerCase());
  const days = (field(product, "uses") ?? [])
    .filter(
      (/** @type {any} */ use) =>
        use.min_interval &&
        (!use.crop || crops.includes(use.crop.toLowerCase())) &&
        (!use.methods?.length || !method || use.methods.includes(method)),
    )
    .map((/** @type {any} */ use) => Number(use.min_interval.value));
  return days.length === 0 ? null : Math.max(...days);
}

/** @param {string[]} ais @param {RecordRow[]} lots @param {RecordRow[]} applications @param {RecordRow[]} treatments */
function lastWith(ais, lots, applications, treatments) {
  const ids = new Set(lots.map((lot) => lot.id));
  const shares = (/** @type {any[] | null} */ rows) => aisOf(rows).some((ai) => ais.includes(ai));
  const applied = applications
    .filter(isLive)
    .filter((row) => (field(row, "lines") ?? []).some((/** @type {any} */ line) => ids.has(line.lot)))
    .filter((row) => (field(row, "products") ?? []).some((/** @type {any} */ one) => shares(one.ingredients)))
    .map((row) => field(row, "started_at")?.local.slice(0, 10));
  const supplied = treatments
    .filter((row) => isLive(row) && ids.has(field(row, "lot")) && shares(field(row, "ingredients")))
    .map((row) => field(row, "applied_on"));
  return [...applied, ...supplied].filter(Boolean).sort().pop() ?? null;
}
