// After signing: where the record is now, in words that stay true.
import { useRecord, useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";

/** @param {{ frame: any, id: string }} props */
export function SavedPage({ frame, id }) {
  const tepal = useTepal();
  const record = useRecord("application", id);
  const isHere = record === undefined || (record !== null && record.pending.length > 0);
  const photos = tepal.sync.value.photosWaiting;
  return frame(
    html`<${FootAct}><${GoButton} href="/today">${t("saved.done")}<//><//>`,
    html`<${Page} title=${t(isHere ? "saved.here" : "saved.office")} isReading=${true}>
      <${Message} tone=${isHere ? "waiting" : "passed"} title=${t(isHere ? "saved.here_why" : "saved.office_why")}>
        ${photos > 0 && html`<p>${t("saved.photos", { n: photos })}</p>`}
        <p>${t("saved.rei")}</p><//>
      <${Button} href=${`/applications/${id}`}>${t("saved.see")}<//>
    <//>`,
  );
}
