// Today: the houses with what this phone knows of their restrictions, and what is to do.
import { useRecords, useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { dayName } from "../ui/when.js";
import { t } from "../ui/words.js";
import { BoardTiles } from "./board.js";
import { DayPage } from "./day.js";
import { useWide } from "./online.js";
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
  return frame(
    null,
    html`<${Page} title=${t("today.title")}
      under=${t("today.under", { day: dayName(now, language.value), name: member?.name ?? "" })}
      actions=${html`<${GoButton} href="/apply">${t("today.apply")}<//>`}>
      <${Running} />
      <h2>${t("today.houses")}</h2>
      ${
        houses !== null && houses.length === 0
          ? html`<${EmptyState} icon="house" title=${t("today.no_houses")}><${Button} href="/houses">${t("place.houses")}<//><//>`
          : html`<${BoardTiles} />`
      }
      <p class="muted">${t("today.sign_decides")}</p>
      <${ToDo} /><${TrialsDue} />
      <div><${Button} icon="mix" href="/mix">${t("today.mix")}<//></div>
    <//>`,
  );
}

/** What is being sprayed, as far as this phone has heard; this phone's own goes on where it was left. */
function Running() {
  const me = useTepal().session.value?.member?.id;
  const applications = useRecords("application") ?? [];
  const running = applications.filter(({ shown }) => shown.state === "open" && !shown.fields.ended_at);
  return running.map(
    ({ id, shown }) => html`<${Message} key=${id} tone="caution" icon="sprayer"
      title=${t("today.being_sprayed", { places: placesIn(shown.fields.lines), time: shown.fields.started_at?.local.slice(11, 16) ?? "" })}>
      <p>${shown.fields.mix_name} · ${shown.fields.operator_name}</p>
      ${shown.fields.operator === me && html`<${Button} href="/apply">${t("apply.continue")}<//>`}
    <//>`,
  );
}

/** @param {any[] | undefined} lines */
const placesIn = (lines) => [...new Set((lines ?? []).map((line) => line.place))].join("; ");
