// The bar that offers a new version. state/release.js decides when it may be offered.
import { Button } from "./buttons.js";
import { html } from "./html.js";
import { t } from "./words.js";

/** @param {{ onTake: () => void }} props */
export function NewVersionBar({ onTake }) {
  return html`<div class="versionbar" role="status"><span>${t("version.ready")}</span><${Button} onPress=${onTake}>${t("version.take")}<//></div>`;
}
