// A crop's program for one lot: a step a week of the crop, and the orders that it proposes. Making them is the grower's act.
import { useSignal } from "@preact/signals";
import { useRecords, useTepal } from "../state/context.js";
import { proposalsOf } from "../state/orders.js";
import { Button } from "../ui/buttons.js";
import { RefField } from "../ui/choices.js";
import { html } from "../ui/html.js";
import { Message, StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";
import { may } from "./may.js";
import { windowText } from "./order-words.js";
import { recordName, useNames } from "./record-words.js";
import { useSettings } from "./settings-context.js";

/** @param {{ row: import("../sync/port.js").RecordRow }} props */
export function ProgramOrders({ row }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const nameOf = useNames();
  const chosen = useSignal(/** @type {string | null} */ (null));
  const failure = useSignal("");
  const lots = (useRecords("lot") ?? []).filter(
    (one) =>
      one.shown.state !== "void" && !["shipped", "discarded", "merged"].includes(one.shown.fields.phase),
  );
  const orders = useRecords("spray_order") ?? [];
  const events = useRecords("lot_event") ?? [];
  const lot = lots.find((one) => one.id === chosen.value);
  const proposals = lot ? proposalsOf(row, lot, orders, events) : [];
  const missing = proposals.filter((/** @type {any} */ one) => one.order === null);
  const word = may(tepal.session.value, "registers");
  const crop = String(row.shown.fields.crop ?? "").toLowerCase();
  const sorted = [...lots].sort((a, b) => Number(fitsCrop(b, crop)) - Number(fitsCrop(a, crop)));

  async function make() {
    if (!lot) return;
    const { fields } = lot.shown;
    const acts = missing.map((/** @type {any} */ { step, from, to }) =>
      tepal.save.act(
        "spray_order",
        tepal.book.newId(),
        word === "ask" ? "propose" : "create",
        tepal.book.changesBetween(
          {},
          {
            lines: (fields.benches?.length ? fields.benches : [null]).map(
              (/** @type {string | null} */ bench) => ({ lot: lot.id, bench }),
            ),
            tank_mix: step.tank_mix,
            window_from: from,
            window_to: to,
            program: row.id,
            week: step.week,
            note: [step.stage, step.note].filter(Boolean).join(" · ") || null,
          },
        ),
      ),
    );
    try {
      await tepal.save.all(acts);
      failure.value = "";
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
  }

  return html`<section class="stack"><h2>${t("program.orders")}</h2>
    <${RefField} label=${t("kind.lot")} value=${chosen.value} options=${sorted.map((one) => ({ id: one.id, name: recordName("lot", one.shown.fields) }))}
      onValue=${(/** @type {string | null} */ id) => {
        chosen.value = id;
      }} />
    ${lot && proposals.length > 0 && proposals[0].from === null && html`<${Message} tone="waiting" title=${t("program.no_start")}><p>${t("program.no_start_why")}</p><//>`}
    ${
      proposals.length > 0 &&
      html`<ul class="list">${proposals.map(
        (
          /** @type {any} */ { step, from, to, order },
          /** @type {number} */ i,
        ) => html`<li class="list-row" key=${i}><span class="choice-text"><b>${t("program.week", { n: step.week })} · ${nameOf("tank_mix", step.tank_mix) ?? t("office.not_on_phone")}</b>
          <span class="choice-detail">${[windowText({ window_from: from, window_to: to }, language.value), step.stage, step.note].filter(Boolean).join(" · ")}</span></span>
          ${order ? html`<a href=${`/orders/${order.id}`}>${t("program.has_order")}</a>` : html`<${StateChip} tone="waiting">${t("program.proposed")}<//>`}</li>`,
      )}</ul>`
    }
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    ${missing.length > 0 && word !== "no" && html`<div><${Button} icon="plus" onPress=${make}>${t(word === "ask" ? "program.propose" : "program.make", { n: missing.length })}<//></div>`}
  </section>`;
}

/** @param {any} lot @param {string} crop */
const fitsCrop = (lot, crop) => String(lot.shown.fields.crop ?? "").toLowerCase() === crop;
