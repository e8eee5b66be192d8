// How the amounts come about: each line says what is done and shows the formula with the user's own numbers.
import { reckoningOf } from "../state/mix.js";
import { html } from "../ui/html.js";
import { t } from "../ui/words.js";

/** @typedef {import("../state/mix.js").Reckoning} Reckoning */

/** @param {{ mixJob: import("./mix-job.js").MixJob }} props */
export function MixReckoning({ mixJob }) {
  const { plan, request, placeNames } = mixJob;
  if (plan === null) return null;
  const { volume, partners } = reckoningOf(request, plan, placeNames);
  return html`<section class="stack"><h2>${t("mix.how")}</h2>
    <p class="muted">${t("mix.how_rounding")}</p>
    <details class="card"><summary><b>${t("mix.how_volume")}</b></summary><${Lines} steps=${volume} /></details>
    ${partners.map(
      ({ id, name, steps }) => html`<details class="card" key=${id} open><summary><b>${name}</b></summary>
        <${Lines} steps=${steps} /></details>`,
    )}
  </section>`;
}

/** @param {{ steps: Reckoning[] }} props */
function Lines({ steps }) {
  return html`<ol class="reckoning">${steps.map(
    ({ code, params, formula }, at) => html`<li key=${at}><span>${t(code, params)}</span>
      <span class="formula">${formula}</span></li>`,
  )}</ol>`;
}
