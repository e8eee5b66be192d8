// A house with the state of its restrictions. It never says "clear" or "open": a phone can't know that.
import { html } from "./html.js";
import { Icon } from "./icons.js";

/** @type {Record<string, import("./icons.js").IconName>} */
const ICONS = { passed: "note", caution: "sprayer", stopped: "stop", waiting: "clock" };

/**
 * One gabled tile. With `onOpen` it is a button.
 * @param {{ name: string, tone: "passed" | "caution" | "stopped" | "waiting", state: string, lines?: string[],
 *   isStale?: boolean, onOpen?: () => void }} props
 *   state    The state's words, such as "none on file", "benches 4-6", "being sprayed".
 *   lines    Under it: "heard 10:42", "until 20:05 and signs down".
 *   isStale  The phone last heard from the office over 30 minutes ago: the wall is hatched.
 */
export function HouseTile({ name, tone, state, lines = [], isStale = false, onOpen }) {
  const inside = html`<${Icon} name=${ICONS[tone]} /><b>${name}</b><span class="house-state">${state}</span>
    ${lines.map((line) => html`<span>${line}</span>`)}`;
  const classes = `house ${tone}${isStale ? " is-stale" : ""}`;
  return onOpen
    ? html`<button type="button" class=${classes} onClick=${onOpen}>${inside}</button>`
    : html`<div class=${classes}>${inside}</div>`;
}

/**
 * The tiles side by side.
 * @param {{ children?: any }} props
 */
export function Houses({ children }) {
  return html`<div class="houses">${children}</div>`;
}
