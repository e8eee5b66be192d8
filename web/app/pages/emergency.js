// The emergency page: offline, and without anybody signed in. First whom to call, then the first aid of what people may have
// been exposed to now, then of everything. What the labels say stands as it was copied; no number that no source gives.
import { useSignal } from "@preact/signals";
import { choiceLabel, fieldLabel } from "../forms/labels.js";
import { useRecords, useTepal } from "../state/context.js";
import { numbersFor, ownPoisonLine } from "../state/emergency-numbers.js";
import { exposedProducts, exposuresOf } from "../state/exposure.js";
import { Button } from "../ui/buttons.js";
import { matching } from "../ui/choices.js";
import { Fold } from "../ui/fold.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { clockTime, dayName, shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { Ingredients } from "./application-facts.js";
import { CallList, telephone } from "./emergency-numbers.js";
import { useEstablishment } from "./establishment.js";
import { filesOf, OpenFile } from "./label-files.js";
import { useValueWords } from "./record-words.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

const SEARCH_FROM = 7;

/** @param {{ frame: any }} props */
export function EmergencyPage({ frame }) {
  const tepal = useTepal();
  const establishment = useEstablishment();
  const products = (useRecords("product") ?? []).filter((row) => row.shown.state !== "void");
  const now = tepal.serverNowMs();
  const exposures = exposuresOf(useRecords("application") ?? [], useRecords("restriction") ?? [], now);
  const exposed = exposedProducts(exposures);
  const search = useSignal("");
  const named = products
    .map((row) => ({
      id: row.id,
      row,
      name: String(row.shown.fields.name ?? ""),
      detail: row.shown.fields.registration_number,
    }))
    .sort(
      (a, b) =>
        Number(a.row.shown.fields.retired === true) - Number(b.row.shown.fields.retired === true) ||
        a.name.localeCompare(b.name),
    );
  const found = /** @type {typeof named} */ (matching(named, search.value));
  return frame(
    null,
    html`<${Page} title=${t("place.emergency")} under=${t("emergency.under")} isReading=${true}>
      <${CallList} numbers=${numbersFor(establishment.country)} country=${establishment.country} />
      <${Message} tone="stopped" icon="emergency" title=${t("emergency.first")}>
        <ol class="steps"><li>${t("emergency.step.away")}</li><li>${t("emergency.step.label")}</li><li>${t("emergency.step.call")}</li></ol><//>
      <${Here} establishment=${establishment} />
      ${
        exposed.length > 0 &&
        html`<section class="stack"><h2>${t("emergency.exposed")}</h2><p class="muted">${t("emergency.exposed_why")}</p>
          ${exposed.map(({ product, applied, exposures: of }) => {
            const row = products.find((one) => one.id === product);
            return html`<${Product} key=${product ?? applied.name} id=${product} fields=${{ ...applied, ...row?.shown.fields }} exposures=${of} isOpen=${true} />`;
          })}</section>`
      }
      <section class="stack"><h2>${t("emergency.products")}</h2>
        ${
          products.length >= SEARCH_FROM &&
          html`<input class="input" type="search" autocomplete="off" aria-label=${t("pick.search")} placeholder=${t("pick.search")} value=${search.value}
            onInput=${(/** @type {any} */ event) => {
              search.value = event.currentTarget.value;
            }} />`
        }
        ${
          products.length === 0
            ? html`<${EmptyState} icon="product" title=${t("emergency.no_products")}><p>${t("emergency.no_products_why")}</p><//>`
            : found.map(({ id, row }) => html`<${Product} key=${id} id=${id} fields=${row.shown.fields} />`)
        }</section>
      <div><${Button} kind="quiet" icon="back" href="/today">${t("place.today")}<//></div>
    <//>`,
  );
}

/** What the nursery itself has on file: where to go, whom to call, where the eyes are rinsed. @param {{ establishment: Record<string, any> }} props */
function Here({ establishment }) {
  const { medical_facility: facility, eyewash, spill, name } = establishment;
  const line = ownPoisonLine(establishment);
  const missing = html`<span class="missing">${t("office.not_on_file")}</span>`;
  return html`<section class="stack"><h2>${name ?? t("emergency.here")}</h2><dl class="facts is-large">
    <div><dt>${fieldLabel("establishment.medical_facility")}</dt><dd>${facility?.name || facility?.phone ? html`<b>${facility.name}</b>${facility.address ? `\n${facility.address}` : ""}${facility.phone ? html`<br />${telephone(facility.phone)}` : ""}` : missing}</dd></div>
    <div><dt>${fieldLabel("establishment.poison_line")}</dt><dd>${line === "foreign" ? html`<span class="missing">${t("emergency.foreign_line")}</span>` : line ? telephone(line) : missing}</dd></div>
    <div><dt>${fieldLabel("establishment.eyewash")}</dt><dd>${eyewash || missing}</dd></div>
    <div><dt>${fieldLabel("establishment.spill")}</dt><dd>${spill || missing}</dd></div>
  </dl></section>`;
}

/** @param {{ id: string | null, fields: Record<string, any>, exposures?: import("../state/exposure.js").Exposure[], isOpen?: boolean }} props */
function Product({ id, fields, exposures = [], isOpen = false }) {
  const { language } = useSettings();
  const words = useValueWords();
  const files = filesOf(useRecords("label_file"), id ?? "").filter(
    ({ shown }) => shown.fields.replaced !== true,
  );
  const missing = html`<span class="missing">${t("emergency.read_label")}</span>`;
  return html`<${Fold} title=${fields.name ?? t("office.not_on_file")} detail=${fields.registration_number ?? t("emergency.no_registration")} isOpen=${isOpen}>
    ${exposures.map((one) => html`<p key=${one.row.id}><b>${exposureText(one, language.value)}</b> · ${placesText(one.row.shown.fields)}</p>`)}
    <h3>${t("emergency.label_first_aid")}</h3>
    <p class="first-aid">${fields.first_aid || missing}</p>
    <dl class="facts">
      <div><dt>${fieldLabel("product.registration_number")}</dt><dd><b>${fields.registration_number || missing}</b></dd></div>
      <div><dt>${fieldLabel("product.ingredients")}</dt><dd><${Ingredients} product=${fields} words=${words} /></dd></div>
      <div><dt>${fieldLabel("product.signal_word")}</dt><dd>${fields.signal_word ? choiceLabel("product.signal_word", fields.signal_word) : missing}</dd></div>
      <div><dt>${fieldLabel("product.maker_phone")}</dt><dd>${fields.maker_phone ? telephone(fields.maker_phone) : missing}</dd></div>
      <div><dt>${fieldLabel("product.ppe_mixing")}</dt><dd>${fields.ppe_mixing || missing}</dd></div>
      <div><dt>${fieldLabel("product.ppe_applying")}</dt><dd>${fields.ppe_applying || missing}</dd></div>
      <div><dt>${fieldLabel("product.label_on")}</dt><dd>${fields.label_on ? shortDay(fields.label_on, language.value) : missing}</dd></div>
    </dl>
    ${files.map(({ id: file, shown }) => html`<div key=${file}><${OpenFile} fields=${shown.fields} label=${choiceLabel("label_file.sort", shown.fields.sort ?? "label")} /></div>`)}
  <//>`;
}

/** @param {import("../state/exposure.js").Exposure} one @param {string} language */
export function exposureText(one, language) {
  if (one.endedMs === null) return t("display.running", { time: clockTime(one.startedMs) });
  if (one.isReiUnknown) return t(one.isRestricted ? "display.rei_unknown" : "display.rei_missing");
  if (one.reiEndMs === null) return t("display.no_rei");
  const when = { time: clockTime(one.reiEndMs), day: dayName(one.reiEndMs, language) };
  return t(one.isRestricted ? "display.restricted_until" : "display.rei_ended", when);
}

/** @param {Record<string, any>} fields */
export const placesText = (fields) =>
  [...new Set((fields.lines ?? []).map((/** @type {any} */ line) => line.place).filter(Boolean))].join(
    "; ",
  ) || t("office.not_on_file");
