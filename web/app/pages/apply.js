// Apply: where, mix, checks, measure, start, end, photos, sign. A plain whole path on one stem; the form keeps itself.

import { useSignal } from "@preact/signals";
import { useLocation } from "preact-iso";
import { DRAFT, EMPTY, isOtherBegun, STEPS } from "../state/apply-draft.js";
import { useDraft, useRecord, useTepal } from "../state/context.js";

import { Button } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { Stem, StemStep } from "../ui/stem.js";
import { t } from "../ui/words.js";
import { useApplyActs, useOrder } from "./apply-acts.js";
import { CheckStep, checkSummary, recordedSummary } from "./apply-check.js";
import { Foot } from "./apply-foot.js";
import { MeasureStep } from "./apply-measure.js";
import { EndStep, SignStep, SprayStep } from "./apply-record.js";
import { useTold } from "./apply-told.js";
import { MixStep, placeSummary, WhereStep } from "./apply-where.js";

import { Leave } from "./begun.js";
import { mayCapture } from "./capture.js";
import { useMixJob } from "./mix-job.js";
import { orderTitle } from "./order-words.js";

/** @param {{ frame: any, query: Record<string, string> }} props */
export function ApplyPage({ frame, query }) {
  const tepal = useTepal();
  const draft = useDraft(DRAFT, EMPTY);
  const failure = useSignal("");
  const form = draft.value;
  const mixJob = useMixJob(form, form.record);
  const told = useTold(mixJob, form);
  const acts = useApplyActs(draft, mixJob, told, failure);
  useOrder(query.order, draft, mixJob);
  if (!draft.ready || mixJob === null) {
    return frame(
      null,
      html`<${Page} title=${t("apply.title")} isReading=${true}><p role="status">${t("apply.reading")}</p><//>`,
    );
  }
  const refusal = mayCapture(tepal);
  if (refusal) return frame(null, html`<${Page} title=${t("apply.title")} isReading=${true}>${refusal}<//>`);
  const mixes = mixJob.rows.tank_mix;
  if (mixJob.rows.bench.length === 0 || mixes.length === 0)
    return frame(null, html`<${NothingYet} benches=${mixJob.rows.bench} />`);
  const { job, mix, plan } = mixJob;
  const { places, numberFormat } = job;

  const set = draft.merge;

  const steps = { form, set, draft, ...mixJob, told, ...acts, failure: failure.value };
  const at = STEPS.indexOf(form.step);
  const state = (/** @type {number} */ i) => (i < at ? "done" : i === at ? "current" : "ahead");
  return frame(
    html`<${Foot} ...${steps} leave=${html`<${Leave} draft=${draft} isRunning=${form.step === "end"} />`} />`,
    html`<${Page} title=${t("apply.title")} isReading=${true}
        actions=${html`<${Button} kind="emergency" icon="emergency" href="/emergency">${t("place.emergency")}<//>`}>
      <${OtherOrder} wanted=${query.order} form=${form} draft=${draft} />
      ${form.order && html`<${OrderLine} id=${form.order} />`}
      ${
        form.isLater &&
        !form.record &&
        html`<${Message} tone="waiting" icon="book" title=${t("apply.is_later")}><p>${t("apply.is_later_why")}</p>
        <${Button} onPress=${() => set({ isLater: false })}>${t("apply.not_later")}<//><//>`
      }
      <${Stem}>
        <${StemStep} title=${t("apply.where")} state=${state(0)} summary=${placeSummary(places, numberFormat)}
            onToggle=${form.record ? undefined : () => set({ step: "where" })}>
          <${WhereStep} ...${steps} /><//>
        <${StemStep} title=${t("apply.mix")} state=${state(1)} summary=${mix?.shown.fields.name ?? ""}
            onToggle=${form.record ? undefined : () => set({ step: "mix" })}>
          <${MixStep} ...${steps} mixes=${mixes} /><//>
        <${StemStep} title=${t("apply.check")} state=${state(2)} summary=${form.record ? recordedSummary(mixJob.rows.application.find((row) => row.id === form.record)) : checkSummary(told, form.answers)}
            onToggle=${form.record ? undefined : () => set({ step: "check" })}>
          <${CheckStep} ...${steps} /><//>
        <${StemStep} title=${t("apply.measure")} state=${state(3)}
            detail=${plan && form.step === "measure" ? loadOf(form, plan) : ""} summary=${plan ? plan.volume_text.metric : ""}
            onToggle=${form.record ? undefined : () => set({ step: "measure", loadsMixed: 0 })}>
          <${MeasureStep} ...${steps} /><//>
        <${StemStep} title=${t("apply.spray")} state=${state(4)}><${SprayStep} ...${steps} /><//>
        <${StemStep} title=${t("apply.end")} state=${state(5)}><${EndStep} ...${steps} /><//>
        <${StemStep} title=${t("apply.sign")} state=${state(6)}><${SignStep} ...${steps} /><//>
      <//>
    <//>`,
  );
}

/** @param {import("../state/apply-draft.js").ApplyDraft} form @param {import("../core/tank.js").TankPlan} plan */
function loadOf(form, plan) {
  const total = plan.loads.reduce((sum, load) => sum + load.numbers.length, 0);
  return t("apply.load_of", { n: Math.min(form.loadsMixed + 1, total), total });
}

/** @param {{ benches: any[] }} props */
function NothingYet({ benches }) {
  const lacksBench = benches.length === 0;
  return html`<${Page} title=${t("apply.title")} isReading=${true}>
    <${EmptyState} icon=${lacksBench ? "house" : "mix"} title=${t(lacksBench ? "apply.no_bench" : "apply.no_mix")}>
      <${Button} href=${lacksBench ? "/houses" : "/mixes"}>${t(lacksBench ? "place.houses" : "place.mixes")}<//>
    <//>
    <${Message} tone="waiting"><p>${t("apply.need_signal_once")}</p><//>
  <//>`;
}

/** The order that is being done. @param {{ id: string }} props */
function OrderLine({ id }) {
  const order = useRecord("spray_order", id);
  if (!order) return null;
  return html`<p class="said">${t("apply.of_order", { title: orderTitle(order.shown.fields) })}</p>`;
}

/**
 * Another application was begun: nothing of it is thrown away without a word. One that is recorded is finished first.
 * @param {{ wanted: string | undefined, form: any, draft: any }} props
 */
function OtherOrder({ wanted, form, draft }) {
  const { route } = useLocation();
  if (!wanted || !isOtherBegun(form, wanted)) return null;
  if (form.record)
    return html`<${Message} tone="caution" title=${t("apply.other_runs")}><p>${t("apply.other_runs_why")}</p><//>`;
  return html`<${Message} tone="caution" title=${t("begun.other")}><p>${t("begun.other_why")}</p>
    <div class="row"><${Button} onPress=${() => route("/apply", true)}>${t("begun.go_on")}<//>
      <${Button} kind="danger" icon="erase" onPress=${() => draft.clear()}>${t("begun.drop_do_order")}<//></div><//>`;
}
