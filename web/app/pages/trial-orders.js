// The treatment day of a trial: each treatment becomes an ordinary spray order, with its own checks, restriction and record.
import { useSignal } from "@preact/signals";
import { useDraft, useRecord, useRecords, useTepal } from "../state/context.js";
import { measuredPlots } from "../state/measure.js";
import { appliedOf, inTurn, orderFields, orderProblem, ordersOf } from "../state/trial-orders.js";
import { needsPermit } from "../state/trial-plan.js";
import { Button, GoButton } from "../ui/buttons.js";
import { RefField, SeveralField } from "../ui/choices.js";
import { DateField } from "../ui/fields.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message, StateChip } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { may } from "./may.js";
import { OrderState, useOrders } from "./order-words.js";
import { recordName, useNames } from "./record-words.js";
import { useSettings } from "./settings-context.js";
import { OffLabelList, useOffLabel } from "./trial-authority.js";
import { living } from "./trial-plan-what.js";
import { treatmentName } from "./trial-words.js";

const START = {
  /** @type {number[] | null} null: those without an order */ chosen: null,
  day: "",
  /** @type {string | null} */ operator: null,
  /** @type {string | null} */ sprayer: null,
};

/** @param {{ frame: any, id: string }} props */
export function TrialOrdersPage({ frame, id }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const nameOf = useNames();
  const row = useRecord("trial", id);
  const orders = useOrders();
  const draft = useDraft(`trial-orders/${id}`, START);
  const members = useRecords("member") ?? [];
  const sprayers = useRecords("sprayer") ?? [];
  const applications = useRecords("application") ?? [];
  const off = useOffLabel({ treatments: row?.shown.fields.treatments ?? [], lots: row?.shown.fields.lots });
  const failure = useSignal("");
  const isBusy = useSignal(false);
  const title = t("trial_day.title");
  const back = html`<${Button} kind="quiet" icon="back" href=${`/trials/${id}`}>${t("trial_day.back")}<//>`;
  if (!row || orders === null || !draft.ready) {
    return frame(
      null,
      html`<${Page} title=${title}>${row === null && html`<${EmptyState} icon="trial" title=${t("trial.not_here")} />`}<//>`,
    );
  }
  const trial = row.shown.fields;
  if (measuredPlots(trial).length === 0) {
    return frame(
      null,
      html`<${Page} title=${title} actions=${back}><${EmptyState} icon="trial" title=${t("trial_day.no_layout")}><${Button} href=${`/trials/${id}/plan`}>${t("trial.plan")}<//><//><//>`,
    );
  }
  const rows = orders.map((one) => one.row);
  const turn = inTurn(trial);
  const can = turn.filter((one) => orderProblem(trial, one) === "");
  const form = draft.value;
  const chosen = (
    form.chosen ??
    can
      .filter(
        ({ number }) =>
          ordersOf(rows, id, number).length === 0 && appliedOf(applications, id, number).length === 0,
      )
      .map((one) => one.number)
  ).filter((number) => can.some((one) => one.number === number));
  const word = may(tepal.session.value, "registers");
  const today = tepal.wall().local.slice(0, 10);
  const day = form.day || today;
  const choices = (/** @type {any[]} */ list, /** @type {string} */ kind) =>
    living(list).map((one) => ({ id: one.id, name: recordName(kind, one.shown.fields) }));

  async function make() {
    if (isBusy.value || chosen.length === 0) return;
    isBusy.value = true;
    try {
      const action = word === "ask" ? "propose" : "create";
      await tepal.save.all(
        orderFields(id, trial, chosen, { ...form, day }).map((fields) =>
          tepal.save.act("spray_order", tepal.book.newId(), action, tepal.book.changesBetween({}, fields)),
        ),
        { draft: `trial-orders/${id}` },
      );
      failure.value = "";
      await draft.clear();
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    } finally {
      isBusy.value = false;
    }
  }
  const isWriting = word !== "no" && can.length > 0;
  return frame(
    isWriting
      ? html`<${FootAct}>${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
          <${GoButton} isOff=${chosen.length === 0} onPress=${(/** @type {MouseEvent} */ event) => {
            if (event.detail <= 1) make();
          }}>${chosen.length === 0 ? t("trial_day.none_chosen") : t(word === "ask" ? "trial_day.propose" : "trial_day.do", { n: chosen.length })}<//><//>`
      : null,
    html`<${Page} title=${title} under=${[trial.code, trial.title].filter(Boolean).join(" · ")} isReading=${true} actions=${back}>
      <p>${t("trial_day.why")}</p>
      ${
        trial.permit
          ? html`<${Message} tone="plain" title=${t("trial_day.permit", { permit: nameOf("permit", trial.permit) ?? "–" })} />`
          : (needsPermit({ treatments: trial.treatments ?? [] }) || off.length > 0) &&
            html`<${Message} tone="caution" title=${t("trial_day.no_permit")}><${OffLabelList} found=${off} /><p>${t("plan.authority_why")}</p><${Button} icon="pencil" href=${`/trials/${id}/plan`}>${t("trial.plan")}<//><//>`
      }
      <section class="stack"><h2>${t("trial_day.in_turn")}</h2><p class="muted">${t("trial_day.in_turn_why")}</p>
      <ul class="list">${turn.map((one) => {
        const own = orders.filter(({ row: order }) => ordersOf([order], id, one.number).length > 0);
        const problem = orderProblem(trial, one);
        // an application of an order stands with the order
        const loose = appliedOf(applications, id, one.number).filter(
          ({ shown }) => !own.some(({ row: order }) => order.id === shown.fields.order),
        );
        return html`<li class="list-row" key=${one.number}><span class="choice-text"><b>${treatmentName(one)}</b>
          <span class="choice-detail">${problem ? t(`trial_day.${problem}`) : nameOf("tank_mix", one.tank_mix)}</span>
          ${own.map(
            ({
              row: order,
              state,
            }) => html`<a class="row" key=${order.id} href=${`/orders/${order.id}`}><${OrderState} state=${state} />
              <span>${order.shown.fields.window_from ? shortDay(order.shown.fields.window_from, language.value) : t("order.any_day")}</span></a>`,
          )}
          ${loose.map(
            ({
              id: application,
              shown,
            }) => html`<a class="row" key=${application} href=${`/applications/${application}`}><${StateChip} tone="passed" icon="check">${t("trial_day.applied")}<//>
              <span>${shortDay(String(shown.fields.started_at?.local ?? "").slice(0, 10), language.value)}</span></a>`,
          )}
          ${problem === "" && own.length + loose.length === 0 && html`<span><${StateChip} tone="plain">${t("trial_day.no_order")}<//></span>`}</span></li>`;
      })}</ul></section>
      ${
        word === "yes" &&
        turn.some((one) => ["no_mix", "no_area", "no_bench", "no_plot"].includes(orderProblem(trial, one))) &&
        html`<div><${Button} icon="pencil" href=${`/trials/${id}/plan`}>${t("trial.plan")}<//></div>`
      }
      <${Message} tone="caution" icon="sprayer" title=${t("trial_day.rinse")}><p>${t("trial_day.rinse_why")}</p><//>
      ${
        isWriting &&
        html`<section class="stack"><h2>${t("trial_day.new")}</h2>
        <${SeveralField} label=${t("trial_day.which")} hint=${t("trial_day.which_hint")} values=${chosen.map(String)} onValues=${(/** @type {string[]} */ values) => draft.merge({ chosen: values.map(Number) })}
          choices=${can.map((one) => ({ value: String(one.number), label: treatmentName(one) }))} />
        <${DateField} label=${t("trial_day.day")} value=${day} onValue=${(/** @type {string} */ value) => draft.merge({ day: value })} />
        <${RefField} label=${t("field.operator")} isOptional=${true} value=${form.operator} options=${choices(members, "member")} onValue=${(/** @type {string | null} */ operator) => draft.merge({ operator })} />
        <${RefField} label=${t("kind.sprayer")} isOptional=${true} value=${form.sprayer} options=${choices(sprayers, "sprayer")} onValue=${(/** @type {string | null} */ sprayer) => draft.merge({ sprayer })} />
        <p class="muted small">${t("office.saved_here_first")}</p></section>`
      }
    <//>`,
  );
}
