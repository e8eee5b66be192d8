// Help of the screen one is on: what it is for, what to press, what it does not know. Words only, so it works offline.
import { useState } from "preact/hooks";
import { IconButton } from "./buttons.js";
import { html } from "./html.js";
import { Sheet } from "./sheet.js";
import { t } from "./words.js";

/** Address -> the help's name; the first that fits. @type {[RegExp, string][]} */
const OF_PATH = [
  [/^\/(today)?$/, "today"],
  [/^\/apply/, "apply"],
  [/^\/board/, "board"],
  [/^\/restrictions/, "restriction"],
  [/^\/orders/, "orders"],
  [/^\/calendar/, "calendar"],
  [/^\/mix$/, "mix"],
  [/^\/calibrations/, "calibration"],
  [/^\/saved/, "saved"],
  [/^\/sync/, "sync"],
  [/^\/applications\/./, "application"],
  [/^\/applications/, "applications"],
  [/^\/decide/, "decide"],
  [/^\/emergency/, "emergency"],
  [/^\/houses/, "houses"],
  [/^\/lots\/[^/]+\/watch/, "lot_watch"],
  [/^\/lots/, "lots"],
  [/^\/products/, "products"],
  [/^\/mixes/, "mixes"],
  [/^\/people/, "people"],
  [/^\/print/, "print"],
  [/^\/files/, "files"],
  [/^\/trials\/across/, "across"],
  [/^\/trials\/[^/]+\/(measure|round)/, "measure"],
  [/^\/trials\/[^/]+\/analysis/, "analysis"],
  [/^\/trials\/[^/]+\/orders/, "trial_day"],
  [/^\/trials\/[^/]+\/potting/, "potting"],
  [/^\/trials\/./, "trial"],
  [/^\/trials/, "trials"],
];

/** @param {string} path */
const helpOf = (path) => OF_PATH.find(([shape]) => shape.test(path))?.[1] ?? "register";

/** The "?" and what it opens. @param {{ path: string }} props */
export function HelpButton({ path }) {
  const [isOpen, setOpen] = useState(false);
  const name = helpOf(path);
  return html`<span class="help">
    <${IconButton} icon="help" label=${t("help.open")} onPress=${() => setOpen(true)} />
    ${
      isOpen &&
      html`<${Sheet} title=${t(`help.${name}`)} onClose=${() => setOpen(false)}>
        <div class="stack prose">
          ${["for", "press", "not"].map((part) => html`<section key=${part}><h3>${t(`help.${part}`)}</h3><p>${t(`help.${name}.${part}`)}</p></section>`)}
          <p class="muted">${t("help.label")}</p>
        </div><//>`
    }</span>`;
}
