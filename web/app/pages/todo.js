// What this person has to do: spray orders that are due, theirs or anybody's, each one tap away from being done.
import { useTepal } from "../state/context.js";
import { dueFor } from "../state/orders.js";
import { Button } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { t } from "../ui/words.js";
import { OrderState, orderTitle, placesText, useOrders, windowText } from "./order-words.js";
import { useNames } from "./record-words.js";
import { useSettings } from "./settings-context.js";

const MOST = 6; // the list of orders has the others

export function ToDo() {
  const { session } = useTepal();
  const { language } = useSettings();
  const nameOf = useNames();
  const due = dueFor(useOrders() ?? [], session.value?.member?.id);
  return html`<h2>${t("todo.title")}</h2>
    ${due.length === 0 && html`<p class="muted">${t("todo.nothing")}</p>`}
    ${due.slice(0, MOST).map(
      ({ row, state }) => html`<article class="card" key=${row.id}>
        <div class="spread"><a href=${`/orders/${row.id}`}><b>${orderTitle(row.shown.fields, nameOf)}</b></a><${OrderState} state=${state} /></div>
        <p>${placesText(row.shown.fields, nameOf)}</p>
        <p class="muted">${windowText(row.shown.fields, language.value)}</p>
        <div><${Button} icon="sprayer" href=${`/apply?order=${row.id}`}>${t("order.do")}<//></div></article>`,
    )}
    <div class="row"><${Button} kind="quiet" icon="list" href="/orders">${t("todo.all")}<//></div>`;
}
