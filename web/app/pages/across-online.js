// What finished trials found before, as the office reckons it: asked once, computed trial by trial where something is
// new, and kept on this device for when the office is out of reach.
import { useEffect, useRef } from "preact/hooks";
import { useTepal } from "../state/context.js";
import { useKeptOnline } from "./kept-online.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../state/across.js").Named} Named */

/**
 * The list of questions; trials that wait are computed by the office one after the other, each once.
 * @param {boolean} [isWanted]  False asks nothing yet.
 */
export function useAcross(isWanted = true) {
  const tepal = useTepal();
  const { language } = useSettings();
  const online = useKeptOnline(isWanted ? `/trials/across?language=${language.value}` : null);
  const asked = useRef(/** @type {Set<string>} */ (new Set()));
  const waiting = /** @type {Named[]} */ (online.reply?.waiting ?? []);
  useEffect(() => {
    const next = online.isKept ? [] : waiting.filter((one) => !asked.current.has(one.id));
    if (next.length === 0) return;
    let isHere = true;
    async function compute() {
      for (const one of next) {
        asked.current.add(one.id);
        const got = await tepal.api.get(`/trials/${one.id}/across`);
        if (!isHere || !got.ok) return;
      }
      online.again();
    }
    compute();
    return () => {
      isHere = false;
    };
  }, [online.reply]);
  return online;
}
