// What this phone knows of time, as pages use it: follows the tick, so that a board ages by itself.
import { useTepal } from "../state/context.js";
import { html } from "../ui/html.js";
import { Message, StateChip } from "../ui/state.js";
import { dayAt, shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { useSettings } from "./settings-context.js";

const MINUTE_MS = 60_000;

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

/**
 * Said where a day is part of what is entered: that this phone's clock shows another day than the office's did.
 * @param {{ isShort?: boolean }} props  isShort: where there is room for a line only.
 */
export function WrongDay({ isShort = false }) {
  const tepal = useTepal();
  const { language } = useSettings();
  if (Math.abs(tepal.serverNowMs() - tepal.nowMs()) < MINUTE_MS) return null; // at no cost to each digit on a pad
  const [here, office] = [dayAt(tepal.nowMs()), dayAt(tepal.serverNowMs())];
  if (here === office) return null;
  const days = { here: shortDay(here, language.value), office: shortDay(office, language.value) };
  if (isShort)
    return html`<div><${StateChip} tone="stopped" icon="calendar">${t("clock.wrong_day", days)}<//></div>`;
  return html`<${Message} tone="stopped" title=${t("clock.wrong_day", days)}><p>${t("clock.wrong_day_why")}</p><//>`;
}
