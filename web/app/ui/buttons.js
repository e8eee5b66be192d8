// Buttons. One `GoButton` a screen: the next step, in petal. A button that can't be pressed yet stays pressable and says
// why, instead of being grey without a word.
import { html } from "./html.js";
import { Icon } from "./icons.js";

/**
 * A button, or a link that looks like one where `href` is given.
 * @param {{ children?: any, onPress?: (event: Event) => void, href?: string, icon?: import("./icons.js").IconName,
 *   kind?: "plain" | "danger" | "quiet" | "emergency", type?: "button" | "submit", isOff?: boolean, label?: string }} props
 *   isOff  Not possible now; the press still arrives, so that the page can say why.
 *   label  Accessible name where the text does not say enough.
 */
export function Button({
  children,
  onPress,
  href,
  icon,
  kind = "plain",
  type = "button",
  isOff = false,
  label,
}) {
  const classes = `btn btn-${kind}`;
  const inside = html`${icon && html`<${Icon} name=${icon} />`}<span>${children}</span>`;
  return href
    ? html`<a class=${classes} href=${href} aria-label=${label}>${inside}</a>`
    : html`<button type=${type} class=${classes} onClick=${onPress} aria-label=${label} aria-disabled=${isOff ? "true" : undefined}>${inside}</button>`;
}

/**
 * The next step.
 * @param {{ children?: any, onPress?: (event: Event) => void, href?: string, type?: "button" | "submit", isOff?: boolean,
 *   isNewTab?: boolean }} props
 *   isNewTab  The link leads to a paper, which opens beside the app.
 */
export function GoButton({ children, onPress, href, type = "button", isOff = false, isNewTab = false }) {
  return href
    ? html`<a class="btn btn-go" href=${href} target=${isNewTab ? "_blank" : undefined} rel=${isNewTab ? "noopener" : undefined}>${children}</a>`
    : html`<button type=${type} class="btn btn-go" onClick=${onPress} aria-disabled=${isOff ? "true" : undefined}>${children}</button>`;
}

/**
 * A button that is only an icon; the label is its name.
 * @param {{ icon: import("./icons.js").IconName, label: string, onPress?: (event: Event) => void, isOpen?: boolean }} props
 */
export function IconButton({ icon, label, onPress, isOpen }) {
  return html`<button type="button" class="btn btn-icon" aria-label=${label} aria-expanded=${isOpen} onClick=${onPress}><${Icon} name=${icon} /></button>`;
}
