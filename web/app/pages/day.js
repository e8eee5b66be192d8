// The day in the office: houses through the day, what was applied, what needs somebody, and the phones. It follows the
// exchange, which asks every ten seconds while the page is visible; the phones are asked for again when the office was heard.
import { useRecords, useTepal } from "../state/context.js";
import { appliedOn, blocksOf, missingFields } from "../state/day.js";
import { Amount } from "../ui/amounts.js";
import { Button, GoButton } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { DayLanes } from "../ui/lanes.js";
import { EmptyState, StateChip } from "../ui/state.js";
import { dayAt, dayName, midnightBefore } from "../ui/when.js";
import { t } from "../ui/words.js";
import { useFieldsOf } from "./applications.js";
import { appliedOf, inConflict, Place, placesOf, RecordState, timesOf } from "./applied.js";
import { Begun, useBegun } from "./begun.js";
import { useBoard } from "./board.js";
import { DayArrivals } from "./day-arrivals.js";
import { NeedsYou } from "./day-needs.js";
import { DayPhones } from "./day-phones.js";
import { useEstablishment, useWrittenNumbers } from "./establishment.js";
import { may } from "./may.js";
import { orderTitle, useOrders } from "./order-words.js";
import { useNames } from "./record-words.js";
import { houseText } from "./restriction-words.js";
import { useSettings } from "./settings-context.js";

/** @param {{ frame: any }} props */
export function DayPage({ frame }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const board = useBoard();
  const orders = useOrders() ?? [];
  const applications = useRecords("application") ?? [];
  const today = dayAt(tepal.serverNowMs());
  const word = may(tepal.session.value, "registers");
  const begun = useBegun();
  const plan = word === "yes" || word === "password";
  return frame(
    null,
    html`<${Page} title=${dayName(tepal.serverNowMs(), language.value)} under=${t("day.under", { name: tepal.session.value?.member?.name ?? "" })}
      actions=${html`<div class="head-act"><${GoButton} href=${plan ? "/orders/new" : "/apply"}>${t(plan ? "order.plan" : "today.apply")}<//></div>`}>
      ${begun && html`<${Begun} begun=${begun} isNext=${false} />`}
      <section class="card" aria-labelledby="strip"><h2 id="strip">${t("day.strip")}</h2>
        ${board !== null && board.houses.length === 0 ? html`<${EmptyState} icon="house" title=${t("today.no_houses")}><${Button} href="/houses">${t("place.houses")}<//><//>` : html`<${Strip} board=${board} orders=${orders} />`}
        <p class="muted small">${t("today.sign_decides")}</p></section>
      <div class="day-columns">
        <div class="stack-5">
          <section class="stack" aria-labelledby="applied"><h2 id="applied">${t("day.applied")}</h2><${AppliedToday} rows=${appliedOn(applications, today)} /></section>
          <section class="stack" aria-labelledby="arrivals"><h2 id="arrivals">${t("arrivals.title")}</h2><${DayArrivals} /></section>
          <section class="stack" aria-labelledby="phones"><h2 id="phones">${t("people.phones")}</h2><${DayPhones} /></section>
        </div>
        <section class="stack" aria-labelledby="needs"><h2 id="needs">${t("place.decide")}</h2><${NeedsYou} board=${board} orders=${orders} today=${today} /></section>
      </div>
    <//>`,
  );
}

/** @param {{ board: ReturnType<typeof useBoard>, orders: any[] }} props */
function Strip({ board, orders }) {
  const { language } = useSettings();
  const applications = useRecords("application") ?? [];
  const restrictions = useRecords("restriction") ?? [];
  const benches = useRecords("bench") ?? [];
  const nameOf = useNames();
  if (board === null) return null;
  const { nowMs } = board.clock;
  const dayStartMs = midnightBefore(nowMs);
  const lanes = board.houses.map(({ row, name, state }) => {
    const text = houseText(state, board.clock, language.value, board.operatorOf, name);
    const own = new Set(benches.filter((one) => one.shown.fields.house === row?.id).map((one) => one.id));
    return {
      name,
      state: html`<${StateChip} tone=${text.tone} icon=${text.tone === "passed" ? "note" : undefined}>${[text.word, text.lines[0]].filter(Boolean).join(" · ")}<//>`,
      blocks: row
        ? blocksOf({
            house: row.id,
            applications,
            restrictions,
            orders,
            benches: own,
            today: dayAt(nowMs),
            dayStartMs,
            nowMs,
            label: (hours) => (hours ? t("day.hours_after", { hours }) : t("board.rei_unknown")),
            titleOf: (fields) => orderTitle(fields, nameOf),
          })
        : [],
    };
  });
  return html`<${DayLanes} lanes=${lanes} nowHour=${(nowMs - dayStartMs) / 3_600_000} />`;
}

/** @param {{ rows: import("../sync/port.js").RecordRow[] }} props */
function AppliedToday({ rows }) {
  const fieldsOf = useFieldsOf();
  const numberFormat = useWrittenNumbers();
  const establishment = useEstablishment();
  const conflicts = inConflict(useRecords("conflict"));
  if (rows.length === 0) return html`<p class="muted">${t("day.none_applied")}</p>`;
  return html`<div class="table-frame"><table class="table day-applied">
    <thead><tr><th>${t("office.column.times")}</th><th>${t("office.column.where")}</th><th>${t("office.column.mix")}</th>
      <th class="num">${t("office.column.volume")}</th><th>${t("office.column.record")}</th></tr></thead>
    <tbody>${rows.map((row) => {
      const applied = appliedOf(row);
      const { fields } = applied;
      const missing = applied.state === "signed" ? missingFields(fields, establishment) : [];
      return html`<tr key=${row.id} class="act-row">
        <td><a class="cell-link q" href=${`/applications/${row.id}`}>${timesOf(fields)}</a></td>
        <td><div class="stack-1">${placesOf(fields.lines ?? [], fieldsOf).map((place) => html`<${Place} place=${place} />`)}</div></td>
        <td>${fields.mix_name}<span class="choice-detail">${fields.operator_name}</span></td><td class="num"><${Amount} stored=${fields.volume} numberFormat=${numberFormat} /></td>
        <td><${RecordState} applied=${applied} hasConflict=${conflicts.has(row.id)} />
          ${missing.length > 0 && html`<${StateChip} tone="caution">${t("day.n_missing", { n: missing.length })}<//>`}</td></tr>`;
    })}</tbody></table></div>`;
}
