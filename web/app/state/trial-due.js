// The work of running trials by day: which assessments and daily rounds are due, begun or overdue. Pure. Its twin for the
// paper is services/trial_due.py.
import { dueOf } from "./measure.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {"planned" | "due" | "begun" | "overdue"} WorkState */
/** @typedef {{trial: string, code: string, name: string, trialCode: string, sort: string, from: string, on: string, to: string, state: WorkState}} Work */

/**
 * The work of trials under way, by its day. Whether an assessment is whole is asked plant by plant elsewhere; here one that
 * has an entry is begun, and only one without any is overdue. A daily round is begun anew each day.
 * @param {RecordRow[]} trials @param {RecordRow[]} assessments  What was begun.
 * @param {string} today  YYYY-MM-DD by the nursery's clock.
 * @returns {Work[]}
 */
export function trialWork(trials, assessments, today) {
  const begun = new Set(
    assessments
      .filter((row) => row.shown.state !== "void")
      .map(({ shown }) => `${shown.fields.trial} ${shown.fields.code}`),
  );
  return trials
    .filter(({ shown }) => shown.state !== "void" && shown.fields.phase === "running")
    .flatMap(({ id, shown }) =>
      /** @type {any[]} */ (shown.fields.assessments ?? []).flatMap((planned) => {
        const due = dueOf(shown.fields, planned);
        if (due === null) return [];
        const isRound = planned.sort === "daily_round";
        const isBegun = begun.has(`${id} ${planned.code}${isRound ? `.${today}` : ""}`);
        // a round that was left out yesterday can't be made up for
        if (isRound && today > due.to) return [];
        return [
          {
            trial: id,
            code: planned.code,
            name: planned.name ?? planned.code,
            trialCode: shown.fields.code ?? "",
            sort: planned.sort ?? "assessment",
            ...due,
            state: standing(due, isBegun, today),
          },
        ];
      }),
    )
    .sort((a, b) => a.to.localeCompare(b.to) || a.trialCode.localeCompare(b.trialCode));
}

/** @param {{from: string, to: string}} due @param {boolean} isBegun @param {string} today @returns {WorkState} */
function standing(due, isBegun, today) {
  if (isBegun) return "begun";
  if (today > due.to) return "overdue";
  return today < due.from ? "planned" : "due";
}

/** What a day's page says is to be done. @param {Work[]} work */
export const openWork = (work) => work.filter(({ state }) => state === "due" || state === "overdue");
