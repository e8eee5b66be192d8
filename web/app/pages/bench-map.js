// The bench as it stands: a cell per plot with its code and, unless blinded, its treatment; guards marked as such.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { measuredPlots } from "../state/measure.js";
import { Button } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { t } from "../ui/words.js";

const MOST_CELLS = 160; // more are drawn when somebody asks for them, a few rows at a time
const ROWS_AT_ONCE = 4;

/**
 * @param {{ trial: any, isBlinded?: boolean }} props
 */
export function BenchMap({ trial, isBlinded = false }) {
  const n = (trial.plots ?? []).length;
  const shown = useSignal(n > MOST_CELLS ? 0 : Number.POSITIVE_INFINITY);
  const nRows = Math.max(
    trial.rows ?? 0,
    ...(trial.plots ?? []).map((/** @type {any} */ plot) => plot.row ?? 1),
  );
  useEffect(() => {
    if (shown.value === 0 || shown.value >= nRows) return undefined;
    const timer = setTimeout(() => {
      shown.value += ROWS_AT_ONCE;
    }, 0);
    return () => clearTimeout(timer);
  }, [shown.value]);
  if (shown.value === 0) {
    return html`<div><${Button} icon="list" onPress=${() => {
      shown.value = ROWS_AT_ONCE;
    }}>${t("trial.map_show", { n })}<//></div>`;
  }
  const plots = measuredPlots(trial);
  const guards = (trial.plots ?? []).filter((/** @type {any} */ plot) => plot.guard);
  const all = [...plots, ...guards];
  const rows = Math.max(trial.rows ?? 0, ...all.map((plot) => plot.row ?? 1));
  const columns = Math.max(trial.columns ?? 0, ...all.map((plot) => plot.column ?? 1));
  const at = new Map(all.map((plot) => [`${plot.row}:${plot.column}`, plot]));
  return html`<div class="table-frame"><table aria-label=${t("trial.map")} class=${`bench-map${n > MOST_CELLS ? " is-large" : ""}`}><tbody>
    ${Array.from({ length: Math.min(rows, shown.value) }, (_, i) => i + 1).map(
      (row) =>
        html`<tr key=${row}>${Array.from({ length: columns }, (_, j) => j + 1).map((column) => {
          const plot = at.get(`${row}:${column}`);
          if (!plot) return html`<td key=${column}></td>`;
          if (plot.guard) return html`<td key=${column} class="is-guard">${t("trial.guard")}</td>`;
          const isEdge = at.get(`${row}:${column + 1}`)?.block !== plot.block;
          const behind = at.get(`${row + 1}:${column}`);
          const isLast = behind !== undefined && !behind.guard && behind.block !== plot.block;
          return html`<td key=${column} class=${`is-plot${isEdge ? " ends" : ""}${isLast ? " ends-behind" : ""}`}><b>${plot.code}</b>${!isBlinded && html`<span>${t("trial.map_treatment", { n: plot.treatment })}</span>`}</td>`;
        })}</tr>`,
    )}</tbody></table></div><p class="muted small">${t("trial.map_how")}</p>`;
}
