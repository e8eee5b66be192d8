// How to put Tepal on the home screen, by kind of phone. On iOS it comes before the first record: the app on the home
// screen has a storage of its own, and Safari empties a page's storage after seven days without a visit.
import { Button } from "./buttons.js";
import { html } from "./html.js";
import { Message } from "./state.js";
import { t } from "./words.js";

/** @typedef {"ios" | "android" | "desktop"} PhoneKind */

/**
 * The kind of device, as far as it matters for installing.
 * @param {{ userAgent: string, maxTouchPoints: number }} device  `navigator`, or a part of it.
 * @returns {PhoneKind}
 */
export function phoneKind({ userAgent, maxTouchPoints }) {
  // an iPad calls itself a Mac; only its touch points tell
  if (/iPhone|iPod|iPad/.test(userAgent) || (/Macintosh/.test(userAgent) && maxTouchPoints > 1)) return "ios";
  return /Android/.test(userAgent) ? "android" : "desktop";
}

/**
 * Whether the first record must wait until the app is on the home screen.
 * @param {PhoneKind} kind
 * @param {boolean} isInstalled
 */
export const mustInstallFirst = (kind, isInstalled) => kind === "ios" && !isInstalled;

/**
 * @param {{ kind: PhoneKind, isInstalled: boolean, onInstall?: () => void }} props
 *   onInstall  The browser offered to install (beforeinstallprompt); without it the steps are told.
 */
export function InstallAdvice({ kind, isInstalled, onInstall }) {
  if (isInstalled) return null;
  const isRequired = mustInstallFirst(kind, isInstalled);
  const steps =
    kind === "desktop"
      ? ["install.desktop.1"]
      : [`install.${kind}.1`, `install.${kind}.2`, `install.${kind}.3`];
  return html`<${Message} tone=${isRequired ? "caution" : "waiting"} icon=${kind === "ios" ? "share" : "phone"}
    title=${t(isRequired ? "install.title_required" : "install.title")}>
    <p>${t(isRequired ? "install.why_ios" : "install.why")}</p>
    ${onInstall ? html`<${Button} onPress=${onInstall}>${t("install.do")}<//>` : html`<ol class="steps">${steps.map((code) => html`<li>${t(code)}</li>`)}</ol>`}
  <//>`;
}
