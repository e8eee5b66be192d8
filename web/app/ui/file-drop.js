// A file from the machine: dragged onto the frame, or chosen. It shows which one is chosen.
import { useSignal } from "@preact/signals";
import { html } from "./html.js";
import { Icon } from "./icons.js";
import { t } from "./words.js";

/**
 * @param {{ label: string, accept: string, name?: string, onFile: (file: File) => void }} props
 *   name  Of the file that was chosen.
 */
export function FileDrop({ label, accept, name, onFile }) {
  const isOver = useSignal(false);

  /** @param {FileList | null | undefined} files */
  function take(files) {
    isOver.value = false;
    if (files?.[0]) onFile(files[0]);
  }

  return html`<label class="file-drop" data-over=${isOver.value ? "true" : undefined}
      onDragOver=${(/** @type {DragEvent} */ event) => {
        event.preventDefault();
        isOver.value = true;
      }}
      onDragLeave=${() => {
        isOver.value = false;
      }}
      onDrop=${(/** @type {DragEvent} */ event) => {
        event.preventDefault();
        take(event.dataTransfer?.files);
      }}>
    <${Icon} name="book" /><span><b>${label}</b><br /><span class="muted">${name ?? t("files.drop")}</span></span>
    <input class="visually-hidden" type="file" accept=${accept} onChange=${(/** @type {any} */ event) => {
      take(event.currentTarget.files);
      event.currentTarget.value = "";
    }} /></label>`;
}
