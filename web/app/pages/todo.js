// What this person has to do: spray orders that are due, theirs or anybody's, each one tap away from being done.
import { Button, GoButton } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { t } from "../ui/words.js";
import { OrderState, orderTitle, placesText, windowText } from "./order-words.js";
import { useNames } from "./record-words.js";
import { useSettings } from "./settings-context.js";

const MOST = 2; // the list of orders has the others; the restrictions below are not pushed out of sight

/** @param {{ due: any[], isNext: boolean }} props  isNext  Doing the first is the screen's next step. */
export function ToDo({ due, isNext }) {
  const { language } = useSettings();
  const nameOf = useNames();
  return html`<h2>${t("todo.title")}</h2>
    ${due.length === 0 && html`<p class="muted">${t("todo.nothing")}</p>`}
    ${due.slice(0, MOST).map(
      ({ row, state }, i) => html`<article class="card" key=${row.id}>
        <div class="spread"><a href=${`/orders/${row.id}`}><b>${orderTitle(row.shown.fields, nameOf)}</b></a><${OrderState} state=${state} /></div>
        <p>${placesText(row.shown.fields, nameOf)}</p>
        <p class="muted">${windowText(row.shown.fields, language.value)}</p>
        <div><${DoIt} id=${row.id} isNext=${isNext && i === 0} /></div></article>`,
    )}
    <div class="row"><${Button} kind="quiet" icon="list" href="/orders">${due.length > MOST ? t("todo.more", { n: due.length - MOST }) : t("todo.all")}<//></div>`;
}

/** @param {{ id: string, isNext: boolean }} props */
function DoIt({ id, isNext }) {
  const href = `/apply?order=${id}`;
  return isNext
    ? html`<${GoButton} href=${href}>${t("order.do")}<//>`
    : html`<${Button} icon="sprayer" href=${href}>${t("order.do")}<//>`;
}
