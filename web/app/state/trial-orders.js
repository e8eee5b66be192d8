// The spray orders of a trial's treatments: what each needs, where its plots stand, in which order they are best done. Pure.
import { measuredPlots } from "./measure.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {"" | "untreated" | "water" | "no_mix" | "no_area" | "no_bench" | "no_plot"} OrderProblem */

/**
 * A line of a spray order per bench and lot on which plots of the treatment stand, in walking order.
 * @param {any} trial @param {number} number @returns {{bench: string, lot: string | null}[]}
 */
export function linesOfTreatment(trial, number) {
  const lines = new Map();
  for (const plot of /** @type {any[]} */ (measuredPlots(trial))) {
    if (plot.treatment !== number || !plot.bench) continue;
    lines.set(`${plot.bench} ${plot.lot ?? ""}`, { bench: plot.bench, lot: plot.lot ?? null });
  }
  return [...lines.values()];
}

/** Why a treatment has no spray order of its own; "" where one can be made. @param {any} trial @param {any} treatment
 * @returns {OrderProblem} */
export function orderProblem(trial, treatment) {
  const own = measuredPlots(trial).filter((plot) => plot.treatment === treatment.number);
  if (own.length === 0) return "no_plot";
  if (!treatment.tank_mix)
    return treatment.role === "untreated" || treatment.role === "water" ? treatment.role : "no_mix";
  if (linesOfTreatment(trial, treatment.number).length === 0) return "no_bench";
  // without it an application would mix for the whole bench and record its area
  return trial.plot_area ? "" : "no_area";
}

/** Weakest first, partners together last, so that the little that stays in a rinsed hose is the least that can be; common
 * practice, no source. */
const TURN = ["untreated", "water", "blank", "rate", "partner", "standard", "other", "mix"];

/** The treatments in the order in which they are best done. @param {any} trial @returns {any[]} */
export function inTurn(trial) {
  const place = (/** @type {any} */ one) => TURN.indexOf(one.role ?? "other");
  return [...(trial.treatments ?? [])].sort(
    (a, b) => place(a) - place(b) || Number(a.rate ?? 0) - Number(b.rate ?? 0) || a.number - b.number,
  );
}

/** The orders of one treatment that still count, oldest first. @param {RecordRow[]} orders @param {string} trial @param {number} number */
export const ordersOf = (orders, trial, number) =>
  orders.filter(
    ({ shown }) =>
      shown.state !== "void" &&
      shown.fields.trial === trial &&
      shown.fields.treatment === number &&
      shown.fields.cancelled !== true,
  );

/** The applications of one treatment that still count, oldest first. @param {RecordRow[]} applications @param {string} trial @param {number} number */
export const appliedOf = (applications, trial, number) =>
  applications
    .filter(
      ({ shown: { state, fields } }) =>
        state !== "void" &&
        fields.trial === trial &&
        (fields.plots ?? []).some(
          (/** @type {any} */ row) => row.planned === number && row.actual === number,
        ),
    )
    .sort((a, b) =>
      String(a.shown.fields.started_at?.local).localeCompare(String(b.shown.fields.started_at?.local)),
    );

/**
 * The fields of the spray orders of the chosen treatments, in turn; a treatment that can have none is left out.
 * @param {string} id @param {any} trial @param {number[]} chosen
 * @param {{day: string, operator: string | null, sprayer: string | null}} form
 */
export function orderFields(id, trial, chosen, { day, operator, sprayer }) {
  return inTurn(trial)
    .filter((one) => chosen.includes(one.number) && orderProblem(trial, one) === "")
    .map((one) => ({
      title: [trial.code, one.number, one.name].filter(Boolean).join(" · ").slice(0, 120),
      lines: linesOfTreatment(trial, one.number),
      tank_mix: one.tank_mix,
      trial: id,
      treatment: one.number,
      permit: trial.permit ?? null,
      window_from: day || null,
      window_to: day || null,
      operator,
      sprayer,
    }));
}

/**
 * The application that went before, of another treatment of the same trial on the same day, after which nobody noted that
 * the sprayer was rinsed; null where there is none.
 * @param {RecordRow[]} applications @param {{trial: string | null, mix: string | null, sprayer: string | null, today: string}} job
 */
export function unrinsedBefore(applications, { trial, mix, sprayer, today }) {
  if (!trial) return null;
  const before = applications
    .filter(({ shown: { state, fields } }) => {
      const isSame = !sprayer || !fields.sprayer || fields.sprayer === sprayer;
      return (
        state !== "void" &&
        fields.trial === trial &&
        isSame &&
        fields.started_at?.local.slice(0, 10) === today
      );
    })
    .sort((a, b) => b.shown.fields.started_at.local.localeCompare(a.shown.fields.started_at.local))[0];
  const fields = before?.shown.fields;
  return fields && fields.tank_mix !== mix && fields.tank_cleaned !== true ? before : null;
}
