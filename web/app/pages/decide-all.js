// All that one device handed in after it was revoked, or that came in its file: looked at below, accepted in one go, in the
// order in which it was entered.
import { useSignal } from "@preact/signals";
import { useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

const WHOLE = new Set(["device_revoked", "from_file"]);
const LEAST = 2;

/** @param {{ rows: RecordRow[], words: any }} props  In the order of their numbers. */
export function AcceptAll({ rows, words }) {
  const tepal = useTepal();
  const failure = useSignal("");
  const isSaving = useSignal(false);
  /** @type {Map<string, RecordRow[]>} */
  const byDevice = new Map();
  for (const row of rows.filter((one) => WHOLE.has(one.shown.fields.reason))) {
    const device = String(row.shown.fields.device);
    byDevice.set(device, [...(byDevice.get(device) ?? []), row]);
  }

  /** @param {RecordRow[]} own */
  async function accept(own) {
    if (isSaving.value) return;
    isSaving.value = true;
    try {
      await tepal.save.all(
        own.map((row) =>
          tepal.save.act(row.kind, row.id, "decide", { decision: { was: null, to: "accept" } }),
        ),
      );
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
    isSaving.value = false;
  }

  return html`${[...byDevice]
    .filter(([, own]) => own.length >= LEAST)
    .map(
      ([
        device,
        own,
      ]) => html`<${Message} key=${device} tone="waiting" title=${t("decide.all_of", { n: own.length, device: words.nameOf("device", device) ?? t("office.some_device") })}>
      <p>${t("decide.all_why")}</p><${Button} icon="check" isOff=${isSaving.value} onPress=${() => accept(own)}>${t("decide.all_do", { n: own.length })}<//><//>`,
    )}
  ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}`;
}
