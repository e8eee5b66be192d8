// Apply, third step: what to measure for this load, in the order it goes in.
import { ppeFor, ppeUnknown } from "../state/apply.js";
import { html } from "../ui/html.js";
import { Quantity } from "../ui/quantity.js";
import { Message } from "../ui/state.js";
import { hasWords, t } from "../ui/words.js";

/** @typedef {import("../core/tank.js").TankPlan} TankPlan */

/** The words of an error or finding of the core. @param {any} problem */
export function errorText(problem) {
  const code = hasWords(`error.${problem.code}`) ? `error.${problem.code}` : `finding.${problem.code}`;
  return hasWords(code) ? t(code, problem.context ?? {}) : problem.message;
}

/** @param {any[]} used */
export function mixingPpe(used) {
  return ppeLine(used, "ppe_mixing", "apply.ppe_mixing");
}

/** PPE as the labels say it; where one is silent that is said. The label is the law.
 * @param {any[]} used @param {"ppe_mixing" | "ppe_applying"} act @param {string} code */
export function ppeLine(used, act, code) {
  const unknown = ppeUnknown(used, act);
  const known = ppeFor(used, act);
  return [
    known ? t(code, { ppe: known }) : "",
    unknown.length > 0 ? t("apply.ppe_unknown", { products: unknown.join(", ") }) : "",
    t("apply.label_is_law"),
  ]
    .filter(Boolean)
    .join(" ");
}

/** Split "85.6 mL" (no-break space inside) into number and unit. @param {string} text */
function parts(text) {
  const at = text.search(/[\s\u00a0]/);
  return at < 0 ? { value: text, unit: "" } : { value: text.slice(0, at), unit: text.slice(at + 1) };
}

/** @param {any} props */
export function MeasureStep({ form, plan, error }) {
  if (error) return html`<${Message} tone="stopped" title=${errorText(error)} live=${true} />`;
  if (!plan) return null;
  const load = loadNumbered(plan, form.loadsMixed + 1);
  return html`<div class="stack">
    <ol class="measures">
      <${Amount} name=${t("apply.water")} detail=${t("apply.water_half")} text=${load.water_half_text} />
      ${load.amounts.map((amount) => html`<${ProductAmount} key=${amount.component_id} amount=${amount} plan=${plan} />`)}
      <${Amount} name=${t("apply.water_to")} detail=${t("apply.water_to_detail")} text=${load.volume_text} />
    </ol>
    <${Findings} plan=${plan} load=${form.loadsMixed + 1} />
  </div>`;
}

/** @param {TankPlan} plan @param {number} number */
function loadNumbered(plan, number) {
  return plan.loads.find((load) => load.numbers.includes(number)) ?? plan.loads[plan.loads.length - 1];
}

/** @param {{ amount: any, plan: TankPlan }} props */
function ProductAmount({ amount, plan }) {
  const place = plan.steps.findIndex((step) => step.component_id === amount.component_id) + 1;
  const component = /** @type {any} */ (plan.components.find((one) => one.id === amount.component_id));
  const ais = component.ais.map((/** @type {any} */ ai) => ai.ai).join(", ");
  const how = amount.measured ? t("apply.with", { instrument: amount.measured.instrument_name }) : "";
  return html`<${Amount} name=${`${place} ${component.product_name}`} detail=${[ais, how].filter(Boolean).join(" · ")}
    text=${amount.measured ? { metric: amount.measured.text, us: amount.text.us } : amount.text} />`;
}

/** @param {{ name: string, detail: string, text: { metric: string, us: string } }} props */
function Amount({ name, detail, text }) {
  const us = parts(text.us);
  return html`<li class="measure">
    <span class="measure-name"><b>${name}</b><span class="muted">${detail}</span></span>
    <${Quantity} size="amount" ...${parts(text.metric)} also=${us} />
  </li>`;
}

/** Findings that concern this load or the whole mix; each once. @param {{ plan: TankPlan, load: number }} props */
function Findings({ plan, load }) {
  const tones = { stop: "stopped", caution: "caution", note: "waiting" };
  const seen = new Set();
  const here = plan.findings.filter((finding) => {
    const at = finding.context?.load;
    const words = errorText(finding);
    if ((at !== undefined && at !== load) || seen.has(words)) return false;
    seen.add(words);
    return true;
  });
  return here.map(
    (finding) => html`<${Message} tone=${tones[finding.severity]} title=${errorText(finding)}>
      ${finding.source && html`<p class="muted">${t("apply.source", { source: finding.source })}</p>`}<//>`,
  );
}
