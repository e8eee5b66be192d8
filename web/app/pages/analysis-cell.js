// One measurement at one assessment: the sentences first, then the table, the charts, and whether it can be trusted.
import { useSignal } from "@preact/signals";
import { useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { Chart } from "../ui/chart.js";
import { chartPng, keepFile, tableCsv } from "../ui/chart-image.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message, StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";
import { cellPath } from "./analysis.js";
import { PlanChanges } from "./analysis-exclude.js";
import { failureText } from "./device.js";
import { useKeptOnline } from "./kept-online.js";
import { useSettings } from "./settings-context.js";

/** @param {{ frame: any, id: string, measurement: string, assessment: string }} props */
export function AnalysisCellPage({ frame, id, measurement, assessment }) {
  const { language } = useSettings();
  const cell = /** @type {any} */ ({ measurement, assessment: assessment === "course" ? "" : assessment });
  const path = cellPath(id, cell, language.value);
  const online = useKeptOnline(path);
  const views = online.reply?.views ?? [];
  const back = html`<${Button} kind="quiet" icon="back" href=${`/trials/${id}/analysis`}>${t("analysis.title")}<//>`;
  return frame(
    null,
    html`<${Page} title=${views[0]?.title ?? t("analysis.title")} under=${views[0]?.label} actions=${back}>
      ${
        online.failed &&
        html`<${Message} tone="waiting" icon="offline" title=${t(online.isKept ? "analysis.kept" : "analysis.not_reached")} live=${true}>
        <p>${failureText(online.failed)}</p><${Button} icon="sync" onPress=${online.again}>${t("office.ask_again")}<//><//>`
      }
      ${online.isAsking && html`<p class="muted" role="status">${t("analysis.computing")}</p>`}
      ${!online.isAsking && views.length === 0 && html`<${EmptyState} icon="trial" title=${t("analysis.nothing_yet")} />`}
      ${(online.reply?.plan_changes ?? []).length > 0 && html`<${PlanChanges} lines=${online.reply?.plan_changes} />`}
      ${views.map((/** @type {any} */ view, /** @type {number} */ i) => html`<${CellView} key=${view.title} view=${view} trial=${id} file=${online.reply?.file ?? "trial"} isFirst=${i === 0} />`)}
    <//>`,
  );
}

/** @param {{ view: any, trial: string, file: string, isFirst: boolean }} props */
function CellView({ view, trial, file, isFirst }) {
  const name = [file, view.measurement, view.assessment || "course"].join("-");
  return html`<article class="stack">
    ${!isFirst && html`<h2>${view.title}</h2>`}
    ${view.sentences.length > 0 && html`<div class="result-words">${view.sentences.map((/** @type {string} */ line) => html`<p key=${line}>${line}</p>`)}</div>`}
    ${view.tables.map((/** @type {any} */ table) => html`<${ResultTable} key=${table.name} table=${table} name=${name} />`)}
    <div class="charts">${view.charts.map((/** @type {any} */ chart) => html`<${ChartWithFile} key=${chart.title} chart=${chart} view=${view} trial=${trial} name=${name} />`)}</div>
    <section class="stack"><h2>${t("analysis.trust")}</h2>
      ${view.state === "refused" && html`<div><${StateChip} tone="caution">${t("analysis.state.refused")}<//></div>`}
      <ul class="trust-notes">${view.trust.map((/** @type {string} */ note) => html`<li key=${note}>${note}</li>`)}</ul>
      <p class="muted small">${t("analysis.input_hash", { hash: view.input_hash.slice(0, 16) })}</p></section>
  </article>`;
}

/** @param {{ chart: any, view: any, trial: string, name: string }} props */
function ChartWithFile({ chart, view, trial, name }) {
  const failed = useSignal(false);
  const tepal = useTepal();
  const { language } = useSettings();
  const query = `measurement=${encodeURIComponent(view.measurement)}&assessment=${encodeURIComponent(view.assessment)}&name=${chart.name}&language=${language.value}`;
  async function paint() {
    try {
      const blob = await chartPng(chart, getComputedStyle(document.body).fontFamily);
      keepFile(blob, `${name}-${chart.name}.png`);
      failed.value = false;
    } catch {
      failed.value = true;
    }
  }
  return html`<div class="stack-1"><${Chart} chart=${chart} /><div class="row">
    ${chart.inks && html`<${Button} kind="quiet" icon="share" label=${`${t("analysis.as_png")} ${chart.title}`} onPress=${paint}>${t("analysis.as_png")}<//>`}
    <a class="btn btn-quiet" href=${tepal.api.url(`/trials/${trial}/analysis/chart?${query}`)} target="_blank" rel="noopener">${t("analysis.as_svg")}<span class="visually-hidden"> ${chart.title}</span></a></div>
    ${failed.value && html`<${Message} tone="caution" title=${t("analysis.not_painted")} live=${true} />`}</div>`;
}

/** A table as it stands on paper too; with a `name` for its file it can be taken away. @param {{ table: any, name?: string }} props */
export function ResultTable({ table, name = "" }) {
  const save = () => {
    const text = tableCsv(table);
    keepFile(new Blob([text], { type: "text/csv;charset=utf-8" }), `${name}-${table.name}.csv`);
  };
  /** @param {number} i */
  const side = (i) => (table.right.includes(i) ? "num" : undefined);
  return html`<div class=${`result-table is-${table.name}`} tabindex="0" role="region" aria-label=${table.title}><table class="table"><caption>${table.title}</caption>
    <thead><tr>${table.heads.map((/** @type {string} */ head, /** @type {number} */ i) => html`<th key=${i} class=${side(i)}>${head}</th>`)}</tr></thead>
    <tbody>${table.rows.map((/** @type {string[]} */ row) => html`<tr key=${row[0]}>${row.map((text, i) => html`<td key=${i} class=${side(i)}>${text}</td>`)}</tr>`)}</tbody></table>
    ${table.notes.map((/** @type {string} */ note) => html`<p class="muted small" key=${note}>${note}</p>`)}
    ${name && html`<div><${Button} kind="quiet" icon="share" label=${`${t("analysis.as_csv")}: ${table.title}`} onPress=${save}>${t("analysis.as_csv")}<//></div>`}</div>`;
}
