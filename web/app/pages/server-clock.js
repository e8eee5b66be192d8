// What this phone knows of time, as pages use it: follows the tick, so that a board ages by itself.
import { useTepal } from "../state/context.js";

/** @returns {import("../state/restrictions.js").Clock} */
export function useServerClock() {
  const tepal = useTepal();
  const { heard, nowTick } = tepal;
  nowTick.value; // a page that shows the time draws itself again when the tick comes
  const { offsetMs } = tepal.sync.value;
  return {
    nowMs: tepal.serverNowMs(),
    heardMs: heard.value ? Date.parse(heard.value.server) : null,
    skewMs: offsetMs,
  };
}
