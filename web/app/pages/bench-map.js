// The bench as it stands: a cell per plot with its code and, unless blinded, its treatment; guards marked as such.
import { measuredPlots } from "../state/measure.js";
import { html } from "../ui/html.js";
import { t } from "../ui/words.js";

/**
 * @param {{ trial: any, isBlinded?: boolean }} props
 */
export function BenchMap({ trial, isBlinded = false }) {
  const plots = measuredPlots(trial);
  const guards = (trial.plots ?? []).filter((/** @type {any} */ plot) => plot.guard);
  const all = [...plots, ...guards];
  const rows = Math.max(trial.rows ?? 0, ...all.map((plot) => plot.row ?? 1));
  const columns = Math.max(trial.columns ?? 0, ...all.map((plot) => plot.column ?? 1));
  const at = new Map(all.map((plot) => [`${plot.row}:${plot.column}`, plot]));
  return html`<div class="table-frame"><table class="bench-map"><caption class="muted small">${t("trial.map_how")}</caption><tbody>
    ${Array.from({ length: rows }, (_, i) => i + 1).map(
      (row) =>
        html`<tr key=${row}>${Array.from({ length: columns }, (_, j) => j + 1).map((column) => {
          const plot = at.get(`${row}:${column}`);
          if (!plot) return html`<td key=${column}></td>`;
          if (plot.guard) return html`<td key=${column} class="is-guard">${t("trial.guard")}</td>`;
          const isEdge = at.get(`${row}:${column + 1}`)?.block !== plot.block;
          return html`<td key=${column} class=${`is-plot${isEdge ? " ends" : ""}`}><b>${plot.code}</b>${!isBlinded && html`<span>${t("trial.map_treatment", { n: plot.treatment })}</span>`}</td>`;
        })}</tr>`,
    )}</tbody></table></div>`;
}
