// People and phones: who works here, what each device last said of itself, and the first password of a new person.
import { useSignal } from "@preact/signals";
import { minutesOff } from "../core/phone-clock.js";
import { useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { TextField } from "../ui/fields.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { EmptyState, Message, StateChip } from "../ui/state.js";
import { clockTime, dayName } from "../ui/when.js";
import { t } from "../ui/words.js";
import { failureText } from "./device.js";
import { MakeCode } from "./enrol.js";
import { may } from "./may.js";
import { useOnline } from "./online.js";
import { PasswordSession } from "./password-session.js";
import { AddButton, RegisterList } from "./register-list.js";
import { useSettings } from "./settings-context.js";

/** @param {{ frame: any }} props */
export function PeoplePage({ frame }) {
  return frame(
    null,
    html`<${Page} title=${t("place.people")} actions=${html`<${AddButton} kind="member" />`}>
      <div><${Button} icon="house" href="/establishment">${t("place.establishment")}<//></div>
      <div class="page-columns page-halves">
        <section class="stack"><h2>${t("people.people")}</h2><${RegisterList} kind="member" /></section>
        <section class="stack"><h2>${t("people.phones")}</h2><${Phones} /><${MakeCode} /></section>
      </div>
    <//>`,
  );
}

function Phones() {
  const tepal = useTepal();
  const { language } = useSettings();
  const online = useOnline("/phones", tepal.sync.value.heardAt);
  const own = tepal.session.value?.device?.id;
  if (online.isAsking) return html`<p class="muted" role="status">${t("office.asking")}</p>`;
  if (online.reply === null) {
    return html`<${Message} tone="waiting" icon="offline" title=${t("people.phones_offline")}><p>${failureText(online.failed)}</p>
      <${Button} icon="sync" onPress=${online.again}>${t("office.ask_again")}<//><//>`;
  }
  const phones = online.reply.phones.filter((/** @type {any} */ one) => !one.is_server);
  if (phones.length === 0) return html`<${EmptyState} icon="phone" title=${t("people.no_phones")} />`;
  return html`<ul class="list">${phones.map(
    (/** @type {any} */ phone) => html`<li key=${phone.id}><a class="list-row" href=${`/phones/${phone.id}`}>
      <span class="choice-text"><b>${phone.label || t("office.some_device")}${phone.id === own ? ` · ${t("people.this_one")}` : ""}</b>
        <span class="choice-detail">${phone.heard_at ? t("people.heard", { day: dayName(Date.parse(phone.heard_at), language.value), time: clockTime(Date.parse(phone.heard_at)) }) : t("people.never_heard")}</span>
        <span class="choice-detail">${saidText(phone)}</span>
        ${phone.beyond.length > 0 && html`<span class="choice-detail"><${StateChip} tone="stopped">${t("people.missing", { n: phone.ack + 1 })}<//></span>`}
        <${ClockOff} status=${phone.status} />
        ${phone.revoked && html`<span><${StateChip} tone="stopped">${t("people.revoked")}<//></span>`}</span>
      <${Icon} name="forward" /></a></li>`,
  )}</ul>`;
}

/** Says that a phone's clock is over 5 minutes off. @param {{status: any}} props */
export function ClockOff({ status }) {
  const off = minutesOff(status);
  if (off === null) return null;
  const code = off > 0 ? "people.clock_ahead" : "people.clock_behind";
  return html` <${StateChip} tone="caution">${t(code, { n: Math.abs(off) })}<//>`;
}

/** What a device said of itself: unsent entries and its version. @param {any} phone */
function saidText({ status }) {
  if (!status) return t("people.said_nothing");
  const release = String(status.release ?? "").slice(0, 8);
  return [t("people.unsent", { n: status.unsent ?? 0 }), release && t("people.release", { release })]
    .filter(Boolean)
    .join(" · ");
}

/** A manager gives a person a password; the server asks for the manager's own password session.
 * @param {{ row: import("../sync/port.js").RecordRow }} props */
export function SetPassword({ row }) {
  const tepal = useTepal();
  const password = useSignal("");
  const wrong = useSignal("");
  const done = useSignal(false);
  const isSending = useSignal(false);
  if (may(tepal.session.value, "admin") === "no") return null;
  const name = String(row.shown.fields.name ?? "");

  /** @param {Event} event */
  async function submit(event) {
    event.preventDefault();
    if (isSending.value) return;
    done.value = false;
    if (password.value.length < 10 || password.value.length > 200) {
      wrong.value = t("error.access.password_length", { least: 10, most: 200 });
      return;
    }
    isSending.value = true;
    const got = await tepal.api.post(`/members/${row.id}/password`, { password: password.value });
    isSending.value = false;
    wrong.value = got.ok ? "" : failureText(got);
    done.value = got.ok;
    if (got.ok) password.value = "";
  }

  return html`<section class="stack"><h2>${t("people.password_of", { name })}</h2>
    <${PasswordSession} />
    <form class="stack" onSubmit=${submit}>
      <${TextField} label=${t("people.new_password")} hint=${t("people.password_hint")} type="password" autocomplete="new-password" value=${password.value}
        error=${wrong.value || undefined} onValue=${(/** @type {string} */ value) => {
          password.value = value;
          wrong.value = "";
        }} />
      ${done.value && html`<${Message} tone="passed" title=${t("people.password_set", { name })} live=${true}><p>${t("people.password_set_why")}</p><//>`}
      <div><${Button} type="submit" icon="lock" isOff=${isSending.value}>${t("people.set_password")}<//></div>
    </form></section>`;
}
