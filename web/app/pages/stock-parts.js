// Stock on pages: what should be left of a batch, the batches of a product, the counts of a batch, what the uses cost.
import { useMemo } from "preact/hooks";
import { amountText } from "../core/amounts.js";
import { formatNumber } from "../core/rounding.js";
import { useRecords } from "../state/context.js";
import { productStock, stockOf } from "../state/stock.js";
import { storedText } from "../ui/amounts.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { EmptyState, Message, StateChip } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { Expiry, expiryOf } from "./certificates.js";
import { useEstablishment, useWrittenNumbers } from "./establishment.js";
import { useWays } from "./form-setting.js";
import { momentText, useValueWords } from "./record-words.js";
import { AddLink } from "./register-list.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {import("../state/stock.js").BatchStock} BatchStock */

const EXPIRES_SOON_DAYS = 60; // common practice, no source: time to use a batch up

/** All batches with what should be left of each; null while the phone reads. @returns {BatchStock[] | null} */
export function useStock() {
  const lists = ["batch", "stock_count", "application", "product"].map((kind) => useRecords(kind));
  return useMemo(() => {
    if (lists.some((rows) => rows === null)) return null;
    const [batches, counts, applications, products] = lists.map((rows) => rows ?? []);
    const byId = Object.fromEntries(products.map((row) => [row.id, row.shown.fields]));
    return stockOf(batches, counts, applications, byId);
  }, lists);
}

/** An amount in mL or g in both systems of measures, the establishment's first. */
function useBaseAmount() {
  const { numberFormat, unitSystem } = useWays();
  return (/** @type {number} */ base, /** @type {"volume" | "mass"} */ dimension) => {
    const { metric, us } = amountText(base, dimension, numberFormat);
    return unitSystem === "us" ? [us, metric] : [metric, us];
  };
}

/** What should be left, in words with its doubts. @param {{ stock: BatchStock }} props */
function Left({ stock }) {
  const amount = useBaseAmount();
  if (stock.left === null || stock.dimension === null)
    return html`<span class="missing">${t("stock.not_reckoned")}</span>`;
  if (stock.left < 0) {
    return html`<${StateChip} tone="caution">${t("stock.below_zero", { amount: amount(-stock.left, stock.dimension)[0] })}<//>`;
  }
  const [first, second] = amount(stock.left, stock.dimension);
  return html`<span><b class="q">${first}</b> <span class="muted small">${second}</span></span>`;
}

/** @param {{ row: RecordRow }} props */
export function BatchLeft({ row }) {
  const stock = useStock()?.find((one) => one.row.id === row.id);
  const amount = useBaseAmount();
  if (!stock) return null;
  const { fields } = row.shown;
  return html`<section class="card"><div class="spread"><h2>${t("stock.left")}</h2><${Left} stock=${stock} /></div>
    ${stock.delivered !== null && stock.dimension !== null && html`<p class="muted">${t("stock.of", { delivered: amount(stock.delivered, stock.dimension)[0], n: stock.n_uses })}</p>`}
    <p><${Expiry} day=${fields.expires_on} soonDays=${EXPIRES_SOON_DAYS} /></p>
    ${stock.n_unread > 0 && html`<${Message} tone="caution" title=${t("stock.unread", { n: stock.n_unread })}><p>${t("stock.unread_why")}</p><//>`}
  </section>`;
}

/** The counts of a batch, and its uses with what they cost. @param {{ batch: RecordRow }} props */
export function CountsOf({ batch }) {
  const { language } = useSettings();
  const words = useValueWords();
  const numberFormat = useWrittenNumbers();
  const stock = useStock()?.find((one) => one.row.id === batch.id);
  const counts = (useRecords("stock_count") ?? []).filter(
    ({ shown }) => shown.fields.batch === batch.id && shown.state !== "void",
  );
  const money = useMoney();
  return html`<section class="stack"><h2>${t("stock.counts", { n: counts.length })}</h2>
      ${
        counts.length > 0 &&
        html`<ul class="list">${counts.map(
          ({ id, shown: { fields } }) =>
            html`<li key=${id}><a class="list-row" href=${`/stock-counts/${id}`}><span class="choice-text"><b>${words.text("stock_count", "amount", fields.amount) ?? t("office.not_on_file")}</b>
              <span class="choice-detail">${[momentText(fields.counted_at, language.value), fields.reason].filter(Boolean).join(" · ")}</span></span><${Icon} name="forward" /></a></li>`,
        )}</ul>`
      }
      <${AddLink} kind="stock_count" query=${`?batch=${batch.id}`} /></section>
    <section class="stack"><h2>${t("stock.uses", { n: stock?.uses.length ?? 0 })}</h2>
      ${
        (stock?.uses.length ?? 0) > 0 &&
        html`<ul class="list">${stock?.uses.map(
          (use) =>
            html`<li key=${use.row.id}><a class="list-row" href=${`/applications/${use.row.id}`}><span class="choice-text"><b>${shortDay(use.at.slice(0, 10), language.value)} · ${storedText(use.amount, numberFormat)}</b>
              <span class="choice-detail">${[use.row.shown.fields.mix_name, use.cost !== null && money(use.cost)].filter(Boolean).join(" · ")}</span></span><${Icon} name="forward" /></a></li>`,
        )}</ul>`
      }
      <p class="muted small">${t("stock.uses_why")}</p></section>`;
}

/** What a batch cost, as typed to the cent. @param {{ amount: string }} props */
export const Cost = ({ amount }) => html`${useMoney()(Number(amount))}`;

/** "12.40 USD"; the currency as it is on file. */
function useMoney() {
  const { numberFormat } = useWays();
  const { currency } = useEstablishment();
  return (/** @type {number} */ amount) =>
    `${formatNumber(amount, 2, numberFormat)}${currency ? `\u00a0${currency}` : ""}`;
}

/** What an application cost, by the batches that it names. @param {{ application: RecordRow }} props */
export function ApplicationCost({ application }) {
  const stock = useStock();
  const money = useMoney();
  const products = application.shown.fields.products ?? [];
  if (!stock || products.length === 0) return null;
  const costs = products.map((/** @type {any} */ product) => {
    const batch = stock.find((one) => one.row.id === product.batch);
    return (
      batch?.uses.find((use) => use.row.id === application.id && use.amount === product.amount)?.cost ?? null
    );
  });
  const known = costs.filter((/** @type {any} */ cost) => cost !== null);
  if (known.length === 0) return null;
  const sum = known.reduce((/** @type {number} */ total, /** @type {number} */ cost) => total + cost, 0);
  return html`<p>${t("stock.cost", { cost: money(sum) })}${known.length < products.length ? ` ${t("stock.cost_part", { n: known.length, total: products.length })}` : ""}</p>`;
}

/** The batches of one product. @param {{ product: RecordRow }} props */
export function BatchesOf({ product }) {
  const stock = useStock();
  const batches = (stock ?? []).filter((one) => one.product === product.id);
  return html`<section class="stack"><h2>${t("stock.in_stock")}</h2>
    <${ProductLeft} fields=${product.shown.fields} batches=${batches} />
    <${Batches} batches=${batches} />
    <${AddLink} kind="batch" query=${`?product=${product.id}`} /></section>`;
}

/** @param {{ fields: Record<string, any>, batches: BatchStock[] }} props */
export function ProductLeft({ fields, batches }) {
  const amount = useBaseAmount();
  const words = useValueWords();
  const { left, dimension, isLow } = productStock(fields, batches);
  if (batches.length === 0) return html`<p class="muted">${t("stock.no_batch")}</p>`;
  return html`<p>${left === null || dimension === null ? html`<span class="missing">${t("stock.not_reckoned")}</span>` : html`${t("stock.together")} <b class="q">${amount(left, dimension)[0]}</b>`}
    ${isLow && html`${" "}<${StateChip} tone="caution">${t("stock.low", { line: words.text("product", "low_stock", fields.low_stock) ?? "" })}<//>`}</p>`;
}

/** @param {{ batches: BatchStock[] }} props */
export function Batches({ batches }) {
  if (batches.length === 0) return null;
  return html`<ul class="list">${batches.map(
    (stock) => html`<li key=${stock.row.id}><a class="list-row batch-row" href=${`/batches/${stock.row.id}`}>
      <span class="choice-text"><b>${stock.row.shown.fields.code ?? t("office.not_on_file")}</b><span class="choice-detail">${[stock.row.shown.fields.storage, stock.row.shown.fields.supplier].filter(Boolean).join(" · ")}</span></span>
      <span class="batch-state"><${Left} stock=${stock} /><${Expiry} day=${stock.row.shown.fields.expires_on} soonDays=${EXPIRES_SOON_DAYS} /></span><${Icon} name="forward" /></a></li>`,
  )}</ul>`;
}

/** Whether somebody has to see to a batch. @param {BatchStock} stock @param {string} today */
export function needsLook(stock, today) {
  const isGone = stock.left !== null && stock.left === 0;
  const expiry = expiryOf(stock.row.shown.fields.expires_on, today, EXPIRES_SOON_DAYS);
  return !isGone && ((stock.left !== null && stock.left < 0) || expiry === "expired" || expiry === "soon");
}

/** Nothing in stock yet. */
export const NoStock = () =>
  html`<${EmptyState} icon="product" title=${t("register.empty.batch")}><p>${t("register.empty_why.batch")}</p><//>`;
