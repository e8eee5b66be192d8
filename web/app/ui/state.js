// States of things: colour, icon and word together, since no one of them is enough in sunlight or for every eye.
import { html } from "./html.js";
import { Icon } from "./icons.js";

/** @typedef {"passed" | "caution" | "stopped" | "waiting" | "plain"} Tone */

/** @type {Record<Tone, import("./icons.js").IconName>} */
const ICONS = { passed: "check", caution: "caution", stopped: "stop", waiting: "clock", plain: "note" };

/**
 * A state in a word or two.
 * @param {{ tone: Tone, children?: any, icon?: import("./icons.js").IconName }} props
 */
export function StateChip({ tone, icon = ICONS[tone], children }) {
  return html`<span class=${`state ${tone}`}><${Icon} name=${icon} /><span>${children}</span></span>`;
}

/**
 * A message that stays where it belongs until it is dealt with.
 * @param {{ tone: Tone, title?: string, children?: any, icon?: import("./icons.js").IconName, live?: boolean }} props
 *   live  Read aloud when it appears: for an answer to what the person just did.
 */
export function Message({ tone, title, icon = ICONS[tone], live = false, children }) {
  return html`<div class=${`message ${tone}`} role=${live ? (tone === "stopped" ? "alert" : "status") : undefined}>
    <${Icon} name=${icon} />
    <div class="message-body">${title && html`<p class="message-title">${title}</p>`}${children}</div>
  </div>`;
}

/**
 * What stands where nothing is yet: what belongs here, and the way to the first one.
 * @param {{ icon: import("./icons.js").IconName, title: string, children?: any }} props
 */
export function EmptyState({ icon, title, children }) {
  return html`<div class="empty"><${Icon} name=${icon} /><h2>${title}</h2>${children}</div>`;
}
