// The entries that are only on this phone, and the way to save them to a file with the photos that wait.
import { useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { clockTime, dayName } from "../ui/when.js";
import { t } from "../ui/words.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").EntryRow} EntryRow */

/** @param {{ rows: EntryRow[] }} props */
export const UnsentEntries = ({ rows }) =>
  html`<ul class="list">${rows.map((row) => html`<${Unsent} key=${row.number} row=${row} />`)}</ul>`;

/** The way to a file for what waits here, entries and photos: shown while anything does. */
export function SaveUnsent() {
  const tepal = useTepal();
  return html`<div class="stack"><div><${Button} icon="book" onPress=${() => saveToFile(tepal)}>${t("sync.save_file")}<//></div>
    <p class="muted">${t("sync.save_file_hint")}</p></div>`;
}

/** @param {{ row: EntryRow }} props */
function Unsent({ row }) {
  const { language } = useSettings();
  const at = Date.parse(row.saved_at);
  return html`<li class="list-row">
    <span class="grows"><b>${t(`kind.${row.kind}`)}</b> · ${t(`action.${row.action}`)}</span>
    <span class="muted">${t("sync.entry_since", { number: row.number, day: dayName(at, language.value), time: clockTime(at) })}</span>
  </li>`;
}

/** @param {import("../state/tepal.js").Tepal} tepal */
async function saveToFile(tepal) {
  const savedAt = new Date(tepal.nowMs()).toISOString();
  const parts = await tepal.book.unsentFile(savedAt);
  const url = URL.createObjectURL(new Blob(parts, { type: "application/json" }));
  const link = document.createElement("a");
  link.href = url;
  link.download = `tepal-unsent-${savedAt.slice(0, 10)}.json`;
  link.click();
  URL.revokeObjectURL(url);
}
