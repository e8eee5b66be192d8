// A number that can be read in two ways ("1,200"): both readings side by side, and the person says which. What was typed stays.
import { html } from "./html.js";
import { t } from "./words.js";

/**
 * @param {{ readings: { value: string, shown: string }[], unit?: string, onPick: (value: string) => void }} props
 *   readings  `value` is what is kept, `shown` what the person reads.
 */
export function Readings({ readings, unit = "", onPick }) {
  return html`<div class="readings" role="group" aria-label=${t("form.which_number")}>
    ${readings.map(
      ({
        value,
        shown,
      }) => html`<button type="button" class="btn" key=${value} onClick=${() => onPick(value)}>
        <span class="q">${shown}${unit && html`<span class="q-unit">${unit}</span>`}</span></button>`,
    )}
  </div>`;
}
