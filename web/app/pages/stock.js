// Stock: every product with its batches, what should be left, and first what somebody has to see to.
import { useSignal } from "@preact/signals";
import { useRecords, useTepal } from "../state/context.js";
import { productStock } from "../state/stock.js";
import { Button } from "../ui/buttons.js";
import { matching } from "../ui/choices.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { AddButton, Proposals } from "./register-list.js";
import { Batches, NoStock, needsLook, ProductLeft, useStock } from "./stock-parts.js";

const SEARCH_FROM = 7;
const SHOWN_FIRST = 40;

/** @param {{ frame: any }} props */
export function StockPage({ frame }) {
  const tepal = useTepal();
  const stock = useStock();
  const products = useRecords("product") ?? [];
  const search = useSignal("");
  const withEmpty = useSignal(false);
  const shown = useSignal(SHOWN_FIRST);
  const today = tepal.wall().local.slice(0, 10);
  const rows = products
    .map(({ id, shown: { fields } }) => {
      const batches = (stock ?? []).filter((one) => one.product === id);
      const inUse = withEmpty.value ? batches : batches.filter((one) => one.left !== 0);
      return {
        id,
        name: String(fields.name ?? ""),
        detail: fields.registration_number,
        fields,
        batches: inUse,
        all: batches,
      };
    })
    .filter(({ all }) => all.length > 0)
    .sort((a, b) => a.name.localeCompare(b.name));
  const found = /** @type {typeof rows} */ (matching(rows, search.value));
  const looks = (stock ?? []).filter((one) => needsLook(one, today));
  const low = rows.filter(({ fields, batches }) => productStock(fields, batches).isLow);
  const hasEmpty = (stock ?? []).some((one) => one.left === 0);
  return frame(
    null,
    html`<${Page} title=${t("place.stock")} under=${t("stock.under")} actions=${html`<${AddButton} kind="batch" />`}>
      <${Proposals} kind="batch" /><${Proposals} kind="stock_count" />
      ${
        looks.length + low.length > 0 &&
        html`<${Message} tone="caution" title=${t("stock.look", { n: looks.length + low.length })}>
        ${low.map(({ id, name }) => html`<p key=${id}><a href=${`/products/${id}`}>${t("stock.low_of", { product: name })}</a></p>`)}
        ${looks.map((one) => html`<p key=${one.row.id}><a href=${`/batches/${one.row.id}`}>${t("stock.look_at", { product: products.find(({ id }) => id === one.product)?.shown.fields.name ?? "–", batch: one.row.shown.fields.code ?? "–" })}</a></p>`)}<//>`
      }
      ${
        rows.length >= SEARCH_FROM &&
        html`<input class="input" type="search" autocomplete="off" aria-label=${t("pick.search")} placeholder=${t("pick.search")} value=${search.value}
          onInput=${(/** @type {any} */ event) => {
            search.value = event.currentTarget.value;
          }} />`
      }
      ${stock !== null && rows.length === 0 && html`<${NoStock} />`}
      <div class="places">${found.slice(0, shown.value).map(
        ({
          id,
          name,
          fields,
          batches,
        }) => html`<article class="card" key=${id}><h2><a href=${`/products/${id}`}>${name || t("office.not_on_file")}</a></h2>
          <${ProductLeft} fields=${fields} batches=${batches} /><${Batches} batches=${batches} /></article>`,
      )}</div>
      ${
        found.length > shown.value &&
        html`<div><${Button} icon="down" onPress=${() => {
          shown.value += SHOWN_FIRST;
        }}>${t("register.show_more", { n: found.length - shown.value })}<//></div>`
      }
      ${
        hasEmpty &&
        html`<div><${Button} kind="quiet" onPress=${() => {
          withEmpty.value = !withEmpty.value;
        }}>${t(withEmpty.value ? "stock.hide_empty" : "stock.show_empty")}<//></div>`
      }
    <//>`,
  );
}
