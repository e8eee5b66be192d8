// What a trial says: every measurement at every assessment as a small picture, computed one after the other by the
// office; the report and the files to take away.
import { useSignal } from "@preact/signals";
import { useEffect, useState } from "preact/hooks";
import { useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { SmallPicture } from "../ui/chart.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Stake } from "../ui/stake.js";
import { EmptyState, Message, StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";
import { ExcludeSheet, Exclusions, PlanChanges } from "./analysis-exclude.js";
import { failureText } from "./device.js";
import { useKeptOnline } from "./kept-online.js";
import { may } from "./may.js";
import { useSettings } from "./settings-context.js";

/** @typedef {{ measurement: string, assessment: string, title: string, is_primary: boolean, state: string | null, is_stale: boolean, rows: any[] }} Cell */

const FILES = ["workbook.xlsx", "values.csv", "plots.csv", "models.R", "results.json"];
/** @type {Record<string, import("../ui/state.js").Tone>} */
const TONES = { shown: "passed", not_shown: "plain", refused: "caution", before: "plain" };

/** @param {string} trial @param {Cell} cell @param {string} language */
export const cellPath = (trial, cell, language) =>
  `/trials/${trial}/analysis/cell?measurement=${encodeURIComponent(cell.measurement)}&assessment=${encodeURIComponent(cell.assessment)}&language=${language}`;

/** @param {{ frame: any, id: string }} props */
export function AnalysisPage({ frame, id }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const [isExcluding, setExcluding] = useState(false);
  const online = useKeptOnline(`/trials/${id}/analysis?language=${language.value}`);
  const computed = useComputed(id, online.reply?.cells ?? [], language.value, online.isKept);
  const found = online.reply;
  const report = tepal.api.url(`/trials/${id}/report?language=${language.value}`);
  const mayExclude = may(tepal.session.value, "registers") === "yes";
  return frame(
    null,
    html`<${Page} title=${t("analysis.title")}
      under=${found && html`<${Stake} code=${found.code || "–"} tone="passed" /> <a href=${`/trials/${id}`}>${found.title}</a>`}
      actions=${html`<div class="head-act"><${GoButton} href=${report} isNewTab=${true}>${t("analysis.print_report")}<//></div>`}>
      ${
        online.failed &&
        html`<${Message} tone="waiting" icon="offline" title=${t(online.isKept ? "analysis.kept" : "analysis.not_reached")} live=${true}>
        <p>${failureText(online.failed)}</p><${Button} icon="sync" onPress=${online.again}>${t("office.ask_again")}<//><//>`
      }
      ${online.isAsking && html`<p class="muted" role="status">${t("office.asking")}</p>`}
      ${found?.question && html`<p class="said">${found.question}</p>`}
      ${found && found.cells.length === 0 && html`<${EmptyState} icon="trial" title=${t("analysis.nothing_yet")}><${Button} href=${`/trials/${id}`}>${t("analysis.to_trial")}<//><//>`}
      ${found && html`<${Matrix} trial=${id} found=${found} computed=${computed.value} />`}
      ${
        found &&
        html`${(found.plan_changes ?? []).length > 0 && html`<${PlanChanges} lines=${found.plan_changes} />`}
        <section class="stack"><h2>${t("analysis.exclusions")}</h2><${Exclusions} found=${found} />
        ${mayExclude && html`<div><${Button} icon="close" onPress=${() => setExcluding(true)}>${t("analysis.exclude")}<//></div>`}</section>
        <section class="stack acts"><h2>${t("analysis.files")}</h2><div class="row">
          <${Button} icon="share" href=${`${report}&style=journal`}>${t("analysis.journal")}<//>
          ${FILES.map((name) => html`<${Button} key=${name} icon="share" href=${tepal.api.url(`/trials/${id}/export?name=${name}`)}>${t(`analysis.file.${name.replace(".", "_")}`)}<//>`)}
        </div></section>`
      }
      ${isExcluding && found && html`<${ExcludeSheet} trial=${id} found=${found} onClose=${() => setExcluding(false)} />`}
    <//>`,
  );
}

/**
 * What the office has computed since the page opened: cells that it had not, or whose values changed, one by one.
 * @param {string} trial @param {Cell[]} cells @param {string} language @param {boolean} isKept
 */
function useComputed(trial, cells, language, isKept) {
  const tepal = useTepal();
  const computed = useSignal(/** @type {Record<string, any>} */ ({}));
  useEffect(() => {
    let isHere = true;
    computed.value = {};
    async function ask() {
      for (const cell of isKept ? [] : cells.filter((one) => one.state === null || one.is_stale)) {
        const path = cellPath(trial, cell, language);
        const got = await tepal.api.get(path);
        if (!isHere || !got.ok) return;
        computed.value = { ...computed.value, [keyOf(cell)]: got.reply.views[0] };
        await tepal.book.setMeta({ [`online ${path}`]: got.reply });
      }
    }
    ask();
    return () => {
      isHere = false;
    };
  }, [cells]);
  return computed;
}

/** @param {{ measurement: string, assessment: string }} cell */
const keyOf = (cell) => `${cell.measurement} ${cell.assessment}`;

/** @param {{ trial: string, found: any, computed: Record<string, any> }} props */
function Matrix({ trial, found, computed }) {
  return html`<div class="matrix">${found.measurements.map((/** @type {any} */ m) => {
    const cells = found.cells.filter((/** @type {Cell} */ cell) => cell.measurement === m.code);
    if (cells.length === 0) return null;
    return html`<section class="matrix-row" key=${m.code}><h2>${m.name}${m.code === found.primary && html` <${StateChip} tone="passed">${t("analysis.primary")}<//>`}</h2>
      <div class="matrix-cells">${cells.map((/** @type {Cell} */ cell) => html`<${CellCard} key=${keyOf(cell)} trial=${trial} cell=${cell} view=${computed[keyOf(cell)]} found=${found} />`)}</div></section>`;
  })}</div>`;
}

/** @param {{ trial: string, cell: Cell, view: any, found: any }} props */
function CellCard({ trial, cell, view, found }) {
  const state = view?.state ?? (cell.is_stale ? null : cell.state);
  const when = found.assessments.find((/** @type {any} */ a) => a.code === cell.assessment);
  const href = `/trials/${trial}/analysis/${encodeURIComponent(cell.measurement)}/${encodeURIComponent(cell.assessment || "course")}`;
  return html`<a class=${`matrix-cell${cell.is_primary ? " is-primary" : ""}`} href=${href}>
    <b>${when?.name ?? t("analysis.course")}</b>
    ${state === null ? html`<span class="muted" role="status">${t("analysis.computing")}</span>` : html`<${StateChip} tone=${TONES[state] ?? "plain"}>${t(`analysis.state.${state}`)}<//>`}
    <${SmallPicture} rows=${view?.rows ?? cell.rows} /></a>`;
}
