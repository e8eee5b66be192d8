// Amounts as a person reads them off. Values arrive as strings that core/rounding.js made: nothing is rounded here.
import { html } from "./html.js";

/**
 * A quantity, with the same amount in the other system beside or below it.
 * @param {{ value: string | null, unit: string, also?: { value: string, unit: string },
 *   size?: "inline" | "amount" | "giant" }} props
 *   value  What to read; null shows an empty place (size "giant" only).
 *   unit   As printed on the measuring vessel: mL, L, fl oz, gal, g, oz, cm.
 */
export function Quantity({ value, unit, also, size = "inline" }) {
  return html`<span class=${`q-${size}`}
    ><span class="q">${value ?? html`<span class="q-empty">–</span>`}<span class="q-unit">${unit}</span></span
    >${also && html`<span class="q-also">${also.value} ${unitText(also.unit)}</span>`}</span
  >`;
}

/** @param {string} unit */
const unitText = (unit) => unit.replaceAll(" ", "\u00a0");
