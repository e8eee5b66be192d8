// The calendar: orders and trial work on their days, what was applied, and until when a restriction counts; by month or week. A phone reads
// it as a list of days. Below it the addresses under which a calendar program reads the orders.
import { useLocation } from "preact-iso";
import { addDays, dayNumber } from "../core/moments.js";
import { useRecords, useTepal } from "../state/context.js";
import { msOf } from "../state/moments.js";
import { isLate } from "../state/trial-due.js";
import { Button, GoButton } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { EmptyState } from "../ui/state.js";
import { clockTime, dayName, monthName, shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { CalendarAddresses } from "./calendar-addresses.js";
import { may } from "./may.js";
import { useWide } from "./online.js";
import { orderTitle, useOrders } from "./order-words.js";
import { useNames } from "./record-words.js";
import { useSettings } from "./settings-context.js";
import { useTrialWork } from "./trial-wholeness.js";

/** @typedef {{key: string, day: string, href: string, tone: string, icon: import("../ui/icons.js").IconName, text: string, order: string}} Item */

/** @typedef {import("../state/trial-due.js").Work} Work */

/** Monday is 0. @param {string} day */
const weekday = (day) => (((dayNumber(day) + 3) % 7) + 7) % 7;

/** The days shown. @param {"month" | "week"} view @param {string} day */
function daysOf(view, day) {
  const first = view === "week" ? day : `${day.slice(0, 7)}-01`;
  const start = addDays(first, -weekday(first));
  if (view === "week") return Array.from({ length: 7 }, (_, i) => addDays(start, i));
  const days = Array.from({ length: 42 }, (_, i) => addDays(start, i));
  const last = days.findLastIndex((one) => one.slice(0, 7) === day.slice(0, 7));
  return days.slice(0, (Math.floor(last / 7) + 1) * 7);
}

/** @param {{ frame: any, query: Record<string, string> }} props */
export function CalendarPage({ frame, query }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const { route } = useLocation();
  const isWide = useWide();
  const today = tepal.wall().local.slice(0, 10);
  // a phone reads a list of days: a month of it would begin weeks before today
  const view = (query.view ?? (isWide ? "month" : "week")) === "week" ? "week" : "month";
  const day = /^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$/.test(query.day ?? "") ? query.day : today;
  const days = daysOf(view, day);
  const items = useItems(days, today);
  const word = may(tepal.session.value, "registers");
  const go = (/** @type {string} */ to, /** @type {string} */ how = view) =>
    route(`/calendar?view=${how}&day=${to}`, true);
  const step = view === "week" ? 7 : 31;
  const before = view === "week" ? addDays(day, -7) : addDays(`${day.slice(0, 7)}-01`, -1);
  const after = view === "week" ? addDays(day, step) : addDays(`${day.slice(0, 7)}-28`, 4);
  const title =
    view === "week"
      ? t("calendar.week_of", { day: shortDay(days[0], language.value) })
      : monthName(day.slice(0, 7), language.value);
  return frame(
    null,
    html`<${Page} title=${t("calendar.title")} under=${title}
      actions=${word !== "no" && html`<div class="head-act"><${GoButton} href="/orders/new">${t(word === "ask" ? "order.propose" : "order.plan")}<//></div>`}>
      <div class="row">
        <${Button} icon="back" onPress=${() => go(before)}>${t("calendar.earlier")}<//>
        <${Button} onPress=${() => go(today)}>${t("place.today")}<//>
        <${Button} icon="forward" onPress=${() => go(after)}>${t("calendar.later")}<//>
        <${Button} onPress=${() => go(day, view === "week" ? "month" : "week")}>${t(view === "week" ? "calendar.month" : "calendar.week")}<//>
      </div>
      ${isWide ? html`<${Grid} days=${days} items=${items} today=${today} month=${view === "month" ? day.slice(0, 7) : null} />` : html`<${DayList} days=${days} items=${items} today=${today} />`}
      ${word !== "no" && word !== "ask" && html`<${CalendarAddresses} />`}
    <//>`,
  );
}

/** @param {{ days: string[], items: Map<string, Item[]>, today: string, month: string | null }} props */
function Grid({ days, items, today, month }) {
  const { language } = useSettings();
  const heads = days
    .slice(0, 7)
    .map((day) => dayName(Date.parse(`${day}T12:00:00Z`), language.value, "UTC").split(/[ ,]/)[0]);
  const weeks = Array.from({ length: days.length / 7 }, (_, i) => days.slice(i * 7, i * 7 + 7));
  return html`<div class="table-frame"><table class="calendar"><thead><tr>${heads.map((head) => html`<th key=${head} scope="col">${head}</th>`)}</tr></thead>
    <tbody>${weeks.map(
      (week) =>
        html`<tr key=${week[0]}>${week.map(
          (
            day,
          ) => html`<td key=${day} class=${`${day === today ? "is-today" : ""}${month && day.slice(0, 7) !== month ? " is-other" : ""}`}>
          <span class="calendar-day">${Number(day.slice(8))}${day === today && html` <span class="small">${t("place.today")}</span>`}</span>
          ${(items.get(day) ?? []).map((item) => html`<${Entry} key=${item.key} item=${item} />`)}</td>`,
        )}</tr>`,
    )}</tbody></table></div>`;
}

/** @param {{ days: string[], items: Map<string, Item[]>, today: string }} props */
function DayList({ days, items, today }) {
  const { language } = useSettings();
  const full = days.filter((day) => (items.get(day) ?? []).length > 0);
  if (full.length === 0) return html`<${EmptyState} icon="calendar" title=${t("calendar.nothing")} />`;
  return full.map(
    (
      day,
    ) => html`<section class="day" key=${day}><h2>${dayName(Date.parse(`${day}T12:00:00Z`), language.value, "UTC")}${day === today ? ` · ${t("place.today")}` : ""}</h2>
      ${(items.get(day) ?? []).map((item) => html`<${Entry} key=${item.key} item=${item} />`)}</section>`,
  );
}

/** @param {{ item: Item }} props */
function Entry({ item }) {
  return html`<a class=${`calendar-item ${item.tone}`} href=${item.href}><${Icon} name=${item.icon} /><span>${item.text}</span></a>`;
}

/** What stands on each day. @param {string[]} days @param {string} today @returns {Map<string, Item[]>} */
function useItems(days, today) {
  const nameOf = useNames();
  const orders = useOrders() ?? [];
  const applications = (useRecords("application") ?? []).filter((row) => row.shown.state !== "void");
  const restrictions = (useRecords("restriction") ?? []).filter((row) => row.shown.state !== "void");
  /** @type {Item[]} */
  const items = [];
  for (const { row, state } of orders) {
    const { fields } = row.shown;
    if (state === "cancelled" || state === "done" || state === "running") continue;
    for (const day of spanOf(fields.window_from, fields.window_to, days)) {
      items.push({
        key: `${row.id}${day}`,
        day,
        href: `/orders/${row.id}`,
        tone: state === "skipped" ? "plain" : state === "late" ? "stopped" : "waiting",
        icon: "calendar",
        text: [
          fields.from_time,
          orderTitle(fields, nameOf),
          state === "skipped" ? t("order.state.skipped") : "",
        ]
          .filter(Boolean)
          .join(" "),
        order: `1${fields.from_time ?? ""}`,
      });
    }
  }
  for (const { id, shown } of applications) {
    const at = shown.fields.started_at?.local;
    if (!at) continue;
    items.push({
      key: id,
      day: at.slice(0, 10),
      href: `/applications/${id}`,
      tone: "passed",
      icon: "sprayer",
      text: `${at.slice(11, 16)} ${shown.fields.mix_name ?? ""}`,
      order: `0${at.slice(11, 16)}`,
    });
  }
  for (const { id, shown } of restrictions) {
    const ended = msOf(shown.fields.ended_at);
    if (ended === null || !shown.fields.rei || shown.fields.reopened_at) continue;
    const until = ended + Number(shown.fields.rei.value) * 3_600_000;
    const local = new Date(until + shown.fields.ended_at.offset_min * 60_000).toISOString();
    items.push({
      key: `${id}until`,
      day: local.slice(0, 10),
      href: `/restrictions/${id}`,
      tone: "stopped",
      icon: "stop",
      text: t("calendar.until", { time: clockTime(until), place: shown.fields.place ?? "" }),
      order: `2${local.slice(11, 16)}`,
    });
  }
  for (const work of useTrialWork(today)) {
    for (const day of workDays(work, days, today))
      items.push({
        key: `${work.trial}${work.code}${day}`,
        day,
        href: `/trials/${work.trial}`,
        tone: toneOf(work, day, today),
        icon: "trial",
        text: t("calendar.trial", { trial: work.trialCode, name: work.name }),
        order: "3",
      });
  }
  /** @type {Map<string, Item[]>} */
  const byDay = new Map();
  for (const item of items.sort((a, b) => a.order.localeCompare(b.order)))
    byDay.set(item.day, [...(byDay.get(item.day) ?? []), item]);
  return byDay;
}

/** The days of a window that are shown. @param {string | undefined} from @param {string | undefined} to @param {string[]} days */
function spanOf(from, to, days) {
  const first = from ?? to;
  const last = to ?? from;
  if (!first || !last) return [];
  return days.filter((day) => day >= first && day <= last);
}

/**
 * The days on which trial work stands: its own day, and today while it is open. A daily round stands on each day that is
 * still to come.
 * @param {Work} work @param {string[]} days @param {string} today
 */
function workDays(work, days, today) {
  const isOpen = work.state === "due" || isLate(work);
  return days.filter((day) =>
    work.sort === "daily_round"
      ? day >= work.from && day <= work.to && day >= today
      : day === work.on || (isOpen && day === today),
  );
}

/** @param {Work} work @param {string} day @param {string} today */
function toneOf(work, day, today) {
  if (isLate(work)) return "stopped";
  const isDone = work.state === "begun" || work.state === "done";
  return isDone && (work.sort !== "daily_round" || day === today) ? "passed" : "waiting";
}
