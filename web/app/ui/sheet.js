// Sheet: a dialog that comes from below on a phone. The browser's own <dialog> keeps the focus inside.
import { useEffect, useId, useRef, useState } from "preact/hooks";
import { IconButton } from "./buttons.js";
import { html } from "./html.js";
import { t } from "./words.js";

/**
 * A sheet that is open as long as it is rendered.
 * @param {{ title: string, onClose: () => void, children?: any }} props
 *   onClose  Escape, the cross, or a press beside the sheet.
 */
export function Sheet({ title, onClose, children }) {
  const dialog = useRef(/** @type {HTMLDialogElement | null} */ (null));
  const id = useId();
  // remembered while rendering: once the sheet's own search field has the focus it is too late
  const [opener] = useState(() => /** @type {HTMLElement | null} */ (document.activeElement));
  useEffect(() => {
    const element = dialog.current;
    if (element && !element.open) element.showModal();
    return () => {
      element?.close();
      opener?.focus();
    };
  }, []);
  /** @param {Event} event */
  const cancelled = (event) => {
    event.preventDefault(); // the owner takes the sheet away by no longer rendering it
    onClose();
  };
  /** @param {MouseEvent} event */
  const pressed = (event) => {
    if (event.target === dialog.current) onClose();
  };
  return html`<dialog class="sheet" ref=${dialog} aria-labelledby=${id} onCancel=${cancelled} onClick=${pressed}>
    <div class="sheet-head"><h2 id=${id} tabindex="-1">${title}</h2><${IconButton} icon="close" label=${t("sheet.close")} onPress=${onClose} /></div>
    <div class="sheet-body">${children}</div>
  </dialog>`;
}
