// Apply, third step: what to measure for this load, in the order it goes in.
import { ppeFor, ppeUnknown } from "../state/apply.js";
import { batchesIn, batchesOf } from "../state/apply-draft.js";
import { useRecords } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { RefField } from "../ui/choices.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { CalibrationAge } from "./calibration-age.js";
import { coreText } from "./core-words.js";
import { Findings, Measures } from "./measures.js";

/** @typedef {import("../core/tank.js").TankPlan} TankPlan */

export { coreText as errorText };

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

/** @param {any} props */
export function MeasureStep({ set, used, form, plan, error, job, placeNames, sprayer, rows }) {
  if (error)
    return html`<${Message} tone="stopped" title=${coreText(error, job.numberFormat, placeNames)} live=${true} />`;
  if (!plan) return null;
  const load = loadNumbered(plan, form.loadsMixed + 1);
  return html`<div class="stack">
    <${Measures} load=${load} plan=${plan} numberFormat=${job.numberFormat} />
    <${Findings} plan=${ofLoads(plan)} load=${form.loadsMixed + 1} numberFormat=${job.numberFormat} placeNames=${placeNames} />
    <${Batches} form=${form} set=${set} used=${used} />
    ${sprayer && html`<${CalibrationAge} sprayer=${sprayer} calibrations=${rows.calibration} isQuiet=${true} />`}
    <div><${Button} kind="quiet" icon="mix" href="/mix?from=apply">${t("mix.how_link")}<//></div>
  </div>`;
}

/** @param {TankPlan} plan @param {number} number */
function loadNumbered(plan, number) {
  return plan.loads.find((load) => load.numbers.includes(number)) ?? plan.loads[plan.loads.length - 1];
}

/** What concerns the whole mix was told, and answered, in the checks. @param {TankPlan} plan */
const ofLoads = (plan) => ({
  ...plan,
  findings: plan.findings.filter((finding) => finding.context.load !== undefined),
});

/** Which batch of a product goes in, where deliveries are on file; of several nobody is picked for the operator. @param {any} props */
function Batches({ form, set, used }) {
  const offered = batchesOf(used, useRecords("batch") ?? []);
  const chosen = batchesIn(form.batches, offered);
  return [...offered].map(([product, rows]) => {
    if (rows.length === 0) return null;
    const name = used.find((/** @type {any} */ row) => row.id === product)?.shown.fields.name ?? "";
    return html`<${RefField} key=${product} label=${t("apply.batch_of", { product: name })} isOptional=${true} value=${chosen[product]?.id ?? null}
      options=${rows.map((row) => ({ id: row.id, name: row.shown.fields.code ?? "", detail: row.shown.fields.expires_on ?? "" }))}
      onValue=${(/** @type {string | null} */ id) => set({ batches: { ...form.batches, [product]: id } })} />`;
  });
}
