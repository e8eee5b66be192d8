// What to measure for a load, in the order it goes in, and what the mix core finds to say about it.
import { formatNumber } from "../core/rounding.js";
import { html } from "../ui/html.js";
import { Quantity } from "../ui/quantity.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { coreText } from "./core-words.js";

/** @typedef {import("../core/tank.js").TankPlan} TankPlan */
/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */

/**
 * @param {{ load: TankPlan["loads"][0], plan: TankPlan, numberFormat: NumberFormat }} props
 */
export function Measures({ load, plan, numberFormat }) {
  return html`<ol class="measures">
    <${Amount} name=${t("apply.water")} detail=${t("apply.water_half")} text=${load.water_half_text} />
    ${load.amounts.map((amount) => html`<${ProductAmount} key=${amount.component_id} amount=${amount} plan=${plan} numberFormat=${numberFormat} />`)}
    <${Amount} name=${t("apply.water_to")} detail=${t("apply.water_to_detail")} text=${load.volume_text} />
  </ol>`;
}

/** Split "85.6 mL" (no-break space inside) into number and unit. @param {string} text */
function parts(text) {
  const at = text.search(/[\s\u00a0]/);
  return at < 0 ? { value: text, unit: "" } : { value: text.slice(0, at), unit: text.slice(at + 1) };
}

/** @param {{ amount: TankPlan["loads"][0]["amounts"][0], plan: TankPlan, numberFormat: NumberFormat }} props */
function ProductAmount({ amount, plan, numberFormat }) {
  const place = plan.steps.findIndex((step) => step.component_id === amount.component_id) + 1;
  const component = /** @type {any} */ (plan.components.find((one) => one.id === amount.component_id));
  const ais = component.ais.map((/** @type {any} */ ai) => ai.ai).join(", ");
  const name = `${place} ${component.product_name}`;
  const { measured, two_step: twoStep } = amount;
  if (twoStep !== null) {
    return html`<${Amount} name=${`${place} ${t("mix.dilute", { product: component.product_name })}`} detail=${[ais, t("mix.step_one", { instrument: twoStep.product.instrument_name, stock: twoStep.stock_text })].filter(Boolean).join(" · ")}
        text=${{ metric: twoStep.product.text, us: "" }} />
      <${Amount} name=${`${place} ${t("mix.of_dilution", { product: component.product_name })}`} detail=${t("mix.step_two", { instrument: twoStep.aliquot.instrument_name, error: formatNumber(twoStep.error_pct, 1, numberFormat) })}
        text=${{ metric: twoStep.aliquot.text, us: "" }} />`;
  }
  const how = measured
    ? [
        t("apply.with", { instrument: measured.instrument_name }),
        measured.n_fills > 1 ? t("mix.fills", { n: measured.n_fills }) : "",
        t("mix.rounding", { error: formatNumber(measured.error_pct, 1, numberFormat) }),
      ]
    : [];
  return html`<${Amount} name=${name} detail=${[ais, ...how].filter(Boolean).join(" · ")}
    text=${measured ? { metric: measured.text, us: amount.text.us } : amount.text} />`;
}

/** @param {{ name: string, detail: string, text: { metric: string, us: string } }} props */
function Amount({ name, detail, text }) {
  return html`<li class="measure">
    <span class="measure-name"><b>${name}</b><span class="muted">${detail}</span></span>
    <${Quantity} size="amount" ...${parts(text.metric)} also=${text.us ? parts(text.us) : undefined} />
  </li>`;
}

/** One sentence for all pairs that were never tested in a jar. @param {TankPlan["findings"]} findings */
export function untestedTogether(findings) {
  const untested = findings.filter((finding) => finding.code === "mix.jar_test_missing");
  const pair = untested.map((finding) => finding.context.pair).join("; ");
  return findings
    .filter((finding) => !untested.slice(1).includes(finding))
    .map((finding) => (finding === untested[0] ? { ...finding, context: { pair } } : finding));
}

const TONES = /** @type {const} */ ({ stop: "stopped", caution: "caution", note: "waiting" });
const ORDER = { stop: 0, caution: 1, note: 2 };

/**
 * Findings with their source, each once, the gravest first.
 * @param {{ plan: TankPlan, load?: number, numberFormat: NumberFormat, placeNames: Record<string, string> }} props
 *   load  Only what concerns this load or the whole mix.
 */
export function Findings({ plan, load, numberFormat, placeNames }) {
  const told = new Map();
  for (const finding of [...untestedTogether(plan.findings)].sort(
    (a, b) => ORDER[a.severity] - ORDER[b.severity],
  )) {
    const { load: first, last_load: last } = /** @type {any} */ (finding.context);
    if (load !== undefined && first !== undefined && (load < first || load > last)) continue;
    told.set(coreText(finding, numberFormat, placeNames), finding);
  }
  return [...told].map(
    ([
      words,
      finding,
    ]) => html`<${Message} key=${words} tone=${TONES[/** @type {keyof typeof TONES} */ (finding.severity)]} title=${words}>
      ${finding.source && html`<p class="muted">${t("apply.source", { source: finding.source })}</p>`}<//>`,
  );
}
