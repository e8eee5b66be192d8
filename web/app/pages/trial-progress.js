// How far each assessment of a trial is, counted from what this phone has; read a piece at a time.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { useTepal } from "../state/context.js";
import { definitionsOf, fieldOf, idParts, progressOf, stateOf, stopsOf } from "../state/measure.js";

const CHUNK = 50; // more at once would hold a slow phone up
const rest = () => new Promise((done) => setTimeout(done, 0)); // a slow phone draws in between
const WHOLE = new Set(["done", "lost"]);
/** @typedef {{stops: import("../state/measure.js").Stop[], rows: Map<any, any>}} Look */
const WAIT_MS = 400; // news come in bursts

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
        const look = looks.get(planned.code) ?? { stops: stopsOf(trial, planned), rows: new Map() };
        looks.set(planned.code, look);
        await rest();
        const { stops, rows } = look;
        const open = stops.filter((stop) => !WHOLE.has(stateOf(stop, rows.get(stop))));
        for (let start = 0; start < open.length; start += CHUNK) {
          const part = open.slice(start, start + CHUNK);
          const got = await tepal.book.getMany(
            "observation",
            part.map((stop) => tepal.book.sharedId(...idParts(id, planned, stop, member))),
          );
          if (!isHere) return;
          part.forEach((stop, i) => {
            if (got[i]?.shown) rows.set(stop, /** @type {any} */ (got[i]).shown.fields);
          });
        }
        all[planned.code] =
          planned.sort === "daily_round"
            ? openedIn(trial, planned, stops, rows)
            : progressOf(stops, (stop) => rows.get(stop));
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

/** @param {any} trial @param {any} planned @param {any[]} stops @param {Map<any, any>} rows */
function openedIn(trial, planned, stops, rows) {
  const [definition] = definitionsOf(trial, planned);
  if (!definition) return { n: 0, total: stops.length };
  const n = stops.filter((stop) => typeof rows.get(stop)?.[fieldOf(definition.code)] === "string").length;
  return { n, total: stops.length };
}
