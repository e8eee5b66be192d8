// What stands round the number pad while plots are measured: the measurements of one plant, and how far the trial is.
import { html } from "./html.js";

/**
 * The measurements of the plant at hand. Only what was entered now is shown, never an earlier value: it would bias.
 * @param {{ wells: { label: string, text: string, isCurrent: boolean, onOpen: () => void }[] }} props
 */
export function MeasureWells({ wells }) {
  return html`<div class="wells">
    ${wells.map(
      ({
        label,
        text,
        isCurrent,
        onOpen,
      }) => html`<button type="button" class="well" aria-current=${isCurrent ? "true" : undefined} onClick=${onOpen}>
        <span>${label}</span><span class="q">${text || "·"}</span>
      </button>`,
    )}
  </div>`;
}

/**
 * Every plot as a small square in its block, in the order in which one walks.
 * @param {{ label: string, blocks: ("done" | "current" | "ahead" | "lost")[][] }} props
 *   label  The same in words: "16 of 36 plots measured".
 */
export function PlotBeds({ label, blocks }) {
  return html`<div class="beds" role="img" aria-label=${label}>
    ${blocks.map((plots) => html`<span class="bed">${plots.map((state) => html`<span class=${`plot is-${state}`}></span>`)}</span>`)}
  </div>`;
}
