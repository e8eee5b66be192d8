// Today: the houses with what this phone knows of their restrictions, and what is to do.
import { useRecords, useTepal } from "../state/context.js";
import { dueFor, nextStep } from "../state/orders.js";
import { Button, GoButton } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Later } from "../ui/later.js";
import { EmptyState, Message } from "../ui/state.js";
import { dayName } from "../ui/when.js";
import { t } from "../ui/words.js";
import { Begun, useBegun } from "./begun.js";
import { BoardTiles } from "./board.js";
import { DayPage } from "./day.js";
import { HeightsDue } from "./heights-due.js";
import { useWide } from "./online.js";
import { useOrders } from "./order-words.js";
import { useSettings } from "./settings-context.js";
import { ToDo } from "./todo.js";
import { TrialsDue } from "./trials.js";

/** The office sees the whole day; a phone sees what its person has to do. @param {{ frame: any }} props */
export function TodayPage({ frame }) {
  return useWide() ? html`<${DayPage} frame=${frame} />` : html`<${PhoneToday} frame=${frame} />`;
}

/** @param {{ frame: any }} props */
function PhoneToday({ frame }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const houses = useRecords("house");
  const member = tepal.session.value?.member;
  const now = tepal.serverNowMs();
  const begun = useBegun();
  const orders = useOrders();
  const due = dueFor(orders ?? [], member?.id);
  const running = useRunning();
  const isOwn = running.some(({ id }) => id === begun?.record);
  // no step is offered that the next moment would turn into another one
  const isReady = begun !== undefined && orders !== null;
  const next = isReady ? nextStep({ running: isOwn, due, begun }) : null;
  // an order that this phone has begun is no second card
  const open = due.filter(({ row }) => row.id !== begun?.order);
  return frame(
    null,
    html`<${Page} title=${t("today.title")}
      under=${t("today.under", { day: dayName(now, language.value), name: member?.name ?? "" })}
      actions=${next === "fresh" && html`<${GoButton} href="/apply">${t("today.apply")}<//>`}>
      <${Running} rows=${running} own=${begun?.record} />
      ${begun && !isOwn && html`<${Begun} begun=${begun} isNext=${next === "begun"} />`}
      ${open.length > 0 && html`<${ToDo} due=${open} isNext=${next === "order"} />`}
      ${next === "order" && !begun && html`<div><${Button} icon="sprayer" href="/apply">${t("today.apply_else")}<//></div>`}
      <h2>${t("today.houses")}</h2><${Later}>
      ${
        houses !== null && houses.length === 0
          ? html`<${EmptyState} icon="house" title=${t("today.no_houses")}><${Button} href="/houses">${t("place.houses")}<//><//>`
          : html`<${BoardTiles} />`
      }
      <p class="muted">${t("today.sign_decides")}</p>
      <${Later}>${open.length === 0 && html`<${ToDo} due=${open} isNext=${false} />`}<${TrialsDue} /><${HeightsDue} />
      <div><${Button} icon="mix" href="/mix">${t("today.mix")}<//></div><//><//>
    <//>`,
  );
}

/** What is being sprayed, as far as this phone has heard. */
const useRunning = () =>
  (useRecords("application") ?? []).filter(({ shown }) => shown.state === "open" && !shown.fields.ended_at);

/** This phone's own goes on where it was left. @param {{ rows: any[], own: string | null | undefined }} props */
function Running({ rows, own }) {
  return rows.map(
    ({ id, shown }) => html`<${Message} key=${id} tone="caution" icon="sprayer"
      title=${t("today.being_sprayed", { places: placesIn(shown.fields.lines), time: shown.fields.started_at?.local.slice(11, 16) ?? "" })}>
      <p>${shown.fields.mix_name} · ${shown.fields.operator_name}</p>
      ${id === own && html`<${GoButton} href="/apply">${t("apply.continue")}<//>`}
    <//>`,
  );
}

/** @param {any[] | undefined} lines */
const placesIn = (lines) => [...new Set((lines ?? []).map((line) => line.place))].join("; ");
