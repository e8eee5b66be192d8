// An entry into a restricted area before it was reopened: who, for what, when, in what equipment, and what the rules find.
// A log page: what was done is kept even where it should not have been; the findings stand beside it.
import { useLocation } from "preact-iso";
import { earlyEntryFindings, minutesBefore } from "../core/entry.js";
import { decimalText } from "../core/rounding.js";
import { choiceLabel } from "../forms/labels.js";
import { useDraft, useRecord, useRecords, useTepal } from "../state/context.js";
import { followedRow } from "../state/followed.js";
import { momentAt, msOf, nowText } from "../state/moments.js";
import { stateOf } from "../state/restrictions.js";
import { strictRow } from "../state/strict.js";
import { Button, GoButton } from "../ui/buttons.js";
import { ChoiceField, YesNoField } from "../ui/choices.js";
import { InstantField, NumberField, TextField } from "../ui/fields.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { coreText } from "./core-words.js";
import { useEstablishment } from "./establishment.js";
import { useServerClock } from "./server-clock.js";

const TASKS = ["no_contact", "short_task", "limited_contact", "declared_emergency"];
const EMPTY = {
  who: "",
  /** @type {string | null} */ task: null,
  began: "",
  minutes: "",
  ppe: "",
  /** @type {boolean | null} */ hasPpe: null,
  /** @type {boolean | null} */ isHandLabour: null,
  /** @type {boolean | null} */ isUnforeseen: null,
  reason: "",
  failure: "",
};

/** @param {{ frame: any, id: string }} props */
export function EarlyEntryPage({ frame, id }) {
  const tepal = useTepal();
  const { route } = useLocation();
  const row = useRecord("restriction", id);
  const products = useRecords("product");
  const application = useRecord("application", row?.shown.fields.application ?? "");
  const establishment = useEstablishment();
  const conflicts = useRecords("conflict");
  const logged = (useRecords("early_entry") ?? [])
    .filter((one) => one.shown.state !== "void")
    .map((one) => one.shown.fields);
  const clock = useServerClock();
  const draft = useDraft(`early-entry/${id}`, EMPTY);
  const form = draft.value;
  const back = html`<${Button} kind="quiet" icon="back" href=${`/restrictions/${id}`}>${t("kind.restriction")}<//>`;
  if (!row || !draft.ready) {
    return frame(
      null,
      html`<${Page} title=${t("kind.early_entry")} actions=${back}>
        ${row === null && html`<${EmptyState} icon="search" title=${t("restriction.not_here")} />`}<//>`,
    );
  }
  const applied = application ? [strictRow("application", application, conflicts)] : [];
  const counted = followedRow(strictRow("restriction", row, conflicts), applied, products, clock.nowMs);
  const { state } = stateOf(counted, clock, establishment);
  const began = form.began === "" ? tepal.wall() : momentAt(form.began, tepal.wall().zone);
  const minutes = /^[0-9]{1,4}$/.test(form.minutes.trim()) ? Number(form.minutes) : null;
  const before =
    minutes === null || began === null
      ? 0
      : minutesBefore(logged, form.who, /** @type {number} */ (msOf(began)), minutes);
  const labelPpe = (application?.shown.fields.products ?? [])
    .map((/** @type {any} */ one) => products?.find((product) => product.id === one.product))
    .map((/** @type {any} */ product) => product?.shown.fields.early_entry_ppe)
    .filter(Boolean)
    .filter(
      (/** @type {string} */ ppe, /** @type {number} */ at, /** @type {string[]} */ all) =>
        all.indexOf(ppe) === at,
    );
  const { fields } = counted.shown;
  const isVentilated =
    state.ventilation === null ? fields.ventilation_owed !== true : state.ventilation.is_met;
  const findings =
    form.task === null || minutes === null || began === null
      ? []
      : earlyEntryFindings({
          sort: form.task,
          ended_ms: msOf(fields.ended_at),
          at_ms: msOf(began),
          minutes,
          minutes_before: before,
          is_hand_labour: form.isHandLabour,
          is_double_notice: fields.double_notice ?? null,
          is_ventilation_met: isVentilated,
          has_ppe: form.hasPpe === true,
          is_unforeseen: form.isUnforeseen === true,
          is_adult: null,
        });
  const lacks =
    form.who.trim() === "" ||
    form.task === null ||
    minutes === null ||
    began === null ||
    form.hasPpe === null;

  async function save() {
    if (lacks || began === null || minutes === null) {
      draft.merge({ failure: t("early_entry.first") });
      return;
    }
    const startMs = /** @type {number} */ (msOf(began));
    const ended = new Date(startMs + began.offset_min * 60_000 + minutes * 60_000).toISOString().slice(0, 19);
    try {
      await tepal.save.create(
        "early_entry",
        {
          restriction: id,
          who: form.who.trim(),
          task: form.task,
          began_at: began,
          ended_at: { ...began, local: ended },
          ppe: form.hasPpe ? form.ppe.trim() || labelPpe.join(" · ") || null : t("early_entry.no_ppe"),
          reason: form.reason.trim() || null,
          told_by: tepal.session.value?.member?.id,
        },
        { draft: `early-entry/${id}` },
      );
      await draft.clear();
      route(`/restrictions/${id}`);
    } catch (error) {
      draft.merge({ failure: t("office.not_saved", { cause: String(error) }) });
    }
  }

  const set = draft.merge;
  return frame(
    html`<${FootAct}><${GoButton} isOff=${lacks} onPress=${save}>${t("early_entry.save")}<//><//>`,
    html`<${Page} title=${t("kind.early_entry")} under=${fields.place} actions=${back} isReading=${true}>
      <p>${t("early_entry.why")}</p>
      <${TextField} label=${t("field.who")} value=${form.who} maxLength=${200} onValue=${(/** @type {string} */ who) => set({ who })} />
      <${ChoiceField} label=${t("field.task")} value=${form.task} onValue=${(/** @type {string} */ task) => set({ task })}
        choices=${TASKS.map((value) => ({ value, label: choiceLabel("early_entry.task", value), detail: t(`early_entry.limit.${value}`) }))} />
      <${InstantField} label=${t("restriction.when")} value=${form.began || nowText(tepal.wall())} now=${() => nowText(tepal.wall())}
        onValue=${(/** @type {string} */ value) => set({ began: value })} />
      <${NumberField} label=${t("early_entry.minutes")} isWhole=${true} value=${form.minutes} onValue=${(/** @type {string} */ value) => set({ minutes: value })}
        error=${form.minutes.trim() !== "" && minutes === null ? t("form.not_whole", { value: form.minutes }) : undefined} />
      ${before > 0 && form.task !== "no_contact" && html`<p>${t("early_entry.before", { minutes: decimalText(before, 0) })}</p>`}
      ${form.task !== null && form.task !== "no_contact" && html`<${YesNoField} label=${t("early_entry.hand_labour")} value=${form.isHandLabour} onValue=${(/** @type {boolean} */ isHandLabour) => set({ isHandLabour })} />`}
      ${form.task === "limited_contact" && html`<${YesNoField} label=${t("early_entry.unforeseen")} value=${form.isUnforeseen} onValue=${(/** @type {boolean} */ isUnforeseen) => set({ isUnforeseen })} />`}
      <${YesNoField} label=${labelPpe.length > 0 ? t("early_entry.ppe", { ppe: labelPpe.join(" · ") }) : t("early_entry.ppe_unknown")} value=${form.hasPpe}
        onValue=${(/** @type {boolean} */ hasPpe) => set({ hasPpe })} />
      ${form.hasPpe && labelPpe.length === 0 && html`<${TextField} label=${t("early_entry.ppe_worn")} value=${form.ppe} onValue=${(/** @type {string} */ ppe) => set({ ppe })} />`}
      <${TextField} label=${t("early_entry.reason")} isOptional=${true} isLong=${true} value=${form.reason} onValue=${(/** @type {string} */ reason) => set({ reason })} />
      ${findings.map((finding) => html`<${Message} key=${finding.code} tone="stopped" title=${coreText(finding)}><p class="muted">${finding.source}</p><//>`)}
      ${findings.length > 0 && html`<p>${t("early_entry.kept_anyway")}</p>`}
      ${form.failure && html`<${Message} tone="stopped" title=${form.failure} live=${true} />`}
    <//>`,
  );
}
