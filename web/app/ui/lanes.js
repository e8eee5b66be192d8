// Houses through the day: a lane per house, acts as blocks, restrictions hatched until they end, now as a line.
// The blocks are a picture; the state's words beside each lane and the page's table say the same.
import { html } from "./html.js";

/** @typedef {{ from: number, to: number, kind: "act" | "planned" | "restricted", label?: string }} Block  Hours of the day, 0-24. */

/** @param {number} hour */
const percent = (hour) => `${(Math.min(24, Math.max(0, hour)) / 24) * 100}%`;

/**
 * @param {{ lanes: { name: string, state: any, blocks: Block[] }[], nowHour: number }} props
 *   state    A StateChip with the house's words.
 *   nowHour  0-24, local time.
 */
export function DayLanes({ lanes, nowHour }) {
  return html`<div class="lanes">
    ${lanes.map(
      ({ name, state, blocks }) => html`<div class="lane">
        <div class="spread"><h3>${name}</h3>${state}</div>
        <div class="lane-track" aria-hidden="true">
          ${blocks.map(
            ({ from, to, kind, label }) =>
              html`<span class=${`lane-act is-${kind}`} style=${{ left: percent(from), width: `calc(${percent(to)} - ${percent(from)})` }}>${label}</span>`,
          )}
          <span class="lane-now" style=${{ left: percent(nowHour) }}></span>
        </div>
      </div>`,
    )}
    <div class="lane" aria-hidden="true">
      <span></span>
      <div class="lane-hours">${[0, 3, 6, 9, 12, 15, 18, 21].map((hour) => html`<span style=${{ left: percent(hour) }}>${String(hour).padStart(2, "0")}</span>`)}</div>
    </div>
  </div>`;
}
