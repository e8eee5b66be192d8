// Letting a device in: on the new device the code is typed; in the office a manager makes it.
import { useSignal } from "@preact/signals";
import { useTepal } from "../state/context.js";
import { signIn } from "../state/session.js";
import { Button } from "../ui/buttons.js";
import { ChoiceField } from "../ui/choices.js";
import { TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { clockTime } from "../ui/when.js";
import { t } from "../ui/words.js";
import { failureText, nameOfDevice } from "./device.js";
import { may } from "./may.js";
import { PasswordSession } from "./password-session.js";

/** On the new device. A code may stand in the address's fragment, which no server sees. */
export function EnrolForm() {
  const tepal = useTepal();
  const code = useSignal(
    location.hash.startsWith("#code=") ? decodeURIComponent(location.hash.slice(6)) : "",
  );
  const failure = useSignal("");
  const isSending = useSignal(false);

  /** @param {Event} event */
  async function submit(event) {
    event.preventDefault();
    if (isSending.value) return;
    if (!code.value.trim()) {
      failure.value = t("enrol.code_first");
      return;
    }
    isSending.value = true;
    const got = await signIn(tepal, "/enrol", { code: code.value.trim() }, nameOfDevice());
    isSending.value = false;
    failure.value = got.ok ? "" : failureText(got);
  }

  return html`<form class="stack" onSubmit=${submit}>
    <${TextField} label=${t("enrol.code")} hint=${t("enrol.code_hint")} value=${code.value} error=${failure.value || undefined}
      onValue=${(/** @type {string} */ value) => {
        code.value = value;
        failure.value = "";
      }} />
    <div><${Button} type="submit" icon="phone" isOff=${isSending.value}>${t("enrol.do")}<//></div>
  </form>`;
}

const CEILINGS = ["operator", "technician", "grower", "manager", "inspector", "display"];

/** In the office. */
export function MakeCode() {
  const tepal = useTepal();
  const form = useSignal({ label: "", ceiling: "operator" });
  const made = useSignal(/** @type {{code: string, expires_at: string} | null} */ (null));
  const failure = useSignal("");
  if (may(tepal.session.value, "admin") === "no") return null;

  /** @param {Event} event */
  async function submit(event) {
    event.preventDefault();
    if (!form.value.label.trim()) {
      failure.value = t("enrol.label_first");
      return;
    }
    const got = await tepal.api.post("/enrolment-codes", form.value);
    failure.value = got.ok ? "" : failureText(got);
    made.value = got.ok ? got.reply : null;
  }

  return html`<section class="stack"><h2>${t("enrol.let_in")}</h2>
    <${PasswordSession} />
    <form class="stack" onSubmit=${submit}>
      <${TextField} label=${t("enrol.label")} hint=${t("enrol.label_hint")} value=${form.value.label}
        onValue=${(/** @type {string} */ label) => (form.value = { ...form.value, label })} />
      <${ChoiceField} label=${t("enrol.ceiling")} hint=${t("enrol.ceiling_hint")} value=${form.value.ceiling}
        onValue=${(/** @type {string} */ ceiling) => (form.value = { ...form.value, ceiling })}
        choices=${CEILINGS.map((value) => ({ value, label: t(`choice.role.${value}`) }))} />
      ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
      <div><${Button} type="submit" icon="phone">${t("enrol.make")}<//></div>
      ${
        made.value &&
        html`<${Message} tone="passed" icon="phone" title=${t("enrol.type_there")} live=${true}>
          <p class="q code">${made.value.code}</p><p>${t("enrol.until", { time: clockTime(Date.parse(made.value.expires_at)) })}</p><//>`
      }
    </form></section>`;
}

/** A person's own PIN, or another's where a manager sets it. @param {{ row: import("../sync/port.js").RecordRow }} props */
export function SetPin({ row }) {
  const tepal = useTepal();
  const pin = useSignal("");
  const wrong = useSignal("");
  const isDone = useSignal(false);
  const isOwn = tepal.session.value?.member?.id === row.id;
  if (!isOwn && may(tepal.session.value, "admin") === "no") return null;
  const name = String(row.shown.fields.name ?? "");

  /** @param {Event} event */
  async function submit(event) {
    event.preventDefault();
    const got = await tepal.api.post("/pin", { pin: pin.value.trim(), member: row.id });
    wrong.value = got.ok ? "" : failureText(got);
    isDone.value = got.ok;
    if (got.ok) pin.value = "";
  }

  return html`<section class="stack"><h2>${t("pin.of", { name })}</h2>
    ${isOwn && html`<${PasswordSession} />`}
    <form class="stack" onSubmit=${submit}>
      <${TextField} label=${t("pin.new")} hint=${t("pin.hint")} type="password" autocomplete="off" inputMode="numeric" value=${pin.value}
        error=${wrong.value || undefined} onValue=${(/** @type {string} */ value) => {
          pin.value = value;
          wrong.value = "";
          isDone.value = false;
        }} />
      ${isDone.value && html`<${Message} tone="passed" title=${t("pin.set", { name })} live=${true}><p>${t("pin.set_why")}</p><//>`}
      <div><${Button} type="submit" icon="lock">${t("pin.do")}<//></div>
    </form></section>`;
}
