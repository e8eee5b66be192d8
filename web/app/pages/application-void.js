// Making an application void: a reason, then a second step that says what it means. Nothing is deleted.
import { useState } from "preact/hooks";
import { useDraft, useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Sheet } from "../ui/sheet.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { may } from "./may.js";

/** @param {{ row: import("../sync/port.js").RecordRow, onClose: () => void }} props */
export function VoidSheet({ row, onClose }) {
  const tepal = useTepal();
  const draftKey = `void/${row.id}`;
  const draft = useDraft(draftKey, { reason: "" });
  const [step, setStep] = useState(/** @type {"reason" | "sure" | "saving"} */ ("reason"));
  const [wrong, setWrong] = useState("");
  const isOwn = row.shown.author === tepal.session.value?.member?.id;
  const isRequest =
    row.shown.state !== "open" && may(tepal.session.value, isOwn ? "amend_own" : "amend_other") === "ask";
  const reason = draft.value.reason.trim();

  function next() {
    if (reason === "") setWrong(t("office.reason_missing"));
    else setStep("sure");
  }

  async function save() {
    setStep("saving");
    try {
      const action = isRequest ? "request" : "void";
      await tepal.save.all([tepal.save.act("application", row.id, action, {}, reason)], { draft: draftKey });
      await draft.clear();
      onClose();
    } catch (error) {
      setStep("sure");
      setWrong(t("office.not_saved", { cause: String(error) }));
    }
  }

  return html`<${Sheet} title=${t(isRequest ? "office.request_void_do" : "office.void_do")} onClose=${onClose}>
    ${
      step === "reason"
        ? html`<p>${t(isRequest ? "office.request_why" : "office.void_means")}</p>
          <${TextField} label=${t("answer.reason")} hint=${t("office.void_reason_hint")} value=${draft.value.reason} maxLength=${500} isLong=${true}
            error=${wrong || undefined} onValue=${(/** @type {string} */ value) => {
              setWrong("");
              draft.merge({ reason: value });
            }} />
          <${Button} isOff=${reason === ""} onPress=${next}>${t("office.go_on")}<//>`
        : html`<${Message} tone="stopped" title=${t(isRequest ? "office.request_void_sure" : "office.void_sure")}><p>${t("office.reason_was")} <b>${reason}</b></p><//>
          ${wrong && html`<${Message} tone="stopped" title=${wrong} live=${true} />`}
          <div class="row"><${Button} kind="danger" icon="close" isOff=${step === "saving"} onPress=${save}>${t(isRequest ? "office.request_void_yes" : "office.void_yes")}<//>
            <${Button} onPress=${() => setStep("reason")}>${t("office.go_back")}<//></div>`
    }
  <//>`;
}
