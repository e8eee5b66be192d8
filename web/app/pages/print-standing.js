// How far the long months are that this person prints: they are drawn in another tab, and this page stays usable.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { useTepal } from "../state/context.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { clockTime, monthName } from "../ui/when.js";
import { t } from "../ui/words.js";
import { useOnline } from "./online.js";
import { useSettings } from "./settings-context.js";

const AGAIN_MS = 2_000;
const BEGINS_MS = 20_000; // a press is a print on the office's list a moment later, if it is a long one

/** @type {Record<string, import("../ui/state.js").Tone>} */
const TONES = { waiting: "waiting", drawn: "waiting", ready: "passed", failed: "stopped" };

/** @param {{ pressedAt: number }} props  When the print was asked for on this page, ms; 0 for never. */
export function MonthStanding({ pressedAt }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const asked = useSignal(0);
  const { reply } = useOnline("/reports/month/standing", `${pressedAt} ${asked.value}`);
  const prints = reply?.prints ?? [];
  const isBusy =
    prints.some((/** @type {any} */ one) => one.state === "waiting" || one.state === "drawn") ||
    tepal.nowMs() - pressedAt < BEGINS_MS;
  useEffect(() => {
    if (!isBusy) return undefined;
    const timer = setTimeout(() => {
      asked.value += 1;
    }, AGAIN_MS);
    return () => clearTimeout(timer);
  }, [isBusy, asked.value]);
  return html`<div class="stack" role="status">${prints.map(
    (/** @type {any} */ one, /** @type {number} */ i) => {
      const month = monthName(one.month, language.value);
      const time = one.since ? clockTime(Date.parse(one.since)) : "";
      return html`<${Message} key=${i} tone=${TONES[one.state]} icon=${one.state === "drawn" ? "print" : undefined}
      title=${t(`print.standing.${one.state}`, { month, time })}>${
        one.state === "drawn" && one.total > 0
          ? html`<p>${t("print.standing.of", { done: one.done, total: one.total })}</p>
            <progress class="drawn" aria-label=${month} max=${one.total} value=${one.done} />`
          : html`<p>${t(`print.standing_why.${one.state}`)}</p>`
      }<//>`;
    },
  )}</div>`;
}
