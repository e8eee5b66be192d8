// The stem: the sections of a long page, worked through from top to bottom. A done section folds to one line that opens
// again; the current one is open; the rest wait.
import { useEffect, useRef } from "preact/hooks";
import { html } from "./html.js";
import { Icon } from "./icons.js";
import { t } from "./words.js";

/**
 * The stem that the steps hang on.
 * @param {{ children?: any }} props
 */
export function Stem({ children }) {
  return html`<div class="stem">${children}</div>`;
}

/**
 * One section.
 * @param {{ title: string, detail?: string, state: "done" | "current" | "ahead", summary?: any, isOpen?: boolean,
 *   onToggle?: () => void, children?: any }} props
 *   summary   What a done section holds, in one line.
 *   isOpen    A done section that was opened again.
 *   onToggle  A done section was pressed.
 */
export function StemStep({ title, detail, state, summary, isOpen = false, onToggle, children }) {
  const section = useRef(/** @type {HTMLElement | null} */ (null));
  const before = useRef(state);
  useEffect(() => {
    // the person moved on: eyes, thumb and screen reader go to the new step; not when the page opens in the middle
    if (state === "current" && before.current !== "current") {
      section.current?.scrollIntoView({ block: "start" });
      section.current?.querySelector("h2")?.focus({ preventScroll: true });
    }
    before.current = state;
  }, [state]);
  const isDone = state === "done";
  const isShown = state === "current" || isOpen;
  const head = html`<span class="stem-head"><h2 tabindex="-1">${title}</h2>${detail && html`<span class="muted">${detail}</span>`}</span>`;
  return html`<section ref=${section} class=${`stem-step is-${state}`} aria-current=${state === "current" ? "step" : undefined}>
    <span class="stem-node">${isDone && html`<${Icon} name="check" label=${t("stem.done")} />`}</span>
    ${
      isDone && onToggle
        ? html`<button type="button" class="stem-fold" aria-expanded=${isOpen} onClick=${onToggle}>
            ${head}${!isOpen && summary && html`<span class="stem-summary">${summary}</span>`}
          </button>`
        : html`${head}${isDone && summary && html`<div class="stem-summary">${summary}</div>`}`
    }
    ${isShown && html`<div class="stem-body">${children}</div>`}
  </section>`;
}
