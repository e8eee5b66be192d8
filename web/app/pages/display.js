// The central display: what was applied, until 30 days after its interval, with the safety contacts. On a wall tablet it
// needs nobody signed in; on paper the office prints the same.
import { choiceLabel, fieldLabel } from "../forms/labels.js";
import { useRecords, useTepal } from "../state/context.js";
import { exposuresOf, onDisplay } from "../state/exposure.js";
import { storedText } from "../ui/amounts.js";
import { GoButton } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Named } from "../ui/stake.js";
import { EmptyState, StateChip } from "../ui/state.js";
import { clockTime, countdown, dayAt, dayName, shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { Ingredients } from "./application-facts.js";
import { exposureText } from "./emergency.js";
import { telephone } from "./emergency-numbers.js";
import { useEstablishment, useWrittenNumbers } from "./establishment.js";
import { fileOfDay, filesOf, OpenFile } from "./label-files.js";
import { momentText, useValueWords } from "./record-words.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../state/exposure.js").Exposure} Exposure */

/** @param {{ frame: any }} props */
export function DisplayPage({ frame }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const establishment = useEstablishment();
  const applications = useRecords("application");
  const now = tepal.serverNowMs();
  const shown = onDisplay(exposuresOf(applications ?? [], useRecords("restriction") ?? [], now), now);
  const heard = tepal.heard.value;
  const isSignedIn = Boolean(tepal.session.value?.member);
  const paper = tepal.api.url(`/papers/central-display?language=${language.value}`);
  return frame(
    null,
    html`<${Page} title=${t("place.display")} under=${t("display.under", { name: establishment.name ?? "", day: dayName(now, language.value), time: clockTime(now) })}
      actions=${isSignedIn && html`<div class="head-act"><${GoButton} href=${paper} isNewTab=${true}>${t("display.print")}<//></div>`}>
      <${Contacts} establishment=${establishment} />
      <p class="muted">${heard ? t("display.heard", { time: clockTime(Date.parse(heard.server)) }) : t("sync.never_heard")} ${t("today.sign_decides")}</p>
      ${
        applications !== null &&
        (shown.length === 0
          ? html`<${EmptyState} icon="book" title=${t("display.none")}><p>${t("display.none_why")}</p><//>`
          : html`<div class="display-board">${shown.map((one) => html`<${Applied} key=${one.row.id} one=${one} now=${now} />`)}</div>`)
      }
      <p class="muted small">${t(establishment.country === "US" ? "display.rule_us" : "display.rule_other")}</p>
    <//>`,
  );
}

/** Whom to reach: 40 CFR 170.311(a). @param {{ establishment: Record<string, any> }} props */
function Contacts({ establishment }) {
  const missing = html`<span class="missing">${t("office.not_on_file")}</span>`;
  /** @param {any} contact */
  const said = (contact) =>
    contact?.name || contact?.phone
      ? html`<b>${contact.name}</b>${contact.address ? html`<span>${contact.address}</span>` : ""}${contact.phone ? telephone(contact.phone) : ""}`
      : missing;
  return html`<section class="contacts"><h2 class="visually-hidden">${t("display.contacts")}</h2>
    <div class="card contact"><h3>${t("display.medical")}</h3>${said(establishment.medical_facility)}</div>
    <div class="card contact"><h3>${fieldLabel("establishment.pesticide_agency")}</h3>${said(establishment.pesticide_agency)}</div>
  </section>`;
}

/** @param {Exposure} one */
function toneOf(one) {
  if (one.endedMs === null) return "caution";
  if (one.isRestricted) return "stopped";
  return one.isReiUnknown ? "caution" : "plain";
}

/** @param {{ one: Exposure, now: number }} props */
function Applied({ one, now }) {
  const { language } = useSettings();
  const { fields } = one.row.shown;
  const isDue = one.dueMs !== null && one.dueMs > now;
  return html`<article class="card display-card">
    <div class="spread"><${StateChip} tone=${toneOf(one)} icon=${one.endedMs === null ? "sprayer" : undefined}>${exposureText(one, language.value)}<//>
      ${one.isRestricted && one.reiEndMs !== null && one.reiEndMs > now && html`<b class="q">${countdown(one.reiEndMs - now)}</b>`}</div>
    ${one.isRestricted && one.reiEndMs !== null && one.reiEndMs <= now && html`<p>${t("display.not_reopened")}</p>`}
    <${Where} lines=${fields.lines ?? []} described=${fields.area_described} />
    <dl class="facts">
      <div><dt>${fieldLabel("application.started_at")}</dt><dd>${momentText(fields.started_at, language.value)}</dd></div>
      <div><dt>${fieldLabel("application.ended_at")}</dt><dd>${fields.ended_at ? momentText(fields.ended_at, language.value) : t("display.not_ended")}</dd></div>
    </dl>
    ${(fields.products ?? []).map((/** @type {any} */ product, /** @type {number} */ at) => html`<${ProductLine} key=${at} product=${product} />`)}
    ${isDue && html`<p class="muted small">${t("display.due", { left: countdown((one.dueMs ?? now) - now) })}</p>`}
    <p class="muted small">${one.untilMs === null ? (one.endedMs === null ? "" : t("display.stays_unknown")) : t("display.stays", { day: shortDay(dayAt(one.untilMs), language.value) })}</p>
  </article>`;
}

/** Crop and treated area, place by place. @param {{ lines: any[], described?: string }} props */
function Where({ lines, described }) {
  const numberFormat = useWrittenNumbers();
  return html`<ul class="stack-1">${lines.map(
    (
      line,
      at,
    ) => html`<li key=${at} class="display-line">${line.lot_code ? html`<${Named} code=${line.lot_code} name=${line.crop ?? ""} />` : html`<b>${line.crop ?? t("office.not_on_file")}</b>`}
      <span>${[line.place, line.area && storedText(line.area, numberFormat)].filter(Boolean).join(" · ")}</span></li>`,
  )}${described && html`<li>${described}</li>`}</ul>`;
}

/** Product, registration number, active ingredients, interval, data sheet. @param {{ product: any }} props */
function ProductLine({ product }) {
  const words = useValueWords();
  const rows = useRecords("label_file");
  const sheet =
    fileOfDay(rows, product.product, product.sds_on, "sds") ??
    filesOf(rows, product.product ?? "").find(
      ({ shown }) => shown.fields.sort === "sds" && shown.fields.replaced !== true,
    );
  const isProduct = (product.kind ?? "product") === "product";
  return html`<div class="display-product"><div><b>${product.name ?? t("office.not_on_file")}</b>${" "}
      <span>${product.registration_number ?? html`<span class="missing">${t("emergency.no_registration")}</span>`}</span></div>
    <div class="muted"><${Ingredients} product=${product} words=${words} /></div>
    <div>${t("register.rei")} <b>${words.inner("application", "products", "rei", product.rei) ?? (isProduct ? html`<span class="missing">${t("office.rei_read_label")}</span>` : t("office.rei_none_for_kind"))}</b></div>
    ${sheet ? html`<${OpenFile} fields=${sheet.shown.fields} label=${choiceLabel("label_file.sort", "sds")} />` : isProduct && html`<span class="missing">${t("label.none.sds")}</span>`}</div>`;
}
