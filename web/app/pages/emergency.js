// The emergency page: offline, and without anybody signed in. What the labels on this phone say, as they were copied; no
// number that no source gives.
import { choiceLabel, fieldLabel } from "../forms/labels.js";
import { useRecords } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { Ingredients } from "./application-facts.js";
import { useEstablishment } from "./establishment.js";
import { useValueWords } from "./record-words.js";
import { useSettings } from "./settings-context.js";

// Advice of the US EPA for people in the United States, from a snapshot of 2017; it was not checked again.
const US_NUMBERS = [
  { who: "emergency.us.unconscious", number: "911" },
  { who: "emergency.us.poison", number: "1-800-222-1222" },
  { who: "emergency.us.pesticides", number: "1-800-858-7378" },
];

/** @param {{ frame: any }} props */
export function EmergencyPage({ frame }) {
  const { country } = useEstablishment();
  const products = (useRecords("product") ?? []).filter((row) => row.shown.state !== "void");
  const words = useValueWords();
  return frame(
    null,
    html`<${Page} title=${t("place.emergency")} under=${t("emergency.under")} isReading=${true}>
      <${Message} tone="stopped" icon="emergency" title=${t("emergency.first")}>
        <ol class="steps"><li>${t("emergency.step.away")}</li><li>${t("emergency.step.label")}</li><li>${t("emergency.step.call")}</li></ol><//>
      ${
        country === "US"
          ? html`<section class="stack"><ul class="list">${US_NUMBERS.map(
              ({ who, number }) =>
                html`<li><a class="list-row call" href=${`tel:${number.replaceAll("-", "")}`}><span>${t(who)}</span><b class="q">${number}</b></a></li>`,
            )}</ul><p class="muted small">${t("emergency.us.source")}</p></section>`
          : html`<${Message} tone="caution" title=${t("emergency.no_numbers")}><p>${t("emergency.no_numbers_why")}</p><//>`
      }
      <h2>${t("emergency.products")}</h2>
      ${
        products.length === 0
          ? html`<${EmptyState} icon="product" title=${t("emergency.no_products")}><p>${t("emergency.no_products_why")}</p><//>`
          : products.map(
              (row) => html`<${Product} key=${row.id} fields=${row.shown.fields} words=${words} />`,
            )
      }
      <div><${Button} kind="quiet" icon="back" href="/today">${t("place.today")}<//></div>
    <//>`,
  );
}

/** @param {{ fields: Record<string, any>, words: any }} props */
function Product({ fields, words }) {
  const { language } = useSettings();
  const missing = html`<span class="missing">${t("emergency.read_label")}</span>`;
  return html`<details class="card emergency-product"><summary><span><b>${fields.name ?? t("office.not_on_file")}</b>
      <span class="muted">${fields.registration_number ?? t("emergency.no_registration")}</span></span></summary>
    <h3>${t("emergency.label_first_aid")}</h3>
    <p class="first-aid">${fields.first_aid || missing}</p>
    <dl class="facts">
      <div><dt>${fieldLabel("product.registration_number")}</dt><dd><b>${fields.registration_number || missing}</b></dd></div>
      <div><dt>${fieldLabel("product.ingredients")}</dt><dd><${Ingredients} product=${fields} words=${words} /></dd></div>
      <div><dt>${fieldLabel("product.signal_word")}</dt><dd>${fields.signal_word ? choiceLabel("product.signal_word", fields.signal_word) : missing}</dd></div>
      <div><dt>${fieldLabel("product.ppe_mixing")}</dt><dd>${fields.ppe_mixing || missing}</dd></div>
      <div><dt>${fieldLabel("product.ppe_applying")}</dt><dd>${fields.ppe_applying || missing}</dd></div>
      <div><dt>${fieldLabel("product.label_on")}</dt><dd>${fields.label_on ? shortDay(fields.label_on, language.value) : missing}</dd></div>
    </dl></details>`;
}
