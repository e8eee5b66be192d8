// Apply: the saving acts. Starting creates the application and its restrictions in one transaction, so that "being sprayed"
// goes out at once where there is signal; ending closes both. What the form goes on with is in the same transaction.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { useLocation } from "preact-iso";
import { keptChecks } from "../state/answers.js";
import { startFields } from "../state/apply.js";
import {
  batchesIn,
  batchesOf,
  fromOrder,
  inTankUnit,
  isBegun,
  isOtherBegun,
  lastOf,
} from "../state/apply-draft.js";
import { useRecords, useTepal } from "../state/context.js";
import { plannedPlots } from "../state/measure.js";
import { momentAt } from "../state/moments.js";
import { restrictionAtEnd, restrictionsAtStart } from "../state/restrictions.js";
import { t } from "../ui/words.js";
import { airOf } from "./air-panel.js";
import { useEstablishment } from "./establishment.js";

/** @param {unknown} error */
export const notSaved = (error) =>
  t("apply.not_saved", { why: error instanceof Error ? error.message : String(error) });

/** @param {any} draft @param {any} mixJob @param {any[]} told @param {any} failure */
export function useApplyActs(draft, mixJob, told, failure) {
  const tepal = useTepal();
  const establishment = useEstablishment();
  const restrictions = useRecords("restriction") ?? [];
  const orders = useRecords("spray_order") ?? [];
  const trials = useRecords("trial") ?? [];
  const batches = useRecords("batch") ?? [];
  const isBusy = useSignal(false);
  const form = draft.value;

  /** A second tap on a slow phone does nothing twice. @param {() => Promise<string>} work  Resolves to what is wrong, or "". */
  async function alone(work) {
    if (isBusy.value) return;
    isBusy.value = true;
    try {
      failure.value = await work();
    } catch (error) {
      failure.value = notSaved(error);
    } finally {
      isBusy.value = false;
    }
  }

  /** When it happened: now, or what was typed where it is entered later. @param {string} text */
  function happenedAt(text) {
    const now = tepal.wall();
    if (!form.isLater) return { at: now, problem: "" };
    const at = momentAt(text, now.zone);
    if (at === null) return { at: now, problem: t("restriction.time_first") };
    if (at.local > now.local) return { at: now, problem: t("restriction.not_in_future") };
    return { at, problem: "" };
  }

  /** What the steps before the start gave. */
  function given() {
    const order = orders.find((row) => row.id === form.order)?.shown.fields;
    const unworn = /** @type {const} */ (["mixing", "applying"])
      .filter((act) => !form.worn[act])
      .map((act) => ({
        code: "checks.ppe_not_ticked",
        severity: "caution",
        about: null,
        answer: `${t(`apply.not_ticked_${act}`)}: ${form.notWorn[act].trim()}`.slice(0, 400),
      }));
    return {
      order: form.order,
      trial: order?.trial ?? null,
      plots: plannedPlots(trials.find((row) => row.id === order?.trial)?.shown.fields, order?.treatment),
      permit: form.permit,
      checks: [...keptChecks(told, form.answers, (value) => t(`check.answer.${value}`)), ...unworn].slice(
        0,
        200,
      ),
      ppe_mixing_worn: form.worn.mixing,
      ppe_applying_worn: form.worn.applying,
      heard_at: tepal.heard.value?.server.slice(0, 24) ?? null,
      entered_later: form.isLater ? true : null,
      water_due_at: momentAt(form.waterDue ?? "", tepal.wall().zone),
    };
  }

  const start = () =>
    alone(async () => {
      const { at, problem } = happenedAt(form.startedText);
      if (problem) return problem;
      const { job, plan, sprayer } = mixJob;
      const fields = startFields({
        ...job,
        plan,
        member: tepal.session.value?.member,
        startedAt: at,
        sprayer,
        air: airOf(form.air, job.numberFormat),
        batches: batchesIn(form.batches, batchesOf(mixJob.used, batches)),
        more: given(),
      });
      const { newId, changesBetween } = tepal.book;
      const application = newId();
      const group = newId();
      const rows = restrictionsAtStart({ application, fields, establishment, newId });
      const started = { record: application, step: "end" };
      const act = (/** @type {string} */ kind, /** @type {string} */ id, /** @type {any} */ values) => ({
        ...tepal.save.act(kind, id, "create", changesBetween({}, values)),
        group,
      });
      // one transaction: a phone that dies here wakes up with the start and with the form that knows it
      await draft.together(started, (/** @type {any} */ keep) =>
        tepal.save.all(
          [
            act("application", application, fields),
            ...rows.map((one) => act("restriction", one.id, one.fields)),
          ],
          { keep },
        ),
      );
      return "";
    });

  /** @param {import("../sync/port.js").RecordRow | null | undefined} record @param {any} how */
  const end = (record, how) =>
    alone(async () => {
      if (!record) return "";
      const { at, problem } = happenedAt(form.endedText);
      if (problem) return problem;
      const startedAt = record.shown.fields.started_at?.local ?? "";
      if (at.local < startedAt) return t("apply.ends_before_start");
      const change = (/** @type {any} */ row, /** @type {any} */ wanted) =>
        tepal.save.act(row.kind, row.id, "change", tepal.book.changesBetween(row.shown.fields, wanted));
      const mine = restrictions.filter((row) => row.shown.fields.application === record.id);
      const acts = [
        change(record, { ...how, ended_at: at }),
        ...mine.map((row) => change(row, restrictionAtEnd(record.shown.fields, at))),
      ].filter((act) => Object.keys(act.changes).length > 0);
      await draft.together({ step: "sign" }, (/** @type {any} */ keep) => tepal.save.all(acts, { keep }));
      return "";
    });

  return { start, end, isBusy: isBusy.value };
}

/**
 * An order in the address fills the form, once, and only where nothing else was begun.
 * @param {string | undefined} id @param {any} draft @param {any} mixJob
 */
export function useOrder(id, draft, mixJob) {
  const tepal = useTepal();
  const { route } = useLocation();
  const orders = useRecords("spray_order");
  const trials = useRecords("trial");
  const order = id ? (orders ?? []).find((row) => row.id === id) : undefined;
  const isReady = draft.ready && mixJob !== null && order !== undefined && trials !== null;
  useEffect(() => {
    if (!isReady || !order || isOtherBegun(draft.value, order.id)) return;
    if (draft.value.order !== id) {
      const last = lastOf(mixJob.rows.application, tepal.session.value?.member?.id);
      const capacity = last?.shown.fields.tank_capacity;
      draft.merge(
        fromOrder({
          id: order.id,
          fields: order.shown.fields,
          all: mixJob.all,
          sprayers: mixJob.rows.sprayer,
          trial: trials?.find((row) => row.id === order.shown.fields.trial)?.shown.fields,
          lastTank: capacity ? inTankUnit(capacity) : null,
        }),
      );
    }
    route("/apply", true);
  }, [isReady, id, draft.value.order, isBegun(draft.value)]);
}
