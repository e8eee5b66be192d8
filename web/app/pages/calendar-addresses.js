// Addresses under which a calendar program reads the spray orders: made once, shown once, revoked at any time.
import { useSignal } from "@preact/signals";
import { useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message, StateChip } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { failureText } from "./device.js";
import { useOnline } from "./online.js";
import { PasswordSession } from "./password-session.js";
import { useSettings } from "./settings-context.js";

export function CalendarAddresses() {
  const tepal = useTepal();
  const { language } = useSettings();
  const label = useSignal("");
  const made = useSignal("");
  const failed = useSignal(/** @type {any} */ (null));
  const asked = useSignal(0);
  const online = useOnline("/feeds", asked.value);

  /** @param {string} path @param {any} body */
  async function ask(path, body) {
    const got = await tepal.api.post(path, body);
    failed.value = got.ok ? null : got;
    if (got.ok) asked.value += 1;
    return got;
  }
  async function make() {
    if (label.value.trim() === "") {
      failed.value = { code: "feeds.label_first" };
      return;
    }
    const got = await ask("/feeds", { label: label.value.trim() });
    if (!got.ok) return;
    made.value = `${location.origin}${got.reply.path}`;
    label.value = "";
  }
  const rows = online.reply?.feeds ?? [];
  return html`<details class="card no-print"><summary><b>${t("feeds.title")}</b></summary><div class="stack">
    <p>${t("feeds.why")}</p>
    <${PasswordSession} />
    ${made.value && html`<${Message} tone="passed" title=${t("feeds.made")} live=${true}><p class="code-line">${made.value}</p><p>${t("feeds.once")}</p><//>`}
    ${(failed.value ?? online.failed) && html`<${Message} tone="waiting" title=${failureText(failed.value ?? online.failed)} live=${true} />`}
    ${
      rows.length > 0 &&
      html`<ul class="list">${rows.map(
        (
          /** @type {any} */ row,
        ) => html`<li class="list-row" key=${row.id}><span class="choice-text"><b>${row.label}</b><span class="choice-detail">${shortDay(row.made_at.slice(0, 10), language.value)}</span></span>
          ${row.revoked_at ? html`<${StateChip} tone="plain" icon="close">${t("feeds.revoked")}<//>` : html`<${Button} kind="danger" onPress=${() => ask(`/feeds/${row.id}/revoke`, {})}>${t("feeds.revoke")}<//>`}</li>`,
      )}</ul>`
    }
    <${TextField} label=${t("feeds.label")} hint=${t("feeds.label_hint")} value=${label.value} maxLength=${80} onValue=${(
      /** @type {string} */ value,
    ) => {
      label.value = value;
    }} />
    <div><${Button} icon="plus" onPress=${make}>${t("feeds.make")}<//></div>
  </div></details>`;
}
