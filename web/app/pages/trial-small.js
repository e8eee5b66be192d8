// The small trial inside a spray order: a few trays stay untreated, by chance, and are measured beside the treated ones.
import { useSignal } from "@preact/signals";
import { useLocation } from "preact-iso";
import { FOUND_SPREADS, smallLayout } from "../core/small_layout.js";
import { useDraft, useRecord, useRecords, useTepal } from "../state/context.js";
import { OFTEN } from "../state/trial-plan.js";
import { Button, GoButton } from "../ui/buttons.js";
import { ChoiceField, SeveralField } from "../ui/choices.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { may } from "./may.js";
import { useNames } from "./record-words.js";

/** @param {{ id: string, fields: any, isSprayed: boolean }} props   Once sprayed, nothing can be left untreated by chance. */
export function SmallTrialLink({ id, fields, isSprayed }) {
  const { session } = useTepal();
  if (fields.trial)
    return html`<div><${Button} icon="trial" href=${`/trials/${fields.trial}`}>${t("small.open")}<//></div>`;
  if (may(session.value, "registers") !== "yes" || fields.cancelled || isSprayed) return null;
  return html`<div><${Button} icon="trial" href=${`/trials/small?order=${id}`}>${t("small.make")}<//></div>`;
}

const START = {
  n: "4",
  unit: "tray",
  codes: ["height"],
  /** @type {string | null} null: the first that is measured */ primary: null,
  days: ["7", "14", "21"],
  line: "0",
};
/** What is sprayed beside what is left: two treatments. */
const N_TREATMENTS = 2;
/** A spread between plots that is usual for height (plan.cv_hint): common practice, no source. */
const USUAL_CV_PCT = 10;

/** @param {{ frame: any, query: Record<string, string> }} props */
export function SmallTrialPage({ frame, query }) {
  const tepal = useTepal();
  const nameOf = useNames();
  const { route } = useLocation();
  const order = useRecord("spray_order", query.order ?? "");
  const trials = useRecords("trial");
  const applications = useRecords("application") ?? [];
  const outcomes = useRecords("order_outcome") ?? [];
  const mix = useRecord("tank_mix", String(order?.shown.fields.tank_mix ?? ""));
  const draft = useDraft(`small-trial/${query.order ?? ""}`, START);
  const failure = useSignal("");
  const isBusy = useSignal(false);
  const title = t("small.title");
  if (!order || trials === null || !draft.ready) {
    return frame(
      null,
      html`<${Page} title=${title}>${order === null && html`<${EmptyState} icon="search" title=${t("order.not_here")} />`}<//>`,
    );
  }
  // an outcome, such as "done partly", says so where the application is not in the book
  const isSprayed = [...applications, ...outcomes].some(
    ({ shown }) => shown.state !== "void" && shown.fields.order === order.id,
  );
  if (order.shown.fields.trial || isSprayed) {
    const leave = html`<${Button} kind="quiet" icon="back" href=${`/orders/${order.id}`}>${t("office.leave")}<//>`;
    return frame(
      null,
      html`<${Page} title=${title} actions=${leave}>${
        order.shown.fields.trial
          ? html`<${EmptyState} icon="trial" title=${t("small.there")}><${Button} icon="trial" href=${`/trials/${order.shown.fields.trial}`}>${t("small.open")}<//><//>`
          : html`<${EmptyState} icon="sprayer" title=${t("small.sprayed")}><p>${t("small.sprayed_why")}</p><//>`
      }<//>`,
    );
  }
  const form = draft.value;
  const name = String(mix?.shown.fields.name ?? t("small.treated"));
  const lines = linesOf(order.shown.fields);
  const primary = form.primary && form.codes.includes(form.primary) ? form.primary : form.codes[0];
  const lack =
    form.codes.length === 0 ? t("small.lack.measure") : form.days.length === 0 ? t("small.lack.when") : "";

  async function make() {
    if (isBusy.value || !order) return;
    isBusy.value = true;
    const treatments = [
      { number: 1, name: t("choice.trial.treatments.role.untreated"), role: "untreated" },
      {
        number: 2,
        name,
        role: "standard",
        ...(order.shown.fields.tank_mix ? { tank_mix: order.shown.fields.tank_mix } : {}),
      },
    ];
    try {
      const id = tepal.book.newId();
      const layout = smallLayout(N_TREATMENTS, Number(form.n), tepal.book.newSeed());
      const place = lines[Number(form.line)] ?? lines[0];
      const fields = trialFields({ ...form, primary }, place, layout, treatments);
      const code = nextCode(trials ?? []);
      const { changesBetween } = tepal.book;
      await tepal.save.all(
        [
          tepal.save.act(
            "trial",
            id,
            "create",
            changesBetween(
              {},
              {
                ...fields,
                code,
                order: order.id,
                title: t("small.of", { mix: name }),
                randomised_at: tepal.wall(),
              },
            ),
          ),
          tepal.save.act(
            "spray_order",
            order.id,
            "change",
            changesBetween(order.shown.fields, { trial: id, treatment: 2 }),
          ),
        ],
        { draft: `small-trial/${order.id}` },
      );
      await draft.clear();
      route(`/trials/${id}`);
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    } finally {
      isBusy.value = false;
    }
  }
  return frame(
    html`<${FootAct}>${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
      <${GoButton} isOff=${Boolean(lack)} onPress=${(/** @type {MouseEvent} */ event) => {
        if (!lack && event.detail <= 1) make();
      }}>${lack || t("small.do", { n: Number(form.n) * N_TREATMENTS })}<//><//>`,
    html`<${Page} title=${title} under=${name} isReading=${true} actions=${html`<${Button} kind="quiet" icon="back" href=${`/orders/${order.id}`}>${t("office.leave")}<//>`}>
      <p>${t("small.why")}</p>
      ${
        lines.length > 1 &&
        html`<${ChoiceField} label=${t("small.where")} hint=${t("small.where_hint")} value=${form.line} onValue=${(/** @type {string} */ line) => draft.merge({ line })}
        choices=${lines.map((line, at) => ({ value: String(at), label: [line.lot && nameOf("lot", line.lot), line.bench && nameOf("bench", line.bench)].filter(Boolean).join(", ") || "–" }))} />`
      }
      <${ChoiceField} label=${t("small.unit")} isShort=${true} value=${form.unit} onValue=${(/** @type {string} */ unit) => draft.merge({ unit })}
        choices=${["tray", "pot", "plant"].map((value) => ({ value, label: t(`choice.trial.unit.${value}`) }))} />
      <${ChoiceField} label=${t("small.n")} hint=${t("small.n_hint")} isShort=${true} value=${form.n} onValue=${(/** @type {string} */ n) => draft.merge({ n })}
        choices=${["3", "4", "5", "6", "8"].map((value) => ({ value, label: value }))} />
      <${Message} tone="plain" title=${t("small.finds", { pct: Math.round(FOUND_SPREADS[form.n] * USUAL_CV_PCT), cv: USUAL_CV_PCT, n: form.n })}><p class="muted small">${t("small.finds_source")}</p><//>
      <${SeveralField} label=${t("small.measure")} values=${form.codes} onValues=${(/** @type {string[]} */ codes) => draft.merge({ codes })}
        choices=${["height", "width", "branches", "flowers", "phytotoxicity"].map((value) => ({ value, label: t(`plan.often.${value}`), detail: t(`plan.often.${value}_is`) }))} />
      ${
        form.codes.length > 1 &&
        html`<${ChoiceField} label=${t("plan.primary")} hint=${t("plan.primary_hint")} value=${primary} onValue=${(/** @type {string} */ code) => draft.merge({ primary: code })}
        choices=${form.codes.map((value) => ({ value, label: t(`plan.often.${value}`) }))} />`
      }
      <${SeveralField} label=${t("small.when")} values=${form.days} onValues=${(/** @type {string[]} */ days) => draft.merge({ days })}
        choices=${["7", "14", "21", "28"].map((value) => ({ value, label: t("plan.days_after", { n: value }) }))} />
      <${Message} tone="plain" title=${t("trial.shared_pass")} />
    <//>`,
  );
}

/** @param {any[]} trials */
export function nextCode(trials) {
  const codes = trials.map((row) => /^T(\d+)$/.exec(String(row.shown.fields.code ?? ""))?.[1] ?? "0");
  return `T${String(Math.max(0, ...codes.map(Number)) + 1).padStart(2, "0")}`;
}

/** The places of an order that are sprayed, each once. @param {any} order @returns {{lot?: string, bench?: string}[]} */
const linesOf = (order) => (order.lines ?? []).filter((/** @type {any} */ line) => !line.untreated);

/**
 * @param {typeof START} form @param {{lot?: string | null, bench?: string | null} | undefined} line  Where it stands.
 * @param {ReturnType<typeof smallLayout>} layout @param {any[]} treatments
 */
function trialFields(form, line, layout, treatments) {
  const place = {
    ...(line?.lot ? { lot: line.lot } : {}),
    ...(line?.bench ? { bench: line.bench } : {}),
  };
  return {
    question: t("small.question"),
    lots: line?.lot ? [line.lot] : null,
    treatments,
    control: 1,
    unit: form.unit,
    treated_how: "shared_pass",
    design: "crd",
    n_blocks: layout.n_blocks,
    plants_per_plot: 1,
    rows: layout.rows,
    columns: layout.columns,
    seed: layout.seed,
    algorithm: layout.algorithm,
    plots: layout.plots.map((plot) => ({ ...plot, ...place })),
    blinded: false,
    primary_response: form.primary,
    measurements: form.codes.map((code) => ({
      code,
      name: t(`plan.often.${code}`),
      definition: t(`plan.often.${code}_is`),
      per: "plant",
      ...OFTEN[code],
    })),
    assessments: [...form.days]
      .sort((a, b) => Number(a) - Number(b))
      .map((day) => ({
        code: `d${day}`,
        name: t("plan.days_after", { n: day }),
        sort: "assessment",
        day: Number(day),
        window: 2,
        measurements: form.codes,
      })),
    comparison: "dunnett",
    two_sided: true,
    alpha: "0.05",
    phase: "planned",
  };
}
