// The sign-in page: a name and a password, once per phone; the emergency page stays in reach.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { useTepal } from "../state/context.js";
import { signIn } from "../state/session.js";
import { Button, GoButton } from "../ui/buttons.js";
import { TextField } from "../ui/fields.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { InstallAdvice, phoneKind } from "../ui/install-advice.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { failureText, isInstalled, nameOfDevice } from "./device.js";
import { DeviceSettings } from "./device-settings.js";
import { EnrolForm } from "./enrol.js";
import { SaveUnsent, UnsentEntries } from "./unsent-entries.js";

/** @param {{ onBack?: () => void }} props  onBack  To the people who share this phone. */
export function SignInPage({ onBack }) {
  const tepal = useTepal();
  const form = useSignal({ name: "", password: "" });
  const failure = useSignal("");
  const isSending = useSignal(false);

  /** @param {Event} event */
  async function submit(event) {
    event.preventDefault();
    if (isSending.value) return;
    if (!form.value.name.trim() || !form.value.password) {
      failure.value = t("sign_in.both");
      return;
    }
    isSending.value = true;
    const got = await signIn(tepal, "/sign-in", form.value, nameOfDevice());
    isSending.value = false;
    failure.value = got.ok ? "" : failureText(got);
  }

  const { unsent, revoked } = tepal.sync.value;
  return html`<${Page} title=${t("sign_in.title")} under=${t("sign_in.under")} isReading=${true}
      actions=${html`<${Button} kind="emergency" icon="emergency" href="/emergency">${t("place.emergency")}<//>`}>
    ${revoked && html`<${Revoked} />`}
    ${!revoked && unsent > 0 && html`<${Message} tone="waiting" title=${t("sign_in.kept", { n: unsent })}><p>${t("sign_in.kept_why")}</p><//>`}
    <form class="stack" onSubmit=${submit}>
      <${TextField} label=${t("sign_in.name")} value=${form.value.name} autocomplete="username"
        onValue=${(/** @type {string} */ name) => (form.value = { ...form.value, name })} />
      <${TextField} label=${t("sign_in.password")} type="password" value=${form.value.password} autocomplete="current-password"
        onValue=${(/** @type {string} */ password) => (form.value = { ...form.value, password })} />
      ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
      <${GoButton} type="submit" isOff=${isSending.value}>${isSending.value ? t("sign_in.sending") : t("sign_in.do")}<//>
    </form>
    ${onBack && html`<div><${Button} icon="back" onPress=${onBack}>${t("who.back")}<//></div>`}
    ${!tepal.session.value?.device && html`<section class="stack"><h2>${t("enrol.title")}</h2><${EnrolForm} /></section>`}
    <${InstallAdvice} kind=${phoneKind(navigator)} isInstalled=${isInstalled()} />
    <${DeviceSettings} />
  <//>`;
}

/** What a revoked device lost and what it still holds: read here, and saved to a file. */
function Revoked() {
  const tepal = useTepal();
  const rows = useSignal(/** @type {import("../sync/port.js").EntryRow[]} */ ([]));
  const { unsent, photosWaiting } = tepal.sync.value;
  useEffect(() => {
    tepal.book.unsent().then((found) => {
      rows.value = found;
    });
  }, [unsent]);
  return html`<${Message} tone="stopped" title=${t("sync.revoked")} live=${true}><p>${t("sync.revoked_why")}</p>
      <p>${t("sync.revoked_gone")}</p>
      <p>${unsent + photosWaiting > 0 ? t("sync.revoked_left", { n: unsent, photos: photosWaiting }) : t("sync.revoked_nothing_left")}</p><//>
    ${rows.value.length > 0 && html`<section class="stack"><h2>${t("sync.only_here", { n: unsent })}</h2><${UnsentEntries} rows=${rows.value} /></section>`}
    ${unsent + photosWaiting > 0 && html`<${SaveUnsent} />`}`;
}
