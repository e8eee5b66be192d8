// Leaving a plot out of the analysis: which, of what, and why. It is an entry, kept and printed, and can be lifted.
import { useState } from "preact/hooks";
import { useDraft, useRecords, useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Sheet } from "../ui/sheet.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";

/** @typedef {{ plots: {plot: number, code: string}[], measurements: {code: string, name: string}[], assessments: {code: string, name: string}[], exclusions: any[] }} Found */

/** @param {{ found: Found }} props */
export function Exclusions({ found }) {
  const tepal = useTepal();
  const rows = useRecords("exclusion") ?? [];
  if (found.exclusions.length === 0) return html`<p class="muted">${t("analysis.none_excluded")}</p>`;
  /** @param {string} id */
  const lift = (id) => {
    const row = rows.find((one) => one.id === id);
    if (row) tepal.save.change(row, { lifted: true });
  };
  return html`<ul class="list">${found.exclusions.map(
    (one) => html`<li class="list-row" key=${one.id}><span class="choice-text"><b>${scopeText(found, one)}</b>
      <span class="choice-detail">${one.reason}${one.by && ` · ${one.by}`}</span></span>
      ${rows.some((row) => row.id === one.id) && html`<${Button} kind="quiet" onPress=${() => lift(one.id)}>${t("analysis.lift")}<//>`}</li>`,
  )}</ul>`;
}

/** What of the plan was changed once there were values. @param {{ lines: string[] }} props */
export function PlanChanges({ lines }) {
  return html`<${Message} tone="caution" title=${t("analysis.plan_changes")}><ul class="trust-notes">${lines.map((line) => html`<li key=${line}>${line}</li>`)}</ul><//>`;
}

/** @param {Found} found @param {any} one */
function scopeText(found, one) {
  const name = (/** @type {{code: string, name: string}[]} */ list, /** @type {string} */ code) =>
    list.find((item) => item.code === code)?.name;
  const parts = [
    t("analysis.plot_n", { plot: found.plots.find(({ plot }) => plot === one.plot)?.code ?? one.plot }),
    one.plant ? t("analysis.plant_n", { plant: one.plant }) : null,
    name(found.measurements, one.measurement) ?? t("analysis.all_measurements"),
    name(found.assessments, one.assessment) ?? t("analysis.all_assessments"),
  ];
  return parts.filter(Boolean).join(" · ");
}

/** @param {{ trial: string, found: Found, onClose: () => void }} props */
export function ExcludeSheet({ trial, found, onClose }) {
  const tepal = useTepal();
  const draftKey = `exclude/${trial}`;
  const draft = useDraft(draftKey, { plot: "", measurement: "", assessment: "", reason: "" });
  const [wrong, setWrong] = useState("");
  const { plot, measurement, assessment, reason } = draft.value;
  async function save() {
    if (plot === "") return setWrong(t("analysis.choose_plot"));
    if (reason.trim() === "") return setWrong(t("analysis.reason_missing"));
    try {
      const fields = {
        trial,
        plot: Number(plot),
        reason: reason.trim(),
        ...(measurement ? { measurement } : {}),
        ...(assessment ? { assessment } : {}),
      };
      await tepal.save.create("exclusion", fields, { draft: draftKey });
      await draft.clear();
      onClose();
    } catch (error) {
      setWrong(t("office.not_saved", { cause: String(error) }));
    }
  }
  const plots = found.plots.map((one) => ({ code: String(one.plot), name: `${one.plot} · ${one.code}` }));
  return html`<${Sheet} title=${t("analysis.exclude")} onClose=${onClose}>
    <p>${t("analysis.exclude_why")}</p>
    <${Choose} label=${t("analysis.plot")} empty=${t("analysis.choose_plot")} options=${plots} value=${plot} onValue=${(/** @type {string} */ value) => draft.merge({ plot: value })} />
    <${Choose} label=${t("analysis.measurement")} empty=${t("analysis.all_measurements")} options=${found.measurements} value=${measurement} onValue=${(/** @type {string} */ value) => draft.merge({ measurement: value })} />
    <${Choose} label=${t("analysis.assessment")} empty=${t("analysis.all_assessments")} options=${found.assessments} value=${assessment} onValue=${(/** @type {string} */ value) => draft.merge({ assessment: value })} />
    <${TextField} label=${t("answer.reason")} value=${reason} maxLength=${400} isLong=${true} onValue=${(
      /** @type {string} */ value,
    ) => {
      setWrong("");
      draft.merge({ reason: value });
    }} />
    ${wrong && html`<${Message} tone="stopped" title=${wrong} live=${true} />`}
    <${Button} icon="check" onPress=${save}>${t("analysis.exclude_save")}<//>
  <//>`;
}

/** @param {{ label: string, empty: string, options: {code: string, name: string}[], value: string, onValue: (value: string) => void }} props */
function Choose({ label, empty, options, value, onValue }) {
  return html`<label class="field"><span class="field-label">${label}</span>
    <select class="input" value=${value} onChange=${(/** @type {any} */ event) => onValue(event.currentTarget.value)}>
      <option value="">${empty}</option>${options.map((one) => html`<option key=${one.code} value=${one.code} selected=${one.code === value}>${one.name}</option>`)}
    </select></label>`;
}
