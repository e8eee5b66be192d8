// A trial in words: its phase, what is due, its treatments.
import { dueOf } from "../state/measure.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";

/** @typedef {import("../state/measure.js").Planned} Planned */

/** @type {Record<string, import("../ui/state.js").Tone>} */
export const PHASE_TONES = { planned: "plain", running: "waiting", finished: "passed", closed: "plain" };

/**
 * When an assessment is due: "due until 27 Nov 2026", "from 3 Dec 2026", "was due until ...".
 * @param {any} trial @param {Planned} planned @param {string} today @param {string} language
 */
export function dueWords(trial, planned, today, language) {
  const due = dueOf(trial, planned);
  if (due === null) return t("trial.day_n", { day: planned.day ?? 0 });
  if (today < due.from) return t("trial.due_from", { day: shortDay(due.from, language) });
  if (today <= due.to) return t("trial.due_until", { day: shortDay(due.to, language) });
  return t("trial.was_due", { day: shortDay(due.to, language) });
}

/**
 * What is due, begun or late, on a list: "due now, until 27 Nov 2026", "begun; was due until ...; not every plant has its values".
 * @param {import("../state/trial-due.js").Work} work @param {string} language
 */
export const workWords = ({ state, to }, language) =>
  t(`trial.work.${state}`, { day: shortDay(to, language) });

/** "3 · 1 mg/L" @param {any} treatment */
export const treatmentName = (treatment) => `${treatment.number} · ${treatment.name ?? ""}`;

/** "block 3, plot 5 · plant 2 of 3" @param {import("../state/measure.js").Stop} stop */
export function placeWords(stop) {
  const place =
    stop.block === null
      ? t("measure.plot", { plot: stop.plot })
      : t("measure.block_plot", { block: stop.block, plot: stop.inBlock });
  if (stop.plant === 0) return `${place} · ${t("measure.whole_plot")}`;
  return stop.nPlants > 1
    ? `${place} · ${t("measure.plant", { plant: stop.plant, n: stop.nPlants })}`
    : place;
}
