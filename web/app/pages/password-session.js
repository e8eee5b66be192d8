// Some acts count only with the person's own password session on this device. The page asks the server whether there is
// one and, where there is none, lets the person enter the password on the spot.
import { useSignal } from "@preact/signals";
import { useTepal } from "../state/context.js";
import { signIn } from "../state/session.js";
import { Button } from "../ui/buttons.js";
import { TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { failureText, nameOfDevice } from "./device.js";
import { useOnline } from "./online.js";

export function PasswordSession() {
  const tepal = useTepal();
  const online = useOnline("/session");
  const password = useSignal("");
  const failure = useSignal("");
  const isSending = useSignal(false);
  const member = tepal.session.value?.member;
  if (!member || online.isAsking) return null;
  if (online.failed)
    return html`<${Message} tone="waiting" icon="offline" title=${t("password.offline")}><p>${failureText(online.failed)}</p><p>${t("password.offline_why")}</p><//>`;
  if (online.reply?.member?.id === member.id) return null;

  /** @param {Event} event */
  async function submit(event) {
    event.preventDefault();
    if (isSending.value) return;
    if (password.value === "") {
      failure.value = t("password.missing");
      return;
    }
    isSending.value = true;
    const body = { name: member.name, password: password.value };
    const got = await signIn(tepal, "/sign-in", body, nameOfDevice());
    isSending.value = false;
    failure.value = got.ok ? "" : failureText(got);
    if (got.ok) online.again();
  }

  return html`<${Message} tone="caution" icon="lock" title=${t("password.needed", { name: member.name })}>
    <p>${t("password.needed_why")}</p>
    <form class="stack" onSubmit=${submit}>
      <${TextField} label=${t("sign_in.password")} type="password" autocomplete="current-password" value=${password.value} error=${failure.value || undefined}
        onValue=${(/** @type {string} */ value) => {
          password.value = value;
          failure.value = "";
        }} />
      <${Button} type="submit" icon="lock" isOff=${isSending.value}>${isSending.value ? t("sign_in.sending") : t("password.do")}<//>
    </form><//>`;
}

/**
 * What became of this phone's decisions on a case: the server holds one that came without the password session.
 * @param {{ outcome: string | null, outcome_reason: string | null } | undefined} entry
 */
export const isHeldForPassword = (entry) =>
  entry?.outcome === "waiting" && entry.outcome_reason === "needs_password";
