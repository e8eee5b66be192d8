// What is not typed on a number pad: yes or no, a rating on its few steps, a day.
import { useSignal } from "@preact/signals";
import { useTepal } from "../state/context.js";
import { dayAfter } from "../state/measure.js";
import { Button, GoButton } from "../ui/buttons.js";
import { DateField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { useSettings } from "./settings-context.js";

const MOST_STEPS = 11;

/** Keys apart from the values. @param {{ keys: { label: string, onPress: () => void }[] }} props */
const Apart = ({ keys }) =>
  html`<div class="pad-apart">${keys.map(({ label, onPress }) => html`<button type="button" class="btn" onClick=${onPress}>${label}</button>`)}</div>`;

/**
 * One tap is the value: the steps of a rating, or no and yes.
 * @param {{ definition: any, apart: any[], onValue: (wire: string) => void, numberFormat: any }} props
 */
export function RatingKeys({ definition, apart, onValue, numberFormat }) {
  const isYesNo = definition.type === "proportion";
  const steps = isYesNo ? ["0", "1"] : stepsOf(definition);
  return html`<div class="pad" role="group" aria-label=${t("pad.name")}><${Apart} keys=${apart} />
    <div class="rating-keys">${steps.map(
      (step) => html`<button type="button" class="pad-key" key=${step} onClick=${() => onValue(step)}>
        ${isYesNo ? t(step === "1" ? "control.yes" : "control.no") : step.replace(".", numberFormat.decimal)}</button>`,
    )}</div></div>`;
}

/**
 * Whether a rating has few enough whole steps for a key each; the others are typed.
 * @param {{ least?: string, most?: string, decimals?: number }} definition
 */
export const hasSteps = ({ least, most, decimals = 0 }) =>
  decimals === 0 && Math.floor(Number(most ?? 5)) - Math.ceil(Number(least ?? 1)) < MOST_STEPS;

/** @param {{ least?: string, most?: string }} definition */
function stepsOf({ least, most }) {
  const from = Math.ceil(Number(least ?? 1));
  const to = Math.floor(Number(most ?? 5));
  return Array.from({ length: Math.min(MOST_STEPS, Math.max(2, to - from + 1)) }, (_, i) => String(from + i));
}

/**
 * A day: today, yesterday, or another.
 * @param {{ m: any, definition: any, apart: any[], onDay: (day: string) => void }} props
 */
export function DayWell({ apart, onDay }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const today = tepal.wall().local.slice(0, 10);
  const other = useSignal("");
  return html`<div class="pad"><${Apart} keys=${apart} />
    <${GoButton} onPress=${() => onDay(today)}>${t("measure.today", { day: shortDay(today, language.value) })}<//>
    <${Button} onPress=${() => onDay(dayAfter(today, -1))}>${t("measure.yesterday", { day: shortDay(dayAfter(today, -1), language.value) })}<//>
    <${DateField} label=${t("measure.other_day")} value=${other.value} onValue=${(
      /** @type {string} */ day,
    ) => {
      other.value = day;
    }} />
    ${other.value && html`<${Button} icon="check" onPress=${() => onDay(other.value)}>${shortDay(other.value, language.value)}<//>`}
  </div>`;
}
