// Telephone numbers as they are pressed in haste.
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";

/** A telephone number that can be pressed. @param {string} text */
export function telephone(text) {
  const dial = text.replace(/[^\d+]/g, "");
  return dial.length >= 3
    ? html`<a class="q" href=${`tel:${dial}`}>${text}</a>`
    : html`<b class="q">${text}</b>`;
}

/** @param {{ numbers: ReturnType<typeof import("../state/emergency-numbers.js").numbersFor>, country?: string }} props */
export function CallList({ numbers }) {
  if (numbers.list.length === 0) {
    return html`<${Message} tone="caution" title=${t("emergency.no_numbers")}><p>${t("emergency.no_numbers_why")}</p><//>`;
  }
  return html`<section class="stack"><ul class="list">${numbers.list.map(
    ({ who, number }) =>
      html`<li key=${number}><a class="list-row call" href=${`tel:${number.replaceAll("-", "")}`}><span>${t(who)}</span><b class="q">${number}</b></a></li>`,
  )}</ul>${numbers.source && html`<p class="muted small">${t(numbers.source)}</p>`}</section>`;
}
