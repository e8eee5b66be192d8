// Across trials: what each treatment did to a crop here before, and one question of it whole.
import { useSignal } from "@preact/signals";
import { Button } from "../ui/buttons.js";
import { Chart } from "../ui/chart.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { EmptyState, Message, StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";
import { useAcross } from "./across-online.js";
import { ResultTable } from "./analysis-cell.js";
import { failureText } from "./device.js";
import { useKeptOnline } from "./kept-online.js";
import { useSettings } from "./settings-context.js";
import { RefSelect } from "./trial-plan-what.js";

/** @typedef {import("../state/across.js").Question} Question */
/** @typedef {import("../state/across.js").Named} Named */

/** @type {Record<string, import("../ui/state.js").Tone>} */
const TONES = {
  lower: "passed",
  higher: "passed",
  not_shown: "plain",
  disagree: "caution",
  nothing: "plain",
};

const ALL = "-";
/** @param {{ frame: any }} props */
export function AcrossPage({ frame }) {
  const online = useAcross();
  const crop = useSignal(ALL);
  const measurement = useSignal(ALL);
  const comparator = useSignal(ALL);
  const found = online.reply;
  const questions = /** @type {Question[]} */ (found?.questions ?? []);
  const shown = questions.filter(
    (one) =>
      [ALL, one.crop].includes(crop.value) &&
      [ALL, one.measurement].includes(measurement.value) &&
      [ALL, one.comparator].includes(comparator.value),
  );
  const waiting = /** @type {Named[]} */ (online.isKept ? [] : (found?.waiting ?? []));
  return frame(
    null,
    html`<${Page} title=${t("across.title")} under=${t("across.under")} isReading=${true}
      actions=${html`<${Button} kind="quiet" icon="back" href="/trials">${t("place.trials")}<//>`}>
      <p>${t("across.why")}</p>
      <${NotReached} online=${online} />
      ${online.isAsking && html`<p class="muted" role="status">${t("office.asking")}</p>`}
      ${waiting.length > 0 && html`<p class="muted" role="status">${t("across.computing", { n: waiting.length, codes: waiting.map((one) => one.code).join(", ") })}</p>`}
      ${found && questions.length === 0 && waiting.length === 0 && html`<${EmptyState} icon="trial" title=${t("across.none")}><p>${t("across.none_why")}</p><//>`}
      ${
        questions.length > 0 &&
        html`<div class="row">
        <${Pick} label=${t("across.crop")} all=${t("across.all_crops")} chosen=${crop} values=${questions.map((one) => one.crop)} />
        <${Pick} label=${t("across.measurement")} all=${t("across.all_measurements")} chosen=${measurement} values=${questions.map((one) => one.measurement)} />
        <${Pick} label=${t("across.against")} all=${t("across.all_comparators")} chosen=${comparator} values=${questions.map((one) => one.comparator)} /></div>`
      }
      ${questions.length > 0 && shown.length === 0 && html`<${Message} tone="plain" title=${t("across.none_for")} />`}
      ${groupsOf(shown).map(({ crop, doses }) => html`<section class="stack" key=${crop}><h2>${crop}</h2>${doses.map(({ dose, rows }) => html`<${Dose} key=${dose} dose=${dose} rows=${rows} />`)}</section>`)}
      <${Silent} silent=${found?.silent ?? []} />
      ${questions.length > 0 && html`<p class="muted small">${t("across.same")}</p>`}
    <//>`,
  );
}

/** @param {{ online: any }} props */
function NotReached({ online }) {
  if (!online.failed) return null;
  return html`<${Message} tone="waiting" icon="offline" title=${t(online.isKept ? "across.kept" : "across.not_reached")} live=${true}>
    <p>${failureText(online.failed)}</p><${Button} icon="sync" onPress=${online.again}>${t("office.ask_again")}<//><//>`;
}

/** @param {{ label: string, all: string, chosen: import("@preact/signals").Signal<string>, values: string[] }} props */
function Pick({ label, all, chosen, values }) {
  const options = [...new Set(values)].map((one) => ({ value: one, label: one }));
  return html`<${RefSelect} label=${label} value=${chosen.value} options=${[{ value: ALL, label: all }, ...options]} onValue=${(
    /** @type {string} */ value,
  ) => {
    chosen.value = value;
  }} />`;
}

/** Questions in the office's order, by crop and by what was put on. @param {Question[]} questions */
function groupsOf(questions) {
  /** @type {Map<string, Map<string, Question[]>>} */
  const crops = new Map();
  for (const one of questions) {
    const doses = crops.get(one.crop) ?? new Map();
    crops.set(one.crop, doses.set(one.dose, [...(doses.get(one.dose) ?? []), one]));
  }
  return [...crops].map(([crop, doses]) => ({
    crop,
    doses: [...doses].map(([dose, rows]) => ({ dose, rows })),
  }));
}

/** @param {{ dose: string, rows: Question[] }} props */
function Dose({ dose, rows }) {
  return html`<h3>${dose}</h3><ul class="list">${rows.map(
    (
      one,
    ) => html`<li key=${one.key}><a class="list-row" href=${`/trials/across/${one.key}`}><span class="choice-text">
      <b>${one.short}</b><span class="choice-detail">${one.facts}</span>
      <span class="row"><${StateChip} tone=${TONES[one.state] ?? "plain"}>${t(`across.state.${one.state}`)}<//>
        ${one.n_elsewhere > 0 && html`<${StateChip} tone="plain" icon="share">${t("across.n_elsewhere", { n: one.n_elsewhere })}<//>`}</span></span><${Icon} name="forward" /></a></li>`,
  )}</ul>`;
}

/** @param {{ silent: Named[] }} props */
function Silent({ silent }) {
  if (silent.length === 0) return null;
  return html`<details class="stack"><summary class="list-row">${t("across.silent")}</summary><ul class="list">${silent.map(
    (one) =>
      html`<li key=${one.id}><a class="list-row" href=${`/trials/${one.id}`}><span class="choice-text"><b>${one.code} ${one.title}</b><span class="choice-detail">${t(`across.silent.${one.why}`)}</span></span><${Icon} name="forward" /></a></li>`,
  )}</ul></details>`;
}

/** @param {{ frame: any, id: string }} props */
export function AcrossQuestionPage({ frame, id }) {
  const { language } = useSettings();
  const online = useKeptOnline(
    `/trials/across/question?key=${encodeURIComponent(id)}&language=${language.value}`,
  );
  const view = online.reply;
  return frame(
    null,
    html`<${Page} title=${view ? `${view.crop}: ${view.dose}` : t("across.title")} under=${view && `${view.measurement} · ${view.facts}`}
      actions=${html`<${Button} kind="quiet" icon="back" href="/trials/across">${t("across.title")}<//>`}>
      <${NotReached} online=${online} />
      ${online.isAsking && html`<p class="muted" role="status">${t("office.asking")}</p>`}
      ${view && html`<${Whole} view=${view} />`}
    <//>`,
  );
}

/** @param {{ view: any }} props */
function Whole({ view }) {
  return html`<div class="result-words">${view.sentences.map((/** @type {string} */ line) => html`<p key=${line}>${line}</p>`)}</div>
    <${Message} tone="caution" title=${view.caution} />
    <${ResultTable} table=${view.table} />
    ${view.n > 0 && html`<div class="charts"><${Chart} chart=${view.chart} /></div>`}
    <section class="stack"><h2>${t("across.how")}</h2><ul class="trust-notes">${view.notes.map((/** @type {string} */ note) => html`<li key=${note}>${note}</li>`)}</ul></section>
    <section class="stack"><h2>${t("across.trials")}</h2><ul class="list">${view.trials.map(
      (/** @type {Named} */ one) =>
        html`<li key=${one.id}><a class="list-row" href=${`/trials/${one.id}`}><span class="choice-text"><b>${one.code} ${one.title}</b>
          ${one.elsewhere && html`<span><${StateChip} tone="plain" icon="share">${t("across.from", { place: one.elsewhere })}<//></span>`}</span><${Icon} name="forward" /></a></li>`,
    )}</ul></section>
    ${
      view.others.length > 0 &&
      html`<section class="stack"><h2>${t("across.others")}</h2><ul class="list">${view.others.map(
        (/** @type {Question} */ one) =>
          html`<li key=${one.key}><a class="list-row" href=${`/trials/across/${one.key}`}><span class="choice-text"><b>${one.dose}</b><span class="choice-detail">${one.short} · ${one.facts}</span></span><${Icon} name="forward" /></a></li>`,
      )}</ul></section>`
    }`;
}
