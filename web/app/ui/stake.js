// The stake: a label with its point down, carrying the code of a lot, plot, treatment or trial, and nothing else.
import { html } from "./html.js";

/**
 * A code on a stake.
 * @param {{ code: string, tone?: "plain" | "passed" | "caution" | "stopped" | "waiting" | "mine" }} props
 */
export function Stake({ code, tone = "plain" }) {
  return html`<span class=${`stake ${tone}`}>${code}</span>`;
}

/**
 * A stake with its name beside it.
 * @param {{ code: string, name: string, tone?: "plain" | "passed" | "caution" | "stopped" | "waiting" | "mine" }} props
 */
export function Named({ code, name, tone = "passed" }) {
  return html`<span class="named"><${Stake} code=${code} tone=${tone} /><span>${name}</span></span>`;
}
