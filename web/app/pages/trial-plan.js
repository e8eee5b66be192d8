// Planning a trial, on one stem: question, lots, treatments, how they are treated, design, layout, what is measured and when.
import { useSignal } from "@preact/signals";
import { useLocation } from "preact-iso";
import { numberFormatOf } from "../core/number_format.js";
import { choiceLabel } from "../forms/labels.js";
import { useDraft, useRecord, useRecords, useTepal } from "../state/context.js";
import { measuredPlots } from "../state/measure.js";
import { isReplaced, layoutFits, placedPlots, problemsOf } from "../state/plan-problems.js";
import { contrastProblem, judgedChanges } from "../state/trial-contrasts.js";
import { EMPTY, fieldsOf, planOf, STEPS } from "../state/trial-plan.js";
import { Button, GoButton } from "../ui/buttons.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { Stem, StemStep } from "../ui/stem.js";
import { t } from "../ui/words.js";
import { coreText } from "./core-words.js";
import { useWrittenNumbers } from "./establishment.js";
import { may } from "./may.js";
import { HarvestStep } from "./trial-plan-harvest.js";
import { DesignStep, LayoutStep, UnitStep } from "./trial-plan-how.js";
import { LotsStep, QuestionStep, TreatmentsStep } from "./trial-plan-what.js";
import { AssessmentsStep, EndStep, MeasurementsStep } from "./trial-plan-when.js";
import { useProgress } from "./trial-progress.js";

const PARTS = {
  question: QuestionStep,
  lots: LotsStep,
  treatments: TreatmentsStep,
  unit: UnitStep,
  design: DesignStep,
  layout: LayoutStep,
  measurements: MeasurementsStep,
  assessments: AssessmentsStep,
  harvest: HarvestStep,
  end: EndStep,
};

/** @param {{ frame: any }} props */
export function NewTrialPage({ frame }) {
  const trials = useRecords("trial");
  if (trials === null) return frame(null, html`<${Page} title=${t("trial.plan_new")} />`);
  const codes = trials.map((row) => /^T(\d+)$/.exec(String(row.shown.fields.code ?? ""))?.[1] ?? "0");
  const next = Math.max(0, ...codes.map(Number)) + 1;
  const start = { ...EMPTY, code: `T${String(next).padStart(2, "0")}` };
  return html`<${Planner} key="new" frame=${frame} id=${null} row=${null} start=${start} />`;
}

/** @param {{ frame: any, id: string }} props */
export function TrialPlanPage({ frame, id }) {
  const row = useRecord("trial", id);
  const written = useWrittenNumbers();
  if (!row) {
    return frame(
      null,
      html`<${Page} title=${t("trial.plan")}>${row === null && html`<${EmptyState} icon="trial" title=${t("trial.not_here")} />`}<//>`,
    );
  }
  const start = planOf(row.shown.fields, numberFormatOf(written));
  return html`<${Planner} key=${id} frame=${frame} id=${id} row=${row} start=${start} />`;
}

/** @param {{ frame: any, id: string | null, row: any, start: import("../state/trial-plan.js").Plan }} props */
function Planner({ frame, id, row, start }) {
  const tepal = useTepal();
  const { route } = useLocation();
  const numberFormat = numberFormatOf(useWrittenNumbers());
  const draft = useDraft(`trial-plan/${id ?? "new"}`, start);
  const failure = useSignal("");
  const opened = useSignal("");
  const word = may(tepal.session.value, "registers");
  const progress = useProgress(id ?? "", row?.shown.fields ?? {});
  const applications = useRecords("application") ?? [];
  const isSaving = useSignal(false);
  const title = id === null ? t("trial.plan_new") : t("trial.plan");
  if (!draft.ready) return frame(null, html`<${Page} title=${title} />`);
  if (word === "no" || word === "ask") {
    return frame(
      null,
      html`<${Page} title=${title}><${Message} tone="stopped" title=${t("trial.plan_grower")} /><//>`,
    );
  }
  const plan = draft.value;
  const at = STEPS.indexOf(plan.step);
  const set = (/** @type {any} */ more) => {
    failure.value = "";
    draft.merge(more);
  };
  const stored = row?.shown.fields ?? {};
  const hasValues =
    (stored.phase ?? "planned") !== "planned" || Object.values(progress).some((one) => one.n > 0);
  const needsReason = hasValues && judgedChanges(plan, stored, numberFormat).length > 0;
  const problems = problemsOf(plan, numberFormat);
  const isTreated = applications.some(
    ({ shown }) => shown.state !== "void" && id !== null && shown.fields.trial === id,
  );
  const lack = lacks(plan, numberFormat, { needsReason, isTreated, problems });
  const wrongOf = (/** @type {string} */ step) => (/** @type {string} */ field) => {
    const wrong = problems[step]?.[field];
    return wrong ? t(`plan.wrong.${wrong.code}`, wrong.params) : undefined;
  };

  async function save() {
    // a plan that is on file may lack a thing; what is wrong, or would not fit its layout, is not saved
    const stop = STEPS.find(
      (step) => problems[step] || (lack[step] && (step === "end" || step === "layout" || id === null)),
    );
    if (stop) {
      draft.merge({ step: stop });
      failure.value = lack[stop];
      return;
    }
    if (isSaving.value) return;
    isSaving.value = true;
    try {
      const fields = { ...fieldsOf(plan, numberFormat), ...layoutFields(plan, tepal) };
      const record = id ?? tepal.book.newId();
      const why = needsReason ? plan.plan_reason.trim() : null;
      if (row) await tepal.save.change(row, fields, { draft: `trial-plan/${id}` }, why);
      else {
        await tepal.save.create(
          "trial",
          { ...fields, phase: "planned" },
          { id: record, draft: "trial-plan/new" },
        );
      }
      await draft.clear();
      route(`/trials/${record}`);
    } catch (error) {
      const code = /** @type {any} */ (error)?.code;
      failure.value = code
        ? coreText(/** @type {any} */ (error), numberFormat)
        : t("office.not_saved", { cause: String(error) });
    } finally {
      isSaving.value = false;
    }
  }
  const isLast = at === STEPS.length - 1;
  const need = lack[plan.step];
  return frame(
    html`<${FootAct}>${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
      <${GoButton} isOff=${Boolean(need)} onPress=${(/** @type {MouseEvent} */ event) => {
        if (need || event.detail > 1) return;
        if (isLast) save();
        else set({ step: STEPS[at + 1] });
      }}>${need || t(isLast ? "plan.save" : "plan.next")}<//><//>`,
    html`<${Page} title=${title} under=${plan.code} isReading=${true}
        actions=${html`<${Button} kind="quiet" icon="back" href=${id ? `/trials/${id}` : "/trials"}>${t("office.leave")}<//>`}>
      <${Stem}>${STEPS.map((step, i) => {
        const Part = PARTS[/** @type {keyof typeof PARTS} */ (step)];
        // of a plan that is on file every step is there to be opened
        const state = i === at ? "current" : i < at || id !== null ? "done" : "ahead";
        return html`<${StemStep} key=${step} title=${t(`plan.step.${step}`)} state=${state} summary=${summaryOf(plan, step)} isOpen=${opened.value === step}
          onToggle=${() => {
            opened.value = opened.value === step ? "" : step;
          }}><${Part} plan=${plan} set=${set} draft=${draft} id=${id} numberFormat=${numberFormat} needsReason=${needsReason} wrong=${wrongOf(step)} /><//>`;
      })}<//>
      ${id !== null && !isLast && html`<div><${Button} icon="check" onPress=${save}>${t("plan.save_now")}<//></div>`}
    <//>`,
  );
}

/**
 * What keeps a step from being left.
 * @param {import("../state/trial-plan.js").Plan} plan @param {import("../core/rounding.js").NumberFormat} numberFormat
 * @param {{needsReason: boolean, isTreated: boolean, problems: Record<string, any>}} known @returns {Record<string, string>}
 */
function lacks(plan, numberFormat, { needsReason, isTreated, problems }) {
  const lack = lacking(plan, numberFormat, needsReason);
  const layout = layoutFits(plan) ? "" : t(isTreated ? "plan.lack.layout_treated" : "plan.lack.layout");
  return Object.fromEntries(
    STEPS.map((step) => [
      step,
      lack[step] || (problems[step] ? t("plan.lack.marked") : "") || (step === "layout" ? layout : ""),
    ]),
  );
}

/**
 * @param {import("../state/trial-plan.js").Plan} plan @param {import("../core/rounding.js").NumberFormat} numberFormat
 * @param {boolean} needsReason @returns {Record<string, string>}
 */
function lacking(plan, numberFormat, needsReason) {
  const names = plan.treatments.map((one) => (one.name ?? "").trim());
  return {
    question: plan.code.trim() && plan.title.trim() ? "" : t("plan.lack.title"),
    treatments:
      plan.treatments.length < 2
        ? t("plan.lack.treatments")
        : names.some((name, i) => !name || names.indexOf(name) !== i)
          ? t("plan.lack.names")
          : "",
    unit: plan.unit && plan.treated_how ? "" : t("plan.lack.unit"),
    measurements: plan.measurements.length > 0 && plan.primary_response ? "" : t("plan.lack.primary"),
    end: plan.contrasts.some((one) => contrastProblem(one, plan.contrasts, numberFormat).code !== "")
      ? t("plan.lack.contrasts")
      : needsReason && !plan.plan_reason.trim()
        ? t("plan.lack.plan_reason")
        : "",
  };
}

/** The drawn layout as fields; of a stored one only where its plots stand, where that was changed. @param {any} plan @param {any} tepal */
function layoutFields(plan, tepal) {
  const { layout } = plan;
  if (!layout || (layout.isStored && !isReplaced(plan))) return {};
  if (layout.isStored) return { plots: placedPlots(plan) };
  return {
    rows: layout.rows,
    columns: layout.columns,
    seed: layout.seed,
    algorithm: layout.algorithm,
    plots: placedPlots(plan),
    randomised_at: tepal.wall(),
    randomised_why: plan.reason.trim() || null,
  };
}

/** @param {import("../state/trial-plan.js").Plan} plan @param {string} step */
function summaryOf(plan, step) {
  switch (step) {
    case "question":
      return plan.title;
    case "lots":
      return t("plan.sum.lots", { n: plan.lots.length });
    case "treatments":
      return t("plan.sum.treatments", { n: plan.treatments.length });
    case "unit":
      return plan.unit ? t(`choice.trial.unit.${plan.unit}`) : "";
    case "design":
      return `${choiceLabel("trial.design", plan.design)} · ${plan.n_blocks} × ${plan.plants_per_plot}`;
    case "layout":
      return plan.layout
        ? t("plan.sum.plots", { n: measuredPlots(plan.layout).length })
        : t("plan.sum.no_layout");
    case "measurements":
      return plan.measurements.map((one) => one.name).join(", ");
    case "assessments":
      return plan.assessments.map((one) => one.name).join(", ");
    case "harvest":
      return t("harvest.sum", { n: plan.assessments.filter((one) => one.sort === "harvest").length });
    default:
      return "";
  }
}
