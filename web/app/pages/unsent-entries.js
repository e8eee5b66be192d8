// The entries that are only on this phone, and the way to save them to a file.
import { useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { clockTime, dayName } from "../ui/when.js";
import { t } from "../ui/words.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").EntryRow} EntryRow */

/** @param {{ rows: EntryRow[] }} props */
export function UnsentEntries({ rows }) {
  const tepal = useTepal();
  return html`<ul class="list">${rows.map((row) => html`<${Unsent} key=${row.number} row=${row} />`)}</ul>
    <${Button} icon="book" onPress=${() => saveToFile(tepal, rows)}>${t("sync.save_file")}<//>
    <p class="muted">${t("sync.save_file_hint")}</p>`;
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

/**
 * Entries as a file: names and entries, no secrets. The office can take it back in.
 * @param {import("../state/tepal.js").Tepal} tepal @param {EntryRow[]} rows
 */
async function saveToFile(tepal, rows) {
  const device = await tepal.book.meta("device");
  const body = {
    format: "tepal-unsent",
    version: 1,
    device,
    saved_at: new Date(tepal.nowMs()).toISOString(),
    entries: rows.map((row) => row.text),
  };
  const url = URL.createObjectURL(new Blob([JSON.stringify(body, null, 1)], { type: "application/json" }));
  const link = document.createElement("a");
  link.href = url;
  link.download = `tepal-unsent-${body.saved_at.slice(0, 10)}.json`;
  link.click();
  URL.revokeObjectURL(url);
}
