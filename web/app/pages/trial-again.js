// Plots of a trial to measure once more: odd and ordinary ones are mixed, and nothing says which are which.
import { useRecords } from "../state/context.js";
import { dueOf, plannedOf } from "../state/measure.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { t } from "../ui/words.js";

/** Only while the assessment's window is open: later a plant is no longer what it was.
 * @param {{ id: string, trial: any, today: string }} props */
export function AgainLists({ id, trial, today }) {
  const lists = (useRecords("assessment") ?? []).flatMap((row) => {
    const { trial: of, code, again_plots: plots } = row.shown.fields;
    const planned = of === id && plots?.length > 0 ? plannedOf(trial, code.replace(/[.]again$/, "")) : null;
    const due = planned ? dueOf(trial, planned) : null;
    return planned && due && today <= due.to ? [{ planned, plots }] : [];
  });
  if (lists.length === 0) return null;
  return html`<ul class="list">${lists.map(
    ({
      planned,
      plots,
    }) => html`<li key=${planned.code}><a class="list-row" href=${`/trials/${id}/measure/${encodeURIComponent(planned.code)}?again=${plots.join(",")}`}><span class="choice-text">
      <b>${t("trial.again", { n: plots.length })}</b><span class="choice-detail">${t("trial.again_how", { name: planned.name ?? planned.code })}</span></span><${Icon} name="forward" /></a></li>`,
  )}</ul>`;
}
