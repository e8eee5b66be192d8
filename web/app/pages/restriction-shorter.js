// Where the record of the application was put right and now states less than its restriction: nothing gets shorter by itself.
// A grower takes it over with a reason; anybody else asks for it. An entry of the restriction, so its history says so.
import { useSignal } from "@preact/signals";
import { useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { Differences } from "./history.js";
import { may } from "./may.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/**
 * @param {{ row: RecordRow, shorter: Record<string, any>, isUncovered: boolean, words: ReturnType<typeof import("./record-words.js").useValueWords> }} props
 *   isUncovered  The application names no place of this house any more: the restriction can only be voided.
 */
export function ShorterRecord({ row, shorter, isUncovered, words }) {
  const tepal = useTepal();
  const reason = useSignal("");
  const failure = useSignal("");
  const isSaving = useSignal(false);
  const isAsked = useSignal(false);
  const word = may(tepal.session.value, "amend_other");
  const changes = tepal.book.changesBetween(row.shown.fields, shorter);
  if ((Object.keys(changes).length === 0 && !isUncovered) || word === "no") return null;
  if (isAsked.value)
    return html`<${Message} tone="waiting" title=${t("office.request_waits")} live=${true} />`;

  async function save() {
    if (isSaving.value) return;
    if (reason.value.trim() === "") {
      failure.value = t("office.reason_missing");
      return;
    }
    isSaving.value = true;
    try {
      const action = word === "ask" ? "request" : isUncovered ? "void" : "amend";
      const wanted = isUncovered ? {} : changes;
      await tepal.save.all([tepal.save.act("restriction", row.id, action, wanted, reason.value.trim())], {});
      isAsked.value = word === "ask";
      reason.value = "";
      failure.value = "";
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
    isSaving.value = false;
  }

  return html`<section class="card stack" aria-labelledby="shorter"><h2 id="shorter">${t("restriction.shorter")}</h2>
    <p>${t(isUncovered ? "restriction.uncovered_why" : "restriction.shorter_why")}</p>
    ${!isUncovered && html`<${Differences} found=${words.differences("restriction", changes)} />`}
    ${word === "password" && html`<p class="muted">${t("office.needs_password_why")}</p>`}
    <${TextField} label=${t("answer.reason")} isLong=${true} maxLength=${500} value=${reason.value}
      onValue=${(/** @type {string} */ value) => {
        reason.value = value;
      }} />
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    <div><${Button} icon="pencil" onPress=${save}>${t(word === "ask" ? "restriction.shorter_ask" : isUncovered ? "restriction.uncovered_take" : "restriction.shorter_take")}<//></div>
  </section>`;
}
