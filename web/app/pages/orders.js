// Spray orders: what is due, what comes, what was done. One row an order; the calendar and the programs stand beside.
import { useTepal } from "../state/context.js";
import { byWindow, isOpen } from "../state/orders.js";
import { Button, GoButton } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { EmptyState } from "../ui/state.js";
import { t } from "../ui/words.js";
import { may } from "./may.js";
import { OrderState, orderTitle, placesText, useOrders, windowText } from "./order-words.js";
import { useNames } from "./record-words.js";
import { AddLink, Proposals, RegisterList } from "./register-list.js";
import { useSettings } from "./settings-context.js";

const LAST_DONE = 30; // more stand in the applications

/** @param {{ frame: any }} props */
export function OrdersPage({ frame }) {
  const { session } = useTepal();
  const orders = useOrders();
  const word = may(session.value, "registers");
  const open = (orders ?? []).filter(({ state }) => isOpen(state)).sort(byWindow);
  const now = open.filter(({ state }) => state !== "planned");
  const later = open.filter(({ state }) => state === "planned");
  const over = (orders ?? [])
    .filter(({ state }) => !isOpen(state))
    .sort(byWindow)
    .reverse()
    .slice(0, LAST_DONE);
  return frame(
    null,
    html`<${Page} title=${t("place.orders")}
      actions=${word !== "no" && html`<div class="head-act"><${GoButton} href="/orders/new">${t(word === "ask" ? "order.propose" : "order.plan")}<//></div>`}>
      <div class="row"><${Button} icon="calendar" href="/calendar">${t("calendar.title")}<//></div>
      <${Proposals} kind="spray_order" />
      ${orders !== null && orders.length === 0 && html`<${EmptyState} icon="calendar" title=${t("order.none")}><p>${t("order.none_why")}</p><//>`}
      <${Group} title=${t("order.now")} orders=${now} />
      <${Group} title=${t("order.later")} orders=${later} />
      <${Group} title=${t("order.over")} orders=${over} />
      <h2>${t("program.title")}</h2>
      <${RegisterList} kind="program" /><${AddLink} kind="program" />
    <//>`,
  );
}

/** @param {{ title: string, orders: any[] }} props */
function Group({ title, orders }) {
  if (orders.length === 0) return null;
  return html`<section class="stack"><h2>${title}</h2><ul class="list">${orders.map(
    (order) => html`<li key=${order.row.id}><${OrderRow} order=${order} /></li>`,
  )}</ul></section>`;
}

/** @param {{ order: any }} props */
function OrderRow({ order }) {
  const { language } = useSettings();
  const nameOf = useNames();
  const { fields } = order.row.shown;
  const who = fields.operator ? nameOf("member", fields.operator) : null;
  return html`<a class="list-row" href=${`/orders/${order.row.id}`}>
    <span class="choice-text"><b>${orderTitle(fields, nameOf)}</b>
      <span class="choice-detail">${[windowText(fields, language.value), who, placesText(fields, nameOf)].filter(Boolean).join(" · ")}</span></span>
    <${OrderState} state=${order.state} /><${Icon} name="forward" /></a>`;
}
