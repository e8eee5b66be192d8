// Apply: what the checks find for the form as it stands, in words. Offline: from what this phone holds, heard when it was.
import { toldOnce } from "../state/answers.js";
import { coreText } from "./core-words.js";
import { untestedTogether } from "./measures.js";

/** @param {any} mixJob @param {any} form @returns {import("../state/answers.js").Told[]} */
export function useTold(mixJob, form) {
  if (mixJob === null || mixJob.plan === null || form.record !== null) return [];
  const { plan, job, placeNames } = mixJob;
  return toldOnce(untestedTogether(plan.findings), (finding) =>
    coreText(finding, job.numberFormat, placeNames),
  );
}
