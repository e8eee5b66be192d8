// Whether an assessment that was begun is whole, asked of this phone's plants a few at a time; it stops at the first that
// lacks something.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { useRecords, useTepal } from "../state/context.js";
import { idParts, plannedOf, stateOf, stopsOf } from "../state/measure.js";
import { trialWork, workKey } from "../state/trial-due.js";

/** @typedef {import("../state/trial-due.js").Work} Work */

const CHUNK = 25; // records read at once: more would hold a slow phone up
const WAIT_MS = 400; // news come in bursts, and the page is drawn first

/**
 * The work of trials under way, with what is known of the begun ones; drawn again once that is read.
 * @param {string} today @returns {Work[]}
 */
export function useTrialWork(today) {
  const tepal = useTepal();
  const trials = useRecords("trial") ?? [];
  const begun = useRecords("assessment") ?? [];
  const whole = useSignal(/** @type {Record<string, boolean>} */ ({}));
  const openAt = useRef(/** @type {Map<string, number>} */ (new Map())); // where the search stopped last time
  const rough = trialWork(trials, begun, today);
  // a warm-up's plants are each observer's own, and a round is begun anew each day
  const asked = rough.filter(
    ({ state, sort }) => state === "begun" && sort !== "warm_up" && sort !== "daily_round",
  );
  const names = asked.map(({ trial, code }) => workKey(trial, code)).join("|");

  useEffect(() => {
    if (names === "") return undefined;
    let isHere = true;
    const timer = setTimeout(async () => {
      /** @type {Record<string, boolean>} */
      const found = {};
      for (const { trial: id, code } of asked) {
        const key = workKey(id, code);
        const trial = trials.find((row) => row.id === id)?.shown.fields;
        const planned = trial && plannedOf(trial, code);
        if (!planned) continue;
        const open = await firstOpenAt(id, trial, planned, openAt.current.get(key) ?? 0);
        if (!isHere) return;
        found[key] = open === null;
        if (open !== null) openAt.current.set(key, open);
      }
      whole.value = found;
    }, WAIT_MS);
    return () => {
      isHere = false;
      clearTimeout(timer);
    };

    /**
     * The place in the walk of a plant that lacks something, from a place on and round; null where none does.
     * @param {string} id @param {any} trial @param {import("../state/measure.js").Planned} planned @param {number} from
     */
    async function firstOpenAt(id, trial, planned, from) {
      const stops = stopsOf(trial, planned);
      for (let done = 0; done < stops.length && isHere; done += CHUNK) {
        const places = Array.from(
          { length: Math.min(CHUNK, stops.length - done) },
          (_, i) => (from + done + i) % stops.length,
        );
        const rows = await tepal.book.getMany(
          "observation",
          places.map((at) => tepal.book.sharedId(...idParts(id, planned, stops[at], ""))),
        );
        const open = places.find((at, i) => {
          const state = stateOf(stops[at], rows[i]?.shown?.fields);
          return state === "ahead" || state === "started";
        });
        if (open !== undefined) return open;
        await new Promise((resolve) => setTimeout(resolve, 0));
      }
      return null;
    }
  }, [names, tepal.observed.value]);

  return names === "" ? rough : trialWork(trials, begun, today, whole.value);
}
