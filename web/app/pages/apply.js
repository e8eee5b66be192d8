// Apply: where, mix, measure, start, end, photos, sign. A plain whole path on one stem; the form keeps itself.

import { useSignal } from "@preact/signals";
import { startFields } from "../state/apply.js";
import { useDraft, useTepal } from "../state/context.js";

import { Button, GoButton } from "../ui/buttons.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { Stem, StemStep } from "../ui/stem.js";
import { t } from "../ui/words.js";
import { airOf } from "./air-panel.js";
import { errorText, MeasureStep, mixingPpe } from "./apply-measure.js";

import { applyingPpe, EndStep, notSaved, SignStep, SprayStep } from "./apply-record.js";
import { MixStep, placeSummary, WhereStep } from "./apply-where.js";

import { mayCapture } from "./capture.js";
import { useMixJob } from "./mix-job.js";

export const DRAFT = "apply";

/** The steps in order; a draft remembers where it is. */
export const STEPS = ["where", "mix", "measure", "spray", "end", "sign"];

/** What the form holds. @typedef {typeof EMPTY} ApplyDraft */
export const EMPTY = {
  step: "where",
  /** @type {string[]} keys of places */ places: [],
  /** @type {Record<string, {value: string, unit: string}>} */ areas: {},
  /** @type {Record<string, number>} containers on a place, where that is not on file */ containers: {},
  /** @type {string | null} */ mix: null,
  /** @type {string | null} */ sprayer: null,
  air: { temperature: { value: "", unit: "Cel" }, humidity: { value: "", unit: "%" } },
  tank: { value: "", unit: "L" },
  loadsMixed: 0,
  /** @type {string | null} */ record: null,
  /** @type {boolean | null} */ stoppedEarly: null,
  stoppedNote: "",
  note: "",
  left: { value: "", unit: "L" },
  n_photos: 0,
};

/** @param {{ frame: any }} props */
export function ApplyPage({ frame }) {
  const tepal = useTepal();
  const draft = useDraft(DRAFT, EMPTY);
  const failure = useSignal("");
  const isStarting = useSignal(false);
  const form = draft.value;
  const mixJob = useMixJob(form, form.record);
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

  async function start() {
    if (isStarting.value) return; // a second tap on a slow phone starts nothing twice
    isStarting.value = true;
    try {
      const fields = startFields(
        /** @type {any} */ ({
          ...job,
          plan,
          member: tepal.session.value?.member,
          startedAt: tepal.wall(),
          sprayer: form.sprayer,
          air: airOf(form.air, numberFormat),
        }),
      );
      const started = { record: tepal.book.newId(), step: "end" };
      // one transaction: a phone that dies here wakes up with the start and with the form that knows it
      await tepal.save.create("application", fields, {
        id: started.record,
        keep: draft.withMore(started),
      });
      set(started);
      failure.value = "";
    } catch (error) {
      failure.value = notSaved(error);
    } finally {
      isStarting.value = false;
    }
  }

  const steps = { form, set, draft, ...mixJob, start, failure: failure.value };
  const at = STEPS.indexOf(form.step);
  const state = (/** @type {number} */ i) => (i < at ? "done" : i === at ? "current" : "ahead");
  return frame(
    html`<${Foot} ...${steps} />`,
    html`<${Page} title=${t("apply.title")} isReading=${true}
        actions=${html`<${Button} kind="emergency" icon="emergency" href="/emergency">${t("place.emergency")}<//>`}>
      <${Stem}>
        <${StemStep} title=${t("apply.where")} state=${state(0)} summary=${placeSummary(places, numberFormat)}
            onToggle=${form.record ? undefined : () => set({ step: "where" })}>
          <${WhereStep} ...${steps} /><//>
        <${StemStep} title=${t("apply.mix")} state=${state(1)} summary=${mix?.shown.fields.name ?? ""}
            onToggle=${form.record ? undefined : () => set({ step: "mix" })}>
          <${MixStep} ...${steps} mixes=${mixes} /><//>
        <${StemStep} title=${t("apply.measure")} state=${state(2)}
            detail=${plan && form.step === "measure" ? loadOf(form, plan) : ""} summary=${plan ? plan.volume_text.metric : ""}
            onToggle=${form.record ? undefined : () => set({ step: "measure", loadsMixed: 0 })}>
          <${MeasureStep} ...${steps} /><//>
        <${StemStep} title=${t("apply.spray")} state=${state(3)}><${SprayStep} ...${steps} /><//>
        <${StemStep} title=${t("apply.end")} state=${state(4)}><${EndStep} ...${steps} /><//>
        <${StemStep} title=${t("apply.sign")} state=${state(5)}><${SignStep} ...${steps} /><//>
      <//>
    <//>`,
  );
}

/** @param {ApplyDraft} form @param {import("../core/tank.js").TankPlan} plan */
function loadOf(form, plan) {
  const total = plan.loads.reduce((sum, load) => sum + load.numbers.length, 0);
  return t("apply.load_of", { n: Math.min(form.loadsMixed + 1, total), total });
}

/**
 * HAZARD: the next step's button comes to lie where this one was. The second half of a double tap (`detail` counts them)
 * must neither skip a load nor start the spraying.
 * @param {() => unknown} act
 */
const once = (act) => (/** @type {MouseEvent} */ event) => (event.detail > 1 ? undefined : act());

/** The next step: one button, with the PPE for the act above it. @param {any} props */
function Foot({ form, set, plan, error, used, start, job, placeNames }) {
  const total = plan
    ? plan.loads.reduce((/** @type {number} */ n, /** @type {any} */ load) => n + load.numbers.length, 0)
    : 0;
  if (form.step === "where") {
    const isReady = job.places.length > 0 && job.places.every((/** @type {any} */ p) => p.treated !== null);
    return html`<${FootAct}><${GoButton} isOff=${!isReady} onPress=${once(() => isReady && set({ step: "mix" }))}>
      ${isReady ? t("apply.where_done", { n: job.places.length }) : t("apply.where_first")}<//><//>`;
  }
  if (form.step === "mix") {
    const isReady = plan !== null;
    return html`<${FootAct}><${GoButton} isOff=${!isReady} onPress=${once(() => isReady && set({ step: "measure", loadsMixed: 0 }))}>
      ${isReady ? t("apply.mix_done") : error ? errorText(error, job.numberFormat, placeNames) : t("apply.mix_first")}<//><//>`;
  }
  if (form.step === "measure") {
    const next = () =>
      set(
        form.loadsMixed + 1 >= total
          ? { step: "spray", loadsMixed: total }
          : { loadsMixed: form.loadsMixed + 1 },
      );
    return html`<${FootAct} ppe=${mixingPpe(used)}><${GoButton} onPress=${once(next)}>${t("apply.load_mixed", { n: form.loadsMixed + 1 })}<//><//>`;
  }
  if (form.step === "spray") {
    return html`<${FootAct} ppe=${applyingPpe(used)}><${GoButton} onPress=${once(start)}>${t("apply.start")}<//><//>`;
  }
  return null;
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
