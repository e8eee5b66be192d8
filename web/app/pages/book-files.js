// A phone's saved entries back in, and the whole book out. Both need the password session; what comes in waits until
// somebody accepts it.
import { useSignal } from "@preact/signals";
import { useTepal } from "../state/context.js";
import { partsToSend, together } from "../state/unsent-file.js";
import { Button } from "../ui/buttons.js";
import { FileDrop } from "../ui/file-drop.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { failureText } from "./device.js";

export function TakeUnsent() {
  const tepal = useTepal();
  const name = useSignal(/** @type {string | undefined} */ (undefined));
  const found = useSignal(/** @type {any} */ (null));
  const failure = useSignal("");

  /** @param {File} file */
  async function take(file) {
    name.value = file.name;
    found.value = null;
    let body;
    try {
      body = JSON.parse(await file.text());
    } catch {
      failure.value = t("error.unsent.not_our_file");
      return;
    }
    const replies = [];
    for (const part of partsToSend(body)) {
      const got = await tepal.api.post("/unsent-files", part);
      failure.value = got.ok ? "" : failureText(got);
      if (!got.ok) return; // what went in stays in; the same file again does no harm
      replies.push(got.reply);
    }
    found.value = together(replies);
    tepal.book.exchangeNow();
  }

  const {
    n = 0,
    device = "",
    waiting = 0,
    known = 0,
    photos = 0,
    photosKnown = 0,
    photosRefused = 0,
  } = found.value ?? {};
  return html`<div class="stack">
    <${FileDrop} label=${t("unsent.file")} accept=".json,application/json" name=${name.value} onFile=${take} />
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    ${
      found.value &&
      html`<${Message} tone=${waiting > 0 ? "waiting" : "passed"} title=${t("unsent.done", { n, device: device || t("office.some_device") })} live=${true}>
        <p>${t("unsent.counts", { waiting, known })}</p>
        ${photos > 0 && html`<p>${t("unsent.photos", { taken: photos - photosKnown - photosRefused, known: photosKnown })}</p>`}
        ${photosRefused > 0 && html`<p>${t("unsent.photos_refused", { n: photosRefused })}</p>`}${waiting > 0 && html`<${Button} href="/decide">${t("place.decide")}<//>`}<//>`
    }
  </div>`;
}

export function ExportBook() {
  const tepal = useTepal();
  const failure = useSignal("");
  const isWriting = useSignal(false);

  async function write() {
    if (isWriting.value) return;
    isWriting.value = true;
    const got = await tepal.api.download("/export", `tepal-export-${tepal.wall().local.slice(0, 10)}.zip`);
    isWriting.value = false;
    failure.value = got.ok ? "" : failureText(got);
  }

  return html`<div class="stack">
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    <div><${Button} icon="book" isOff=${isWriting.value} onPress=${write}>${t(isWriting.value ? "export.writing" : "export.do")}<//></div>
  </div>`;
}
