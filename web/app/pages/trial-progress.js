// How far each assessment of a trial is, counted from what this phone has; read a piece at a time.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { useTepal } from "../state/context.js";
import { definitionsOf, fieldOf, idParts, stateOfFields, stopsOf } from "../state/measure.js";

const CHUNK = 25; // more at once would hold a slow phone up
const rest = () => new Promise((done) => setTimeout(done, 0)); // a slow phone draws in between
const WHOLE = new Set(["done", "lost"]);
const WAIT_MS = 400; // news come in bursts
/** How far one assessment is: of thousands of plants the counts stay, never their values, which would fill a slow phone.
 * @typedef {{open: import("../state/measure.js").Stop[], nStops: number, nPlots: number, nOpened: number}} Look */

/**
 * News are looked for among the plants that were not whole; what was taken back elsewhere shows when the page opens again.
 * @param {string} id @param {any} trial
 * @returns {Record<string, {n: number, total: number}>} by the assessment's code; a daily round counts plants that opened
 */
export function useProgress(id, trial) {
  const tepal = useTepal();
  const found = useSignal(/** @type {Record<string, {n: number, total: number}>} */ ({}));
  const member = tepal.session.value?.member?.id ?? "";
  const known = useRef({
    trial: /** @type {any} */ (null),
    looks: /** @type {Map<string, Look>} */ (new Map()),
  });
  useEffect(() => {
    let isHere = true;
    if (known.current.trial !== trial) known.current = { trial, looks: new Map() };
    const { looks } = known.current;
    const count = async () => {
      /** @type {Record<string, {n: number, total: number}>} */
      const all = {};
      for (const planned of trial.assessments ?? []) {
        await rest();
        const look = looks.get(planned.code) ?? lookAt(stopsOf(trial, planned));
        const [definition] = definitionsOf(trial, planned);
        /** @type {import("../state/measure.js").Stop[]} */
        const still = [];
        let nWhole = 0; // of those whole now, and of those not yet: what opened
        let nBegun = 0;
        for (let start = 0; start < look.open.length; start += CHUNK) {
          const part = look.open.slice(start, start + CHUNK);
          const got = await tepal.book.getMany(
            "observation",
            part.map((stop) => tepal.book.sharedId(...idParts(id, planned, stop, member))),
          );
          if (!isHere) return;
          part.forEach((stop, i) => {
            const fields = got[i]?.shown?.fields ?? {};
            const isWhole = WHOLE.has(stateOfFields(stop, fields));
            if (!isWhole) still.push(stop);
            if (typeof fields[fieldOf(definition?.code ?? "")] !== "string") return;
            if (isWhole) nWhole += 1;
            else nBegun += 1;
          });
        }
        const now = { ...look, open: still, nOpened: look.nOpened + nWhole };
        looks.set(planned.code, now);
        all[planned.code] =
          planned.sort === "daily_round"
            ? { n: now.nOpened + nBegun, total: now.nStops }
            : { n: now.nPlots - plotsIn(still), total: now.nPlots };
      }
      if (isHere) found.value = all;
    };
    const timer = setTimeout(count, Object.keys(found.peek()).length > 0 ? WAIT_MS : 0);
    return () => {
      isHere = false;
      clearTimeout(timer);
    };
  }, [id, trial, tepal.observed.value]);
  return found.value;
}

/** Nothing read yet. @param {import("../state/measure.js").Stop[]} stops @returns {Look} */
const lookAt = (stops) => ({ open: stops, nStops: stops.length, nPlots: plotsIn(stops), nOpened: 0 });

/** @param {import("../state/measure.js").Stop[]} stops */
const plotsIn = (stops) => new Set(stops.map((stop) => stop.plot)).size;
