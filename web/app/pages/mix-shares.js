// What each place and lot gets, totals of active ingredient, what is left and what may be done with it.
import { amountText } from "../core/amounts.js";
import { formatQuantity } from "../core/rounding.js";
import { html } from "../ui/html.js";
import { Stake } from "../ui/stake.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";

/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */
/** @typedef {import("../core/shares.js").AiShare} AiShare */
/** @typedef {import("./mix-job.js").MixJob} MixJob */

/** @param {{ mixJob: MixJob }} props */
export function MixShares({ mixJob }) {
  const { plan, job, uncounted } = mixJob;
  if (plan === null) return null;
  const format = job.numberFormat;
  return html`<section class="stack"><h2>${t("mix.gets")}</h2>
    <ul class="list">${plan.lines.map((line, at) => {
      const place = job.places[at];
      return html`<li class="list-row share" key=${line.id}>
        <span class="share-head"><b>${place.place}</b>
          ${place.lot && html`<span class="named"><${Stake} code=${place.lot.shown.fields.code ?? "–"} tone="passed" /><span>${place.crop}</span></span>`}</span>
        <span class="share-volume"><span class="q">${line.volume_text.metric}</span> <span class="muted">${line.volume_text.us}</span></span>
        <${Doses} ais=${line.ais} format=${format} /></li>`;
    })}</ul>
    ${plan.lots.length > 0 && plan.lots.length < plan.lines.length && html`<${Lots} mixJob=${mixJob} />`}
    ${uncounted.length > 0 && html`<${Message} tone="caution" title=${t("mix.season_uncounted", { n: uncounted.length })} />`}
    <p class="muted small">${t("mix.season_known")}</p>
  </section>
  <${Totals} mixJob=${mixJob} />
  <${Leftovers} mixJob=${mixJob} />`;
}

/** Lots over all their places. @param {{ mixJob: MixJob }} props */
function Lots({ mixJob: { plan, job } }) {
  return html`<h3>${t("mix.per_lot")}</h3><ul class="list">${plan?.lots.map((lot) => {
    const place = job.places.find((one) => one.lot?.id === lot.lot);
    const volume = amountText(lot.volume_l * 1000, "volume", job.numberFormat);
    return html`<li class="list-row share" key=${lot.lot}>
      <span class="share-head"><span class="named"><${Stake} code=${place?.lot?.shown.fields.code ?? "–"} tone="passed" /><span>${place?.crop}</span></span></span>
      <span class="share-volume"><span class="q">${volume.metric}</span> <span class="muted">${volume.us}</span></span>
      <${Doses} ais=${lot.ais} format=${job.numberFormat} /></li>`;
  })}</ul>`;
}

/** Each active ingredient: mass, and per area, container and plant where that is known. @param {{ ais: readonly AiShare[], format: NumberFormat }} props */
function Doses({ ais, format }) {
  const q = (/** @type {number} */ value, /** @type {string} */ unit) => formatQuantity(value, unit, format);
  return html`<ul class="doses">${ais.map((one) => {
    const area = one.mg_per_m2 === null ? null : amountText(one.mg_per_m2, "mass_per_area", format);
    const season =
      one.season_mg_per_m2 === null ? null : amountText(one.season_mg_per_m2, "mass_per_area", format);
    const told = [
      q(one.mg, "mg"),
      area?.metric,
      area?.us,
      one.mg_per_container !== null && q(one.mg_per_container, "mg/{pot}"),
      one.mg_per_plant !== null && q(one.mg_per_plant, "mg/{plant}"),
    ].filter(Boolean);
    return html`<li key=${`${one.component_id}${one.ai}${one.expressed_as}`}>${one.ai}: <span class="dose-parts">${told.map((text) => html`<span class="q" key=${text}>${text}</span>`)}</span>
      ${season && html`<span class="muted"> ${t("mix.season_area", { metric: season.metric, us: season.us })}</span>`}
      ${one.season_mg_per_container !== null && html`<span class="muted"> ${t("mix.season_pot", { amount: q(one.season_mg_per_container, "mg/{pot}") })}</span>`}</li>`;
  })}</ul>`;
}

/** @param {{ mixJob: MixJob }} props */
function Totals({ mixJob: { plan, job } }) {
  return html`<section class="stack"><h2>${t("mix.totals")}</h2>
    <ul class="list">${plan?.components.map((component) => {
      const ais = component.ais.map(
        (one) =>
          `${one.ai} ${formatQuantity(one.mg / 1000, "g", job.numberFormat)} (${formatQuantity(one.mg_per_l, "mg/L", job.numberFormat)})`,
      );
      return html`<li class="list-row share" key=${component.id}><span class="share-head"><b>${component.product_name}</b></span>
        <span class="share-volume"><span class="q">${component.total_text.metric}</span> <span class="muted">${component.total_text.us}</span></span>
        ${ais.length > 0 && html`<span class="muted share-more">${ais.join(" · ")}</span>`}</li>`;
    })}</ul></section>`;
}

/** @param {{ mixJob: MixJob }} props */
function Leftovers({ mixJob: { plan, job } }) {
  if (plan === null) return null;
  const rest = amountText(plan.extra_l * 1000, "volume", job.numberFormat);
  return html`<section class="stack"><h2>${t("mix.left")}</h2>
    <p>${plan.extra_l > 0 ? t("mix.left_planned", { metric: rest.metric, us: rest.us }) : t("mix.left_none")}</p>
    ${plan.leftover_ais.length > 0 && html`<${Doses} ais=${plan.leftover_ais} format=${job.numberFormat} />`}
    <ul class="bullets">${plan.leftover_options.map(
      (option) =>
        html`<li key=${option.code}>${t(option.code)} <span class="muted small">${t("apply.source", { source: sourceText(option.source) })}</span></li>`,
    )}</ul>
    ${plan.use_within_h !== null && html`<${Message} tone="caution" icon="clock" title=${t("mix.use_within", { time: formatQuantity(plan.use_within_h, "h", job.numberFormat) })} />`}
  </section>`;
}

/** Sources that are words, not citations. @type {Record<string, string>} */
const SOURCES = {
  "common practice (no source)": "leftover.source.common_practice",
  "US label texts": "leftover.source.label_texts",
};

/** @param {string} source */
const sourceText = (source) => (SOURCES[source] ? t(SOURCES[source]) : source);
