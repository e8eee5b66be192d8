// The application that was begun on this phone and is not signed: where it stands, and the way back into it.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { DRAFT, isBegun } from "../state/apply-draft.js";
import { useRecord, useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { html } from "../ui/html.js";
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
