// A part of a page that folds to one line: its title, and what it holds in a few words.
import { useState } from "preact/hooks";
import { html } from "./html.js";

/**
 * @param {{ title: string, detail?: any, isOpen?: boolean, children?: any }} props
 *   isOpen  How it begins; becoming true opens it (something in it needs a look), becoming false leaves it as it is.
 */
export function Fold({ title, detail, isOpen = false, children }) {
  const [opened, setOpened] = useState(isOpen);
  const [asked, setAsked] = useState(isOpen);
  if (asked !== isOpen) {
    setAsked(isOpen);
    if (isOpen) setOpened(true);
  }
  return html`<details class="card fold" open=${opened} onToggle=${(/** @type {any} */ event) => setOpened(event.currentTarget.open)}>
    <summary><span class="fold-title"><b>${title}</b>${detail && html`<span class="muted small">${detail}</span>`}</span></summary>
    ${opened && children}</details>`;
}
