// The application that was begun on this phone and is not signed: where it stands, the way back into it, and the way out of
// it, which says that it is kept and where it is found again.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { useLocation } from "preact-iso";
import { DRAFT, isBegun } from "../state/apply-draft.js";
import { useRecord, useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { Sheet } from "../ui/sheet.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { orderTitle } from "./order-words.js";
import { useNames } from "./record-words.js";

/** @typedef {import("../state/apply-draft.js").ApplyDraft} ApplyDraft */

/** What Apply holds on this phone; null where it holds nothing, undefined while the phone reads. */
export function useBegun() {
  const { book } = useTepal();
  const found = useSignal(/** @type {ApplyDraft | null | undefined} */ (undefined));
  useEffect(() => {
    let isHere = true;
    book.readDraft(DRAFT).then((kept) => {
      if (isHere) found.value = isBegun(kept) ? kept : null;
    });
    return () => {
      isHere = false;
    };
  }, []);
  return found.value;
}

/** The way back, for Today. @param {{ begun: ApplyDraft, isNext: boolean }} props  isNext  It is the screen's next step. */
export function Begun({ begun, isNext }) {
  const nameOf = useNames();
  const order = useRecord("spray_order", begun.order ?? "");
  const Go = isNext ? GoButton : Button;
  const what = [
    order ? orderTitle(order.shown.fields, nameOf) : begun.mix && nameOf("tank_mix", begun.mix),
    t("begun.at", { step: t(`apply.${begun.step}`) }),
  ];
  return html`<${Message} tone="waiting" icon="sprayer" title=${t(begun.record ? "begun.unsigned" : "begun.title")}>
    <p>${what.filter(Boolean).join(" · ")}</p><p class="muted">${t(begun.record ? "begun.unsigned_why" : "begun.why")}</p>
    <div><${Go} href="/apply">${t("apply.continue")}<//></div><//>`;
}

/**
 * The way out of Apply, in reach at every step. Where nothing was chosen yet it simply leaves.
 * @param {{ draft: {value: ApplyDraft, keep: () => Promise<unknown>, clear: () => Promise<unknown>}, isRunning: boolean }} props
 *   isRunning  The spraying was started and has not ended.
 */
export function Leave({ draft, isRunning }) {
  const { route } = useLocation();
  const isAsking = useSignal(false);
  const { record } = draft.value;
  if (!isBegun(draft.value)) return html`<${Button} icon="back" href="/today">${t("begun.leave")}<//>`;
  const close = () => {
    isAsking.value = false;
  };
  const leave = async (/** @type {() => Promise<unknown>} */ before) => {
    await before();
    route("/today");
  };
  return html`<${Button} icon="back" onPress=${() => {
    isAsking.value = true;
  }}>${t("begun.leave")}<//>
    ${
      isAsking.value &&
      html`<${Sheet} title=${t("begun.leave_title")} onClose=${close}><div class="stack">
        <${Message} tone=${isRunning ? "caution" : "passed"} icon=${isRunning ? "sprayer" : "phone"}
          title=${t(isRunning ? "begun.runs_on" : "begun.kept")}><p>${t("begun.found_again")}</p><//>
        <${GoButton} onPress=${() => leave(draft.keep)}>${t("begun.leave_keep")}<//>
        <${Button} onPress=${close}>${t("begun.stay")}<//>
        ${record === null && html`<${Button} kind="danger" icon="erase" onPress=${() => leave(draft.clear)}>${t("begun.drop")}<//>`}
      </div><//>`
    }`;
}
