// Trials: those under way first, with what is due now.
import { useRecords, useTepal } from "../state/context.js";
import { isLate, wantsWork } from "../state/trial-due.js";
import { Button, GoButton } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { Named } from "../ui/stake.js";
import { EmptyState, StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";
import { may } from "./may.js";
import { useSettings } from "./settings-context.js";
import { useTrialWork } from "./trial-wholeness.js";
import { PHASE_TONES, workWords } from "./trial-words.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {import("../state/trial-due.js").Work} Work */

const ORDER = ["running", "planned", "finished", "closed"];

/** @param {{ frame: any }} props */
export function TrialsPage({ frame }) {
  const { session, wall } = useTepal();
  const rows = useRecords("trial");
  const today = wall().local.slice(0, 10);
  const work = useTrialWork(today).filter((one) => wantsWork(one, today));
  const word = may(session.value, "registers");
  const sorted = (rows ?? [])
    .filter((row) => row.shown.state !== "void")
    .sort(
      (a, b) =>
        ORDER.indexOf(a.shown.fields.phase) - ORDER.indexOf(b.shown.fields.phase) ||
        String(b.shown.fields.code).localeCompare(String(a.shown.fields.code)),
    );
  return frame(
    null,
    html`<${Page} title=${t("place.trials")}
      actions=${word !== "no" && html`<div class="head-act"><${GoButton} href="/trials/new">${t("trial.plan_new")}<//></div>`}>
      ${rows !== null && sorted.length === 0 && html`<${EmptyState} icon="trial" title=${t("trial.none")}><p>${t("trial.none_why")}</p><//>`}
      <ul class="list">${sorted.map((row) => html`<${TrialRow} key=${row.id} row=${row} work=${work} />`)}</ul>
      <div class="row"><${Button} icon="list" href="/trials/across">${t("across.open")}<//>${word === "yes" && html`<${Button} icon="share" href="/trials/import">${t("trial.import")}<//>`}</div>
    <//>`,
  );
}

/** @param {{ row: RecordRow, work: Work[] }} props */
function TrialRow({ row, work }) {
  const { fields } = row.shown;
  const { language } = useSettings();
  const open = work.filter((one) => one.trial === row.id);
  return html`<li><a class="list-row" href=${`/trials/${row.id}`}><span class="choice-text">
      <${Named} code=${String(fields.code ?? "–")} name=${String(fields.title ?? "")} />
      ${open.map((one) =>
        isLate(one)
          ? html`<span key=${one.code}><${StateChip} tone="caution" icon="calendar">${t("trial.late", { name: one.name })}<//></span>
            <span key=${`${one.code} why`} class="choice-detail">${workWords(one, language.value)}</span>`
          : html`<span key=${one.code} class="choice-detail">${one.name}: ${workWords(one, language.value)}</span>`,
      )}
      <span><${StateChip} tone=${PHASE_TONES[fields.phase] ?? "plain"}>${t(`choice.trial.phase.${fields.phase ?? "planned"}`)}<//>
      ${fields.elsewhere && html` <${StateChip} tone="plain" icon="share">${t("across.from", { place: fields.elsewhere })}<//>`}</span></span><${Icon} name="forward" /></a></li>`;
}

/** The trials with something due or late, for the page of the day; nothing where nothing is. */
export function TrialsDue() {
  const tepal = useTepal();
  const today = tepal.wall().local.slice(0, 10);
  const work = useTrialWork(today).filter((one) => wantsWork(one, today));
  const rows = (useRecords("trial") ?? []).filter((row) => work.some((one) => one.trial === row.id));
  if (rows.length === 0) return null;
  return html`<section class="stack"><h2>${t("trial.due_now")}</h2>
    <ul class="list">${rows.map((row) => html`<${TrialRow} key=${row.id} row=${row} work=${work} />`)}</ul></section>`;
}
