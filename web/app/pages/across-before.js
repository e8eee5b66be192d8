// One line where a mix is chosen: what it did to this crop here before, with the way to all of it. Nothing where nothing
// is on file.
import { questionsBefore } from "../state/across.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { t } from "../ui/words.js";
import { useAcross } from "./across-online.js";

/** @param {{ mix: import("../sync/port.js").RecordRow | null, lots: import("../sync/port.js").RecordRow[] }} props */
export function HereBefore({ mix, lots }) {
  const { reply } = useAcross(mix !== null && lots.length > 0);
  const found = questionsBefore(reply?.questions ?? [], mix, lots);
  if (found.length === 0) return null;
  return html`<section class="stack-1" aria-label=${t("across.before")}><ul class="list">${found.map(
    (one) =>
      html`<li key=${one.key}><a class="list-row" href=${`/trials/across/${one.key}`}><span class="choice-text"><b>${t("across.before")}</b><span class="choice-detail">${t("across.before.line", { crop: one.crop, short: one.short })}</span><span class="choice-detail">${t("across.before.no_label")}</span></span><${Icon} name="forward" /></a></li>`,
  )}</ul></section>`;
}
