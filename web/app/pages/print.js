// Every paper from one place: the month, doors, lots, the plan of the day, single applications. The office makes them.
import { useSignal } from "@preact/signals";
import { useRecords, useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { monthName } from "../ui/when.js";
import { t } from "../ui/words.js";
import { dayOf, timesOf } from "./applied.js";
import { useOnline } from "./online.js";
import { MonthStanding } from "./print-standing.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

const MOST_APPLICATIONS = 12;
const LANGUAGES = ["en", "es"];

/** Who prints what of a period, as the office judges it: the lower of person and device. @param {any} session */
function rightsOf(session) {
  const roles = [session?.member?.role, session?.device?.ceiling];
  if (roles.includes("display")) return "none";
  if (roles.includes("technician")) return "trials";
  return roles.includes("operator") ? "own" : "all";
}

/** @param {{ frame: any }} props */
export function PrintPage({ frame }) {
  const tepal = useTepal();
  const settings = useSettings();
  const language = useSignal(settings.language.value);
  const rights = rightsOf(tepal.session.value);
  const online = useOnline(`/applications?month=${tepal.wall().local.slice(0, 7)}`);
  const url = (/** @type {string} */ path, /** @type {Record<string, string>} */ query = {}) =>
    tepal.api.url(`${path}?${new URLSearchParams({ ...query, language: language.value })}`);
  return frame(
    null,
    html`<${Page} title=${t("print.title")} under=${t(`print.rights.${rights}`)} isReading=${true}>
      ${
        online.failed &&
        html`<${Message} tone="waiting" icon="offline" title=${t("print.office_needed")} live=${true}>
        <p>${t("print.office_needed_why")}</p><${Button} icon="sync" onPress=${online.again}>${t("office.ask_again")}<//><//>`
      }
      <${Choose} label=${t("print.language")} value=${language.value} onValue=${(
        /** @type {string} */ value,
      ) => {
        language.value = value;
      }} options=${LANGUAGES.map((one) => ({ value: one, label: t(`choice.language.${one}`) }))} />
      ${(rights === "all" || rights === "own") && html`<${Month} url=${url} months=${online.reply?.months ?? []} isOff=${online.failed !== null} />`}
      <${Doors} url=${url} />
      <${Lots} url=${url} />
      <${DayPlan} url=${url} />
      ${(rights === "all" || rights === "own") && html`<${Sheets} url=${url} rights=${rights} />`}
      <section class="stack"><h2>${t("print.elsewhere")}</h2><ul class="list">
        ${[
          ["/mix", "print.mixing"],
          ["/trials", "print.trials"],
        ].map(
          ([href, words]) =>
            html`<li key=${href}><a class="list-row" href=${href}><b>${t(words)}</b></a></li>`,
        )}
      </ul></section>
    <//>`,
  );
}

/** @param {{ label: string, value: string, onValue: (value: string) => void, options: { value: string, label: string }[] }} props */
function Choose({ label, value, onValue, options }) {
  return html`<label class="field"><span class="field-label">${label}</span>
    <select class="input" value=${value} onChange=${(/** @type {any} */ event) => onValue(event.currentTarget.value)}>
      ${options.map((one) => html`<option key=${one.value} value=${one.value} selected=${one.value === value}>${one.label}</option>`)}
    </select></label>`;
}

/** @param {{ href: string, title: string, under?: string }} props */
function Paper({ href, title, under }) {
  return html`<li><a class="list-row" href=${href} target="_blank" rel="noopener">
    <span><b>${title}</b>${under && html`<span class="muted small"> ${under}</span>`}</span></a></li>`;
}

/** @param {RecordRow[] | null} rows */
const live = (rows) => (rows ?? []).filter((row) => row.shown.state !== "void");

/** @param {{ url: any, months: string[], isOff: boolean }} props */
function Month({ url, months, isOff }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const houses = live(useRecords("house"));
  const present = tepal.wall().local.slice(0, 7);
  const all = [...new Set([present, ...months])].sort().reverse();
  const month = useSignal(present);
  const house = useSignal("");
  const pressedAt = useSignal(0);
  const period = { first: `${month.value}-01`, last: lastDay(month.value) };
  const of = /** @type {Record<string, string>} */ (house.value ? { house: house.value } : {});
  return html`<section class="stack"><h2>${t("print.month")}</h2>
    <${Choose} label=${t("office.month")} value=${month.value} onValue=${(/** @type {string} */ value) => {
      month.value = value;
    }} options=${all.map((one) => ({ value: one, label: monthName(one, language.value) }))} />
    <${Choose} label=${t("print.house")} value=${house.value} onValue=${(/** @type {string} */ value) => {
      house.value = value;
    }} options=${[
      { value: "", label: t("print.all_houses") },
      ...houses.map((row) => ({
        value: row.id,
        label: row.shown.fields.name ?? row.shown.fields.code ?? "",
      })),
    ]} />
    ${
      isOff
        ? html`<${GoButton} isOff=${true}>${t("print.month_go")}<//>`
        : html`<div onClick=${() => {
            pressedAt.value = tepal.nowMs();
          }}><${GoButton} href=${url("/reports/month", { month: month.value, ...of })} isNewTab=${true}>${t("print.month_go")}<//></div>`
    }
    <${MonthStanding} pressedAt=${pressedAt.value} />
    <ul class="list">${["csv", "json"].map(
      (form) =>
        html`<${Paper} key=${form} href=${url("/papers/period", { ...period, ...of, form })} title=${t(`print.data.${form}`)} under=${t(`print.data_why.${form}`)} />`,
    )}</ul>
  </section>`;
}

/** @param {string} month */
function lastDay(month) {
  const [year, number] = month.split("-").map(Number);
  return `${month}-${new Date(Date.UTC(year, number, 0)).getUTCDate()}`;
}

/** @param {{ url: any }} props */
function Doors({ url }) {
  const open = live(useRecords("restriction")).filter((row) => !row.shown.fields.reopened_at);
  return html`<section class="stack"><h2>${t("print.doors")}</h2><p class="muted">${t("print.doors_why")}</p>
    ${
      open.length === 0
        ? html`<p>${t("print.no_doors")}</p>`
        : open.map(
            (row) => html`<div class="card" key=${row.id}><b>${row.shown.fields.place ?? ""}</b>
          <span class="muted small">${row.shown.fields.product_names ?? ""}</span>
          <ul class="list">
            <${Paper} href=${url("/papers/door-notice", { restriction: row.id })} title=${t("print.door")} under=${t("print.door_why")} />
            <${Paper} href=${url("/papers/door-notice", { restriction: row.id, form: "tiled" })} title=${t("print.door_tiled")} under=${t("print.door_tiled_why")} />
            <${Paper} href=${url("/papers/entry-log", { restriction: row.id })} title=${t("print.entry_log")} />
          </ul></div>`,
          )
    }</section>`;
}

/** @param {{ url: any }} props */
function Lots({ url }) {
  const lots = live(useRecords("lot")).sort((a, b) =>
    String(a.shown.fields.code).localeCompare(String(b.shown.fields.code)),
  );
  const chosen = useSignal("");
  return html`<section class="stack"><h2>${t("print.lot")}</h2><p class="muted">${t("print.lot_why")}</p>
    <${Choose} label=${t("print.which_lot")} value=${chosen.value} onValue=${(
      /** @type {string} */ value,
    ) => {
      chosen.value = value;
    }} options=${[
      { value: "", label: t("print.choose_lot") },
      ...lots.map((row) => ({
        value: row.id,
        label: [row.shown.fields.code, row.shown.fields.crop, row.shown.fields.cultivar]
          .filter(Boolean)
          .join(" "),
      })),
    ]} />
    ${chosen.value && html`<ul class="list"><${Paper} href=${url("/papers/lot-history", { lot: chosen.value })} title=${t("print.lot_go")} /></ul>`}
  </section>`;
}

/** @param {{ url: any }} props */
function DayPlan({ url }) {
  const tepal = useTepal();
  const day = useSignal(tepal.wall().local.slice(0, 10));
  return html`<section class="stack"><h2>${t("print.plan")}</h2>
    <label class="field"><span class="field-label">${t("print.day")}</span>
      <input class="input" type="date" value=${day.value} onInput=${(/** @type {any} */ event) => {
        day.value = event.currentTarget.value;
      }} /></label>
    ${day.value && html`<ul class="list"><${Paper} href=${url("/papers/day-plan", { day: day.value })} title=${t("print.plan_go")} /></ul>`}
  </section>`;
}

/** @param {{ url: any, rights: string }} props */
function Sheets({ url, rights }) {
  const tepal = useTepal();
  const me = tepal.session.value?.member?.id;
  const rows = (useRecords("application") ?? [])
    .filter((row) => row.confirmed && (rights === "all" || row.shown.fields.operator === me))
    .sort((a, b) =>
      String(b.shown.fields.started_at?.local).localeCompare(String(a.shown.fields.started_at?.local)),
    )
    .slice(0, MOST_APPLICATIONS);
  return html`<section class="stack"><h2>${t("print.sheet")}</h2><p class="muted">${t("print.sheet_why")}</p>
    ${
      rows.length === 0
        ? html`<p>${t("print.no_sheets")}</p>`
        : html`<ul class="list">${rows.map(
            (row) =>
              html`<${Paper} key=${row.id} href=${url("/papers/application", { application: row.id })} title=${`${dayOf(row.shown.fields)} ${timesOf(row.shown.fields)}`} under=${row.shown.fields.mix_name ?? ""} />`,
          )}</ul>`
    }</section>`;
}
