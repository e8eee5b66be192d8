// One spray order: where, what, when, who; the way to do it; and how it ended when it was not simply done.
import { useSignal } from "@preact/signals";
import { useRecord, useRecords, useTepal } from "../state/context.js";
import { isOpen } from "../state/orders.js";
import { Button, GoButton } from "../ui/buttons.js";
import { ChoiceField } from "../ui/choices.js";
import { TextField } from "../ui/fields.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Sheet } from "../ui/sheet.js";
import { EmptyState, Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { may } from "./may.js";
import { Earliest } from "./order-earliest.js";
import { OrderState, orderTitle, placesText, useOrders, windowText } from "./order-words.js";
import { momentText, useValueWords } from "./record-words.js";
import { useSettings } from "./settings-context.js";
import { SmallTrialLink } from "./trial-small.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** @param {{ frame: any, id: string }} props */
export function OrderPage({ frame, id }) {
  const { session } = useTepal();
  const { language } = useSettings();
  const words = useValueWords();
  const order = (useOrders() ?? []).find(({ row }) => row.id === id);
  const row = useRecord("spray_order", id);
  const isEnding = useSignal(false);
  const back = html`<${Button} kind="quiet" icon="back" href="/orders">${t("place.orders")}<//>`;
  if (!row || !order) {
    return frame(
      null,
      html`<${Page} title=${t("kind.spray_order")} actions=${back}>
        ${row === null && html`<${EmptyState} icon="search" title=${t("order.not_here")} />`}<//>`,
    );
  }
  const { fields } = row.shown;
  const { nameOf } = words;
  const open = isOpen(order.state);
  const word = may(session.value, "registers");
  const outcome = order.outcome?.shown.fields;
  const facts = [
    [t("order.where"), placesText(fields, nameOf)],
    [t("kind.tank_mix"), fields.tank_mix ? nameOf("tank_mix", fields.tank_mix) : null],
    [t("order.window"), windowText(fields, language.value)],
    [t("field.operator"), fields.operator ? nameOf("member", fields.operator) : t("order.anybody")],
    [t("kind.sprayer"), fields.sprayer ? nameOf("sprayer", fields.sprayer) : null],
    [t("field.note"), fields.note],
  ].filter(([, value]) => value);
  return frame(
    open
      ? html`<${FootAct}><${GoButton} href=${`/apply?order=${id}`}>${t(order.state === "running" ? "apply.continue" : "order.do")}<//><//>`
      : null,
    html`<${Page} title=${orderTitle(fields, nameOf)} under=${t("kind.spray_order")} actions=${back} isReading=${true}>
      <div><${OrderState} state=${order.state} /></div>
      ${
        outcome &&
        html`<${Message} tone="plain" title=${t(`order.state.${outcome.result}`)}><p>${outcome.reason}</p><p class="muted">${momentText(outcome.at, language.value)}</p><//>`
      }
      <dl class="facts">${facts.map(([name, value]) => html`<div key=${name}><dt>${name}</dt><dd>${value}</dd></div>`)}</dl>
      <${Untreated} lines=${fields.lines ?? []} nameOf=${nameOf} /><${SmallTrialLink} id=${id} fields=${fields} isSprayed=${order.applications.length > 0 || !open} />
      ${open && html`<${Earliest} fields=${fields} />`}
      ${order.applications.map(
        (one) =>
          html`<${Button} key=${one.id} icon="book" href=${`/applications/${one.id}`}>${t("order.application", { time: momentText(one.shown.fields.started_at, language.value) })}<//>`,
      )}
      <section class="stack acts"><div class="act-grid">
        ${
          open &&
          html`<${Button} icon="check" onPress=${() => {
            isEnding.value = true;
          }}>${t("order.end")}<//>`
        }
        ${word !== "no" && html`<${Button} icon="pencil" href=${`/orders/${id}/change`}>${t(word === "ask" ? "register.propose_change" : "register.change")}<//>`}
        ${word !== "no" && !open && order.state !== "cancelled" && html`<${Button} icon="plus" href=${`/orders/new?again=${id}`}>${t("order.second")}<//>`}
      </div></section>
      ${
        isEnding.value &&
        html`<${OutcomeSheet} row=${row} onClose=${() => {
          isEnding.value = false;
        }} />`
      }
    <//>`,
  );
}

/** @param {{ lines: any[], nameOf: any }} props */
function Untreated({ lines, nameOf }) {
  const left = lines.filter((line) => line.untreated);
  if (left.length === 0) return null;
  return html`<${Message} tone="waiting" icon="trial" title=${t("order.leave_untreated")}>
    <ul>${left.map((line, i) => html`<li key=${i}>${[line.lot && nameOf("lot", line.lot), line.bench && nameOf("bench", line.bench)].filter(Boolean).join(", ")}</li>`)}</ul><//>`;
}

/** Done, partly, skipped: with a reason where it was not simply done. @param {{ row: RecordRow, onClose: () => void }} props */
function OutcomeSheet({ row, onClose }) {
  const tepal = useTepal();
  const applications = useRecords("application") ?? [];
  const result = useSignal(/** @type {string | null} */ (null));
  const reason = useSignal("");
  const failure = useSignal("");
  async function save() {
    if (result.value === null || (result.value !== "done" && reason.value.trim() === "")) {
      failure.value = t(result.value === null ? "order.result_first" : "order.reason_first");
      return;
    }
    const own = applications.find((one) => one.shown.fields.order === row.id);
    try {
      await tepal.save.create("order_outcome", {
        order: row.id,
        result: result.value,
        application: own?.id ?? null,
        reason: reason.value.trim() || null,
        at: tepal.wall(),
      });
      onClose();
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
  }
  return html`<${Sheet} title=${t("order.end")} onClose=${onClose}><div class="stack">
    <${ChoiceField} label=${t("order.how")} value=${result.value} onValue=${(/** @type {string} */ value) => {
      result.value = value;
    }} choices=${["skipped", "partly", "done"].map((value) => ({ value, label: t(`order.state.${value}`), detail: t(`order.result_why.${value}`) }))} />
    <${TextField} label=${t("order.reason")} isOptional=${result.value === "done"} isLong=${true} maxLength=${400} value=${reason.value} onValue=${(
      /** @type {string} */ value,
    ) => {
      reason.value = value;
    }} />
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    <${GoButton} onPress=${save}>${t("order.end_do")}<//>
  </div><//>`;
}
