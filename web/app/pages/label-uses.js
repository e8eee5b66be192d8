// The uses on a label, one folded line each: crop, site and method, then the ceilings. What is empty was not copied, and that
// is said: the label decides, never a number that somebody guessed.
import { choiceLabel, fieldLabel } from "../forms/labels.js";
import { Fold } from "../ui/fold.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { t } from "../ui/words.js";

/** @typedef {ReturnType<typeof import("./record-words.js").useValueWords>} ValueWords */

const LIMITS = [
  "max_concentration", "max_dose_area", "max_dose_container", "max_season", "max_applications", "min_interval", "bbch_from", "bbch_to",
  "stage", "note",
]; // biome-ignore format: a list of names
const ALWAYS = new Set([
  "max_concentration",
  "max_dose_area",
  "max_dose_container",
  "max_season",
  "min_interval",
]);

/** @param {{ uses: any[], words: ValueWords }} props */
export function LabelUses({ uses, words }) {
  if (uses.length === 0) {
    return html`<p class="missing"><${Icon} name="caution" />${t("register.no_uses")}</p>`;
  }
  return html`<div class="stack">${uses.map((use, at) => html`<${LabelUse} key=${at} use=${use} words=${words} />`)}</div>`;
}

/** @param {{ use: any, words: ValueWords }} props */
function LabelUse({ use, words }) {
  const named = (/** @type {string} */ list) =>
    (use[list] ?? []).map((/** @type {string} */ one) => choiceLabel(`product.uses.${list}`, one)).join(", ");
  const title = [use.crop, named("sites"), named("methods")].filter(Boolean).join(" · ");
  const missing = html`<span class="missing">${t("emergency.read_label")}</span>`;
  return html`<${Fold} title=${title || t("office.not_on_file")}>
    <dl class="facts">${LIMITS.map((name) => {
      const text = words.inner("product", "uses", name, use[name]);
      if (text === null && !ALWAYS.has(name)) return null;
      return html`<div key=${name}><dt>${fieldLabel(`product.uses.${name}`)}</dt><dd>${text === null ? missing : text}${text !== null && name.startsWith("max_") && use.max_of && name !== "max_applications" ? ` (${choiceLabel("product.uses.max_of", use.max_of)})` : ""}</dd></div>`;
    })}</dl><//>`;
}
