// Who is on this phone? People who share it pick their name and enter a PIN; the office's way in by password stays.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { useTepal } from "../state/context.js";
import { enterPin, pinMembers } from "../state/pin.js";
import { Button } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { NumberPad } from "../ui/number-pad.js";
import { EmptyState, Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { SignInPage } from "./sign-in.js";

const PIN_LEAST = 4;

export function WhoPage() {
  const tepal = useTepal();
  const people = useSignal(/** @type {{id: string, name: string, role: string}[] | null} */ (null));
  const chosen = useSignal(/** @type {{id: string, name: string} | null} */ (null));
  const byPassword = useSignal(false);
  const heardAt = tepal.heard.value?.device_ms;

  useEffect(() => {
    pinMembers(tepal).then((found) => {
      people.value = found;
    });
  }, [heardAt, tepal.nowTick.value]);

  if (byPassword.value || people.value?.length === 0) {
    return html`<${SignInPage} onBack=${people.value?.length ? () => ((byPassword.value = false)) : undefined} />`;
  }
  if (chosen.value) return html`<${PinEntry} person=${chosen.value} onBack=${() => (chosen.value = null)} />`;
  return html`<${Page} title=${t("who.title")} under=${t("who.under")} isReading=${true}
      actions=${html`<${Button} kind="emergency" icon="emergency" href="/emergency">${t("place.emergency")}<//>`}>
    <div><${Button} kind="quiet" icon="sign" href="/board">${t("board.title")}<//></div>
    ${
      people.value === null
        ? html`<${EmptyState} icon="person" title=${t("apply.reading")} />`
        : html`<ul class="list">${people.value.map(
            (one) =>
              html`<li key=${one.id}><button type="button" class="list-row" onClick=${() => (chosen.value = one)}>
                <b>${one.name}</b><span class="muted">${t(`choice.role.${one.role}`)}</span></button></li>`,
          )}</ul>`
    }
    <div class="row"><${Button} icon="lock" onPress=${() => (byPassword.value = true)}>${t("who.by_password")}<//>
      <${Button} icon="sign" href="/display">${t("place.display")}<//></div>
  <//>`;
}

/** @param {{ person: {id: string, name: string}, onBack: () => void }} props */
function PinEntry({ person, onBack }) {
  const tepal = useTepal();
  const pin = useSignal("");
  const failure = useSignal("");
  const isTrying = useSignal(false);

  async function next() {
    if (isTrying.value) return;
    if (pin.value.length < PIN_LEAST) {
      failure.value = t("who.pin_digits");
      return;
    }
    isTrying.value = true;
    const got = await enterPin(tepal, person.id, pin.value);
    isTrying.value = false;
    pin.value = "";
    if (!got.ok) {
      failure.value = got.waitMs > 0 ? t("who.wait", { n: Math.ceil(got.waitMs / 1000) }) : t("who.wrong");
    }
  }

  return html`<${Page} title=${person.name} under=${t("who.pin_under")} isReading=${true}>
    <p class="pin-dots" role="status" aria-label=${t("who.pin_n", { n: pin.value.length })}>${"●".repeat(pin.value.length) || "–"}</p>
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    <${NumberPad} text=${pin.value} onText=${(/** @type {string} */ text) => (pin.value = text.replace(/\D/g, "").slice(0, 8))}
      decimalSign="." maxDecimals=${0} maxDigits=${8} keepsZeros=${true} nextLabel=${t("who.enter")} onNext=${next} canNext=${pin.value.length >= PIN_LEAST}
      apart=${[{ label: t("who.other"), onPress: onBack }]} />
  <//>`;
}
