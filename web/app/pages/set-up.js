// The first page of a new server: the token of the console, the establishment, the first manager.
import { useSignal } from "@preact/signals";
import { useTepal } from "../state/context.js";
import { signIn } from "../state/session.js";
import { GoButton } from "../ui/buttons.js";
import { ChoiceField } from "../ui/choices.js";
import { TextField } from "../ui/fields.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { failureText, nameOfDevice } from "./device.js";
import { DeviceSettings } from "./device-settings.js";
import { useSettings } from "./settings-context.js";

export function SetUpPage() {
  const tepal = useTepal();
  const { language } = useSettings();
  const form = useSignal({
    token: "",
    establishment: "",
    name: "",
    password: "",
    country: "",
    zone: tepal.wall().zone,
    number_format: "1234.5",
    unit_system: "metric",
  });
  const failure = useSignal("");

  /** @param {string} name */
  const field = (name) => ({
    label: t(`set_up.${name}`),
    value: /** @type {any} */ (form.value)[name],
    onValue: (/** @type {string} */ value) => {
      form.value = { ...form.value, [name]: value };
    },
  });

  /** @param {Event} event */
  async function submit(event) {
    event.preventDefault();
    const missing = ["token", "establishment", "name", "password", "zone"].find(
      (name) => !(/** @type {any} */ (form.value)[name].trim()),
    );
    if (missing) {
      failure.value = t("set_up.missing", { field: t(`set_up.${missing}`) });
      return;
    }
    const body = { ...form.value, language: language.value };
    const got = await signIn(tepal, "/set-up", body, nameOfDevice());
    failure.value = got.ok ? "" : failureText(got);
  }

  return html`<${Page} title=${t("set_up.title")} under=${t("set_up.under")} isReading=${true}>
    <form class="stack" onSubmit=${submit}>
      <${TextField} ...${field("token")} hint=${t("set_up.token_hint")} />
      <${TextField} ...${field("establishment")} />
      <${TextField} ...${field("name")} autocomplete="username" />
      <${TextField} ...${field("password")} type="password" autocomplete="new-password" hint=${t("set_up.password_hint")} />
      <${TextField} ...${field("country")} maxLength=${2} isOptional=${true} hint=${t("set_up.country_hint")} />
      <${TextField} ...${field("zone")} hint=${t("set_up.zone_hint")} />
      <${ChoiceField} ...${field("number_format")} isShort=${true}
        choices=${["1234.5", "1234,5"].map((value) => ({ value, label: value }))} />
      <${ChoiceField} ...${field("unit_system")} isShort=${true}
        choices=${["metric", "us"].map((value) => ({ value, label: t(`set_up.unit_system.${value}`) }))} />
      ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
      <${GoButton} type="submit">${t("set_up.do")}<//>
    </form>
    <${DeviceSettings} />
  <//>`;
}
