// Apply: what the checks find for the form as it stands, in words. Offline: from what this phone holds, heard when it was.
import { checkFindings } from "../core/checks.js";
import { decimalText } from "../core/rounding.js";
import { toldOnce } from "../state/answers.js";
import { startFields } from "../state/apply.js";
import { batchesIn, batchesOf } from "../state/apply-draft.js";
import { useRecords, useTepal } from "../state/context.js";
import { plannedPlots } from "../state/measure.js";
import { momentAt } from "../state/moments.js";
import { situationOf } from "../state/situation.js";
import { productStock, stockOf } from "../state/stock.js";
import { airOf } from "./air-panel.js";
import { coreText } from "./core-words.js";
import { useEstablishment } from "./establishment.js";
import { untestedTogether } from "./measures.js";
import { useServerClock } from "./server-clock.js";

const BESIDE = [
  "member",
  "certificate",
  "restriction",
  "supplier_treatment",
  "permit",
  "batch",
  "stock_count",
  "conflict",
  "spray_order",
  "trial",
];

/** @param {any} mixJob @param {any} form @returns {import("../state/answers.js").Told[]} */
export function useTold(mixJob, form) {
  const tepal = useTepal();
  const clock = useServerClock();
  const establishment = useEstablishment();
  const beside = Object.fromEntries(BESIDE.map((kind) => [kind, useRecords(kind)]));
  if (mixJob === null || mixJob.plan === null || form.record !== null) return [];
  const { plan, job, placeNames, sprayer } = mixJob;
  const order = beside.spray_order?.find((row) => row.id === form.order)?.shown.fields;
  const trial = beside.trial?.find((row) => row.id === order?.trial)?.shown.fields;
  const member = tepal.session.value?.member;
  const wall = tepal.wall();
  const application = startFields({
    ...job,
    plan,
    member: member ?? {},
    startedAt: wall,
    sprayer,
    air: airOf(form.air, job.numberFormat),
    batches: batchesIn(form.batches, batchesOf(mixJob.used, beside.batch ?? [])),
    // treatments of one trial stand on one bench, each on its own plots
    more: { trial: order?.trial ?? null, plots: plannedPlots(trial, order?.treatment) },
  });
  const situation = situationOf({
    application,
    rows: { ...mixJob.rows, ...beside },
    member: member?.id ?? null,
    permit: form.permit,
    waterDueAt: momentAt(form.waterDue ?? "", wall.zone),
    establishment,
    clock,
    today: wall.local.slice(0, 10),
    stock: onHand(mixJob, beside),
  });
  const findings = [...checkFindings(situation), ...untestedTogether(plan.findings)];
  return toldOnce(findings, (finding) => coreText(finding, job.numberFormat, placeNames));
}

/**
 * What should be left of each product of the mix; null where this nursery keeps no stock here.
 * @param {any} mixJob @param {Record<string, any>} beside
 */
function onHand({ used, rows }, { batch, stock_count }) {
  if (!batch || batch.length === 0) return null;
  const products = Object.fromEntries(
    rows.product.map((/** @type {any} */ row) => [row.id, row.shown.fields]),
  );
  const all = stockOf(batch, stock_count ?? [], rows.application, products);
  /** @type {Record<string, {value: string, unit: string}>} */
  const found = {};
  for (const product of used) {
    const { left, dimension } = productStock(
      product.shown.fields,
      all.filter((one) => one.product === product.id),
    );
    if (left !== null)
      found[product.id] = {
        value: decimalText(left, 3).replace(/\.?0+$/, ""),
        unit: dimension === "mass" ? "g" : "mL",
      };
  }
  return found;
}
