// One trial: what it asks, what is due, how far each assessment is, where the plots stand.
import { useRecord, useTepal } from "../state/context.js";
import { measuredPlots, plannedOf } from "../state/measure.js";
import { isLate, wantsWork } from "../state/trial-due.js";
import { Button, GoButton } from "../ui/buttons.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { Later } from "../ui/later.js";
import { Stake } from "../ui/stake.js";
import { EmptyState, Message, StateChip } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { BenchMap } from "./bench-map.js";
import { may } from "./may.js";
import { useWide } from "./online.js";
import { useSettings } from "./settings-context.js";
import { AgainLists } from "./trial-again.js";
import { PaperLinks } from "./trial-papers.js";
import { PhaseActs } from "./trial-phase.js";
import { Harvests } from "./trial-plan-harvest.js";
import { PottingLinks } from "./trial-potting.js";
import { useProgress } from "./trial-progress.js";
import { ReceivedElsewhere } from "./trial-received.js";
import { useTrialWork } from "./trial-wholeness.js";
import { dueWords, PHASE_TONES, treatmentName } from "./trial-words.js";

/** @param {{ frame: any, id: string }} props */
export function TrialPage({ frame, id }) {
  const tepal = useTepal();
  const row = useRecord("trial", id);
  const { language } = useSettings();
  const isWide = useWide();
  const today = tepal.wall().local.slice(0, 10);
  const work = useTrialWork(today);
  const back = html`<${Button} kind="quiet" icon="back" href="/trials">${t("place.trials")}<//>`;
  if (!row) {
    return frame(
      null,
      html`<${Page} title=${t("kind.trial")} actions=${back}>${row === null && html`<${EmptyState} icon="trial" title=${t("trial.not_here")} />`}<//>`,
    );
  }
  const trial = row.shown.fields;
  const wanted = work.find((one) => one.trial === id && wantsWork(one, today));
  const due = wanted ? /** @type {any} */ (plannedOf(trial, wanted.code)) : null;
  const word = may(tepal.session.value, "registers");
  // on the phone of whoever measures: interim results would tell what to expect
  const isKept = trial.blinded && !isWide && trial.phase === "running";
  const hasLayout = measuredPlots(trial).length > 0;
  const foot =
    due && hasLayout
      ? html`<${FootAct}><${GoButton} href=${addressOf(id, due)}>${t(due.sort === "daily_round" ? "trial.round_now" : "trial.measure_now", { name: due.name ?? due.code })}<//><//>`
      : !hasLayout && word === "yes"
        ? html`<${FootAct}><${GoButton} href=${`/trials/${id}/plan`}>${t("trial.go_on")}<//><//>`
        : word === "yes" && !trial.order && !trial.elsewhere && (trial.phase ?? "planned") === "planned"
          ? html`<${FootAct}><${GoButton} href=${`/trials/${id}/orders`}>${t("trial_day.open")}<//><//>`
          : null;
  return frame(
    foot,
    html`<${Page} title=${trial.title ?? trial.code ?? t("kind.trial")} actions=${back}
      under=${html`<${Stake} code=${String(trial.code ?? "–")} tone="passed" /> <${StateChip} tone=${PHASE_TONES[trial.phase] ?? "plain"}>${t(`choice.trial.phase.${trial.phase ?? "planned"}`)}<//>
        ${trial.day_zero_on && html` <span>${t("trial.day_zero", { day: shortDay(trial.day_zero_on, language.value) })}</span>`}`}>
      ${row.pending.length > 0 && html`<div><${StateChip} tone="waiting" icon="phone">${t("office.state.only_here")}<//></div>`}
      <${PottingLinks} id=${id} trial=${trial} />
      ${trial.elsewhere && html`<${Message} tone="plain" icon="share" title=${t("across.elsewhere")}><p>${t("across.elsewhere_why", { place: trial.elsewhere })}</p><//>`}
      ${trial.question && html`<p class="said">${trial.question}</p>`}
      ${trial.treated_how === "shared_pass" && html`<${Message} tone="plain" title=${t("trial.shared_pass")} />`}
      <${Later}><${Assessments} id=${id} trial=${trial} today=${today} work=${work} />
      <${Later}><${AgainLists} id=${id} trial=${trial} today=${today} />
      <section class="stack"><h2>${t("trial.treatments")}</h2>${trial.blinded && !isWide ? html`<p class="muted">${t("trial.blinded")}</p>` : html`<${Treatments} trial=${trial} />`}</section>
      ${trial.elsewhere && html`<${ReceivedElsewhere} id=${id} />`}
      ${
        hasLayout &&
        html`<section class="stack"><h2>${t("trial.map")}</h2><${BenchMap} trial=${trial} isBlinded=${trial.blinded && !isWide} />
        <p class="muted small">${t("trial.seed", { seed: trial.seed ?? "–", algorithm: trial.algorithm ?? "" })}${trial.randomised_why ? ` · ${trial.randomised_why}` : ""}</p></section>`
      }
      <${Harvests} trial=${trial} />
      ${hasLayout && html`<${PaperLinks} id=${id} trial=${trial} />`}
      <section class="stack acts"><h2>${t("trial.more")}</h2><div class="row">
        ${hasLayout && !isKept && html`<${Button} icon="trial" href=${`/trials/${id}/analysis`}>${t("analysis.open")}<//>`}
        ${hasLayout && html`<${Button} icon="list" href=${`/trials/${id}/values`}>${t("trial.values")}<//>`}
        ${word !== "no" && hasLayout && !trial.elsewhere && html`<${Button} icon="sprayer" href=${`/trials/${id}/orders`}>${t("trial_day.open")}<//>`}
        ${word === "yes" && html`<${Button} icon="pencil" href=${`/trials/${id}/plan`}>${t("trial.plan")}<//>`}
        ${word === "yes" && hasLayout && html`<${Button} icon="share" href=${`/trials/${id}/import`}>${t("trial.import_values")}<//>`}
        ${word === "yes" && hasLayout && !trial.elsewhere && html`<${Button} icon="lot" href=${`/trials/${id}/potting`}>${t("potting.open")}<//>`}
        ${!isKept && html`<${Button} icon="share" href=${tepal.api.url(`/trials/${id}/file`)}>${t("trial.file")}<//>`}
      </div><${PhaseActs} row=${row} /></section>
      ${trial.demo_notes && !isKept && html`<${Message} tone="plain" title=${t("field.demo_notes")}><p>${trial.demo_notes}</p><//>`}<//><//>
    <//>`,
  );
}

/** @param {string} id @param {any} planned */
const addressOf = (id, planned) =>
  planned.sort === "daily_round"
    ? `/trials/${id}/round/${encodeURIComponent(planned.code)}`
    : `/trials/${id}/measure/${encodeURIComponent(planned.code)}`;

/** @param {{ id: string, trial: any, today: string, work: import("../state/trial-due.js").Work[] }} props */
function Assessments({ id, trial, today, work }) {
  const { language } = useSettings();
  const progress = useProgress(id, trial);
  return html`<section class="stack"><h2>${t("trial.assessments")}</h2>
    <ul class="list">${(trial.assessments ?? []).map((/** @type {any} */ one) => {
      const at = progress[one.code];
      const isWhole = at !== undefined && at.n === at.total;
      const late = work.some((it) => it.trial === id && it.code === one.code && isLate(it));
      const when = isWhole && one.sort !== "daily_round" ? "" : dueWords(trial, one, today, language.value);
      return html`<li key=${one.code}><a class="list-row" href=${addressOf(id, one)}><span class="choice-text">
        <b>${one.name ?? one.code}</b><span class="choice-detail">${[when, namesOf(trial, one)].filter(Boolean).join(" · ")}</span>
        ${late && html`<span><${StateChip} tone="caution" icon="calendar">${t("trial.late_now")}<//></span>`}
        ${at && html`<span>${html`<${StateChip} tone=${isWhole ? "passed" : at.n > 0 ? "waiting" : "plain"}>${t(one.sort === "daily_round" ? "trial.opened" : "trial.plots_done", at)}<//>`}</span>`}</span><${Icon} name="forward" /></a></li>`;
    })}</ul></section>`;
}

/** @param {any} trial @param {any} planned */
const namesOf = (trial, planned) =>
  (planned.measurements ?? [])
    .map(
      (/** @type {string} */ code) =>
        trial.measurements?.find((/** @type {any} */ one) => one.code === code)?.name ?? code,
    )
    .join(", ");

/** @param {{ trial: any }} props */
function Treatments({ trial }) {
  return html`<ul class="list">${(trial.treatments ?? []).map(
    (
      /** @type {any} */ one,
    ) => html`<li class="list-row" key=${one.number}><span class="choice-text"><b>${treatmentName(one)}</b>
      <span class="choice-detail">${[one.role && t(`choice.trial.treatments.role.${one.role}`), one.number === trial.control && t("trial.is_control")].filter(Boolean).join(" · ")}</span></span></li>`,
  )}</ul>`;
}
