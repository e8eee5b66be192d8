// The planner's contrasts: questions of the trial's own, as weights over its treatments that add up to zero.
import { decimalsOf, formatNumber } from "../core/rounding.js";
import { contrastProblem } from "../state/trial-contrasts.js";
import { Button } from "../ui/buttons.js";
import { NumberField, TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";

/** @param {{ plan: import("../state/trial-plan.js").Plan, set: (more: any) => void, numberFormat: import("../core/rounding.js").NumberFormat }} props */
export function Contrasts({ plan, set, numberFormat }) {
  const all = plan.contrasts;
  const change = (/** @type {number} */ at, /** @type {any} */ more) =>
    set({ contrasts: all.map((one, i) => (i === at ? { ...one, ...more } : one)) });
  return html`<section class="stack"><h3>${t("plan.contrasts")}</h3><p class="muted">${t("plan.contrasts_hint")}</p>
    ${all.length > 0 && html`<p class="muted">${t("plan.contrasts_weights")}</p>`}
    ${all.map((one, at) => {
      const { code, sum } = contrastProblem(one, all, numberFormat);
      const said =
        code === ""
          ? t("plan.contrast_zero")
          : t(`plan.contrast.${code}`, { sum: formatNumber(sum, decimalsOf(sum), numberFormat) });
      return html`<section class="card" key=${at}><div class="spread"><h4>${one.name || t("plan.contrast_n", { n: at + 1 })}</h4>
        <${Button} kind="quiet" icon="close" label=${t("plan.remove", { name: one.name })} onPress=${() => set({ contrasts: all.filter((_, i) => i !== at) })}>${t("plan.take_out")}<//></div>
        <${TextField} label=${t("plan.contrast_name")} value=${one.name} maxLength=${120} onValue=${(/** @type {string} */ name) => change(at, { name })} />
        <div class="halves">${plan.treatments.map(
          (treatment, i) =>
            html`<${NumberField} key=${i} label=${`${i + 1} · ${treatment.name || t("plan.treatment", { n: i + 1 })}`} isOptional=${false} value=${one.weights[i + 1] ?? ""}
              onValue=${(/** @type {string} */ weight) => change(at, { weights: { ...one.weights, [i + 1]: weight } })} />`,
        )}</div>
        <div role="status"><${StateChip} tone=${code === "" ? "passed" : "caution"}>${said}<//></div></section>`;
    })}
    <div><${Button} icon="plus" onPress=${() => set({ contrasts: [...all, { name: "", weights: {} }] })}>${t("plan.contrast_add")}<//></div></section>`;
}
