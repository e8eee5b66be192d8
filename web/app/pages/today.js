// Today: the houses with what this phone knows of their restrictions, and what is to do.
import { useRecords, useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { Houses, HouseTile } from "../ui/house-tile.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { clockTime, dayName } from "../ui/when.js";
import { t } from "../ui/words.js";
import { useSettings } from "./settings-context.js";

const STALE_MS = 30 * 60_000; // heard over 30 minutes ago is stale

/** @param {{ frame: any }} props */
export function TodayPage({ frame }) {
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
          : html`<${Houses}>${(houses ?? []).map((row) => html`<${House} key=${row.id} row=${row} now=${now} />`)}<//>`
      }
      <p class="muted">${t("today.sign_decides")}</p>
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

/** Restrictions are records of their own; until one speaks of this house, the phone knows of none.
 * @param {{ row: import("../sync/port.js").RecordRow, now: number }} props */
function House({ row, now }) {
  const { heard } = useTepal();
  const at = heard.value ? Date.parse(heard.value.server) : null;
  const isStale = at === null || now - at > STALE_MS;
  const heardText = at === null ? t("sync.never") : clockTime(at);
  return html`<${HouseTile} name=${row.shown.fields.name ?? row.shown.fields.code ?? ""} tone=${isStale ? "waiting" : "passed"}
    state=${t(isStale ? "today.unknown" : "today.none_on_file")} lines=${[t("today.heard", { time: heardText })]} isStale=${isStale} />`;
}
