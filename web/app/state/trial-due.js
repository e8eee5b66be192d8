// The work of running trials by day: which assessments and daily rounds are due, begun or overdue. Pure. Its twin for the
// paper is services/trial_due.py.
import { dueOf } from "./measure.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {"planned" | "due" | "begun" | "done" | "unfinished" | "overdue"} WorkState */
/** @typedef {{trial: string, code: string, name: string, trialCode: string, sort: string, from: string, on: string, to: string, state: WorkState}} Work */

/** How one assessment of one trial is named in a table. @param {string} trial @param {string} code */
export const workKey = (trial, code) => `${trial} ${code}`;

/**
 * The work of trials under way, by its day. What has an entry is begun; whether it is whole is asked plant by plant elsewhere
 * and told here: begun and not whole after its last day is unfinished. A daily round is begun anew each day.
 * @param {RecordRow[]} trials @param {RecordRow[]} assessments  What was begun.
 * @param {string} today  YYYY-MM-DD by the nursery's clock.
 * @param {Record<string, boolean>} [whole]  By `workKey`; one that is not named is not known.
 * @returns {Work[]}
 */
export function trialWork(trials, assessments, today, whole = {}) {
  const begun = new Set(
    assessments
      .filter((row) => row.shown.state !== "void")
      .map(({ shown }) => workKey(shown.fields.trial, shown.fields.code)),
  );
  return trials
    .filter(({ shown }) => shown.state !== "void" && shown.fields.phase === "running")
    .flatMap(({ id, shown }) =>
      /** @type {any[]} */ (shown.fields.assessments ?? []).flatMap((planned) => {
        const due = dueOf(shown.fields, planned);
        if (due === null) return [];
        const isRound = planned.sort === "daily_round";
        const isBegun = begun.has(workKey(id, `${planned.code}${isRound ? `.${today}` : ""}`));
        const isWhole = isRound ? undefined : whole[workKey(id, planned.code)];
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
            state: standing(due, isBegun, isWhole, today),
          },
        ];
      }),
    )
    .sort((a, b) => a.to.localeCompare(b.to) || a.trialCode.localeCompare(b.trialCode));
}

/** @param {{from: string, to: string}} due @param {boolean} isBegun @param {boolean | undefined} isWhole @param {string} today
 * @returns {WorkState} */
function standing(due, isBegun, isWhole, today) {
  if (isBegun && isWhole) return "done";
  if (isBegun) return isWhole === false && today > due.to ? "unfinished" : "begun";
  if (today > due.to) return "overdue";
  return today < due.from ? "planned" : "due";
}

/** Its days are over and something is lacking. @param {Work} work */
export const isLate = ({ state }) => state === "overdue" || state === "unfinished";

/** What a day's page says is to be done. @param {Work[]} work */
export const openWork = (work) => work.filter((one) => one.state === "due" || isLate(one));

/** What is still to be done by whoever measures: what is begun within its days too, a round once a day.
 * @param {Work} work @param {string} today */
export const wantsWork = (work, today) =>
  work.state === "due" ||
  isLate(work) ||
  (work.state === "begun" && work.sort !== "daily_round" && today <= work.to);
