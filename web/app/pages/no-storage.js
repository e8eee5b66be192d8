// Instead of the app, where the browser refuses to keep anything: why, and what to do.
import { Button } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";

export function NoStoragePage() {
  return html`<div class="frame"><main id="main"><${Page} title="Tepal" isReading=${true}>
    <${Message} tone="stopped" title=${t("capture.no_write")} live=${true}><p>${t("capture.no_write_why")}</p><//>
    <${Button} onPress=${() => location.reload()}>${t("capture.try_again")}<//>
  <//></main></div>`;
}
