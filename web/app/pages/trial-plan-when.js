// The planner's end: what is measured, with its definition; when; and how the answer will be read.
import { choiceLabel } from "../forms/labels.js";
import { codeOf, OFTEN, sizeQuestion } from "../state/trial-plan.js";
import { Button } from "../ui/buttons.js";
import { ChoiceField, SeveralField } from "../ui/choices.js";
import { NumberField, TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { Contrasts } from "./trial-plan-contrasts.js";
import { Size } from "./trial-plan-how.js";
import { Chosen, RefSelect } from "./trial-plan-what.js";

const TYPES = ["continuous", "count", "proportion", "days", "rating"];

/** @param {any} props */
export function MeasurementsStep({ plan, set, wrong }) {
  const all = plan.measurements;
  const change = (/** @type {number} */ at, /** @type {any} */ more) =>
    set({
      measurements: all.map((/** @type {any} */ one, /** @type {number} */ i) =>
        i === at ? { ...one, ...more } : one,
      ),
    });
  const add = (/** @type {string} */ name, /** @type {any} */ more) => {
    const code = codeOf(
      more.code ?? name,
      all.map((/** @type {any} */ one) => one.code),
    );
    set({
      measurements: [...all, { per: "plant", ...more, code, name }],
      primary_response: plan.primary_response ?? code,
    });
  };
  return html`<div class="stack">
    <div class="row">${Object.entries(OFTEN)
      .filter(([code]) => !all.some((/** @type {any} */ one) => one.code === code))
      .map(
        ([code, about]) =>
          html`<${Button} key=${code} icon="plus" onPress=${() => add(t(`plan.often.${code}`), { ...about, code, definition: t(`plan.often.${code}_is`) })}>${t(`plan.often.${code}`)}<//>`,
      )}
      <${Button} icon="plus" onPress=${() => add("", { code: "m", type: "continuous", decimals: 1 })}>${t("plan.own_measurement")}<//></div>
    ${all.map(
      (
        /** @type {any} */ one,
        /** @type {number} */ at,
      ) => html`<section class="card" key=${one.code}><div class="spread"><h3>${one.name || t("plan.own_measurement")}</h3>
        <${Button} kind="quiet" icon="close" label=${t("plan.remove", { name: one.name })} onPress=${() => set({ measurements: all.filter((/** @type {any} */ other) => other !== one), primary_response: plan.primary_response === one.code ? null : plan.primary_response, assessments: plan.assessments.map((/** @type {any} */ a) => ({ ...a, measurements: (a.measurements ?? []).filter((/** @type {string} */ code) => code !== one.code) })) })}>${t("plan.take_out")}<//></div>
        <${TextField} label=${t("plan.measurement_name")} value=${one.name} maxLength=${120} onValue=${(/** @type {string} */ name) => change(at, { name })} />
        <${TextField} label=${t("plan.definition")} hint=${t("plan.definition_hint")} isLong=${true} value=${one.definition ?? ""} maxLength=${600} onValue=${(/** @type {string} */ definition) => change(at, { definition })} />
        <${RefSelect} label=${t("plan.type")} value=${one.type} options=${TYPES.map((value) => ({ value, label: choiceLabel("trial.measurements.type", value) }))} onValue=${(/** @type {string} */ type) => change(at, { type })} />
        <div class="halves"><${RefSelect} label=${t("plan.per")} value=${one.per ?? "plant"} options=${["plant", "plot"].map((value) => ({ value, label: t(`plan.per.${value}`) }))} onValue=${(/** @type {string} */ per) => change(at, { per })} />
          <${TextField} label=${t("plan.unit_of")} isOptional=${true} value=${one.unit ?? ""} maxLength=${24} onValue=${(/** @type {string} */ unit) => change(at, { unit })} />
          <${NumberField} label=${t("plan.decimals")} error=${wrong(`${at}.decimals`)} isWhole=${true} value=${String(one.decimals ?? "")} onValue=${(/** @type {string} */ decimals) => change(at, { decimals })} /></div>
        <div class="halves"><${NumberField} label=${t("plan.least")} error=${wrong(`${at}.least`)} isOptional=${true} value=${String(one.least ?? "")} onValue=${(/** @type {string} */ least) => change(at, { least })} />
          <${NumberField} label=${t("plan.most")} error=${wrong(`${at}.most`)} isOptional=${true} value=${String(one.most ?? "")} onValue=${(/** @type {string} */ most) => change(at, { most })} /></div>
        <${RefSelect} label=${t("plan.wanted")} value=${one.wanted ?? "none"} options=${["lower", "higher", "none"].map((value) => ({ value, label: choiceLabel("trial.measurements.wanted", value) }))} onValue=${(/** @type {string} */ wanted) => change(at, { wanted })} /></section>`,
    )}
    ${
      all.length > 0 &&
      html`<${ChoiceField} label=${t("plan.primary")} hint=${t("plan.primary_hint")} value=${plan.primary_response} onValue=${(/** @type {string} */ primary_response) => set({ primary_response })}
      choices=${all.map((/** @type {any} */ one) => ({ value: one.code, label: one.name || one.code }))} />`
    }
  </div>`;
}

/** @param {any} props */
export function AssessmentsStep({ plan, set, wrong }) {
  const all = plan.assessments;
  const plain = plan.measurements
    .filter((/** @type {any} */ one) => one.type !== "days")
    .map((/** @type {any} */ one) => one.code);
  const days = plan.measurements
    .filter((/** @type {any} */ one) => one.type === "days")
    .map((/** @type {any} */ one) => one.code);
  const change = (/** @type {number} */ at, /** @type {any} */ more) =>
    set({
      assessments: all.map((/** @type {any} */ one, /** @type {number} */ i) =>
        i === at ? { ...one, ...more } : one,
      ),
    });
  const add = (/** @type {any} */ one) =>
    set({
      assessments: [
        ...all,
        {
          ...one,
          code: codeOf(
            one.code,
            all.map((/** @type {any} */ a) => a.code),
          ),
        },
      ],
    });
  const last = Math.max(0, ...all.map((/** @type {any} */ one) => Number(one.day) || 0));
  const week = (/** @type {number} */ day) => ({
    code: `d${day}`,
    name: t("plan.days_after", { n: day }),
    sort: "assessment",
    day,
    window: 2,
    measurements: plain,
  });
  return html`<div class="stack">
    <div class="row">
      ${!all.some((/** @type {any} */ one) => Number(one.day) === 0) && html`<${Button} icon="plus" onPress=${() => add({ code: "d0", name: t("plan.before"), sort: "assessment", day: 0, window: 1, measurements: plain.slice(0, 1) })}>${t("plan.before")}<//>`}
      <${Button} icon="plus" onPress=${() => add(week(last + 7))}>${t("plan.days_after", { n: last + 7 })}<//>
      ${days.length > 0 && html`<${Button} icon="plus" onPress=${() => add({ code: "round", name: t("trial.round"), sort: "daily_round", day: last || 21, until_day: (last || 21) + 21, measurements: days })}>${t("trial.round")}<//>`}
      <${Button} icon="plus" onPress=${() => add({ code: "harvest", name: choiceLabel("trial.assessments.sort", "harvest"), sort: "harvest", day: last || 42, window: 2, measurements: plain })}>${choiceLabel("trial.assessments.sort", "harvest")}<//>
      <${Button} icon="plus" onPress=${() => add({ code: "warm_up", name: choiceLabel("trial.assessments.sort", "warm_up"), sort: "warm_up", day: 0, window: 3, measurements: plain })}>${choiceLabel("trial.assessments.sort", "warm_up")}<//>
    </div>
    ${days.length > 0 && html`<p class="muted">${t("plan.round_why")}</p>`}
    <p class="muted">${t("plan.observers")}</p>
    ${all.map(
      (
        /** @type {any} */ one,
        /** @type {number} */ at,
      ) => html`<section class="card" key=${one.code}><div class="spread"><h3>${choiceLabel("trial.assessments.sort", one.sort ?? "assessment")}</h3>
        <${Button} kind="quiet" icon="close" label=${t("plan.remove", { name: one.name ?? "" })} onPress=${() => set({ assessments: all.filter((/** @type {any} */ other) => other !== one) })}>${t("plan.take_out")}<//></div>
        <${TextField} label=${t("plan.assessment_name")} value=${one.name ?? ""} maxLength=${120} onValue=${(/** @type {string} */ name) => change(at, { name })} />
        <div class="halves"><${NumberField} label=${t("plan.day")} error=${wrong(`${at}.day`)} isWhole=${true} value=${String(one.day ?? "")} onValue=${(/** @type {string} */ day) => change(at, { day })} />
        ${
          one.sort === "daily_round"
            ? html`<${NumberField} label=${t("plan.until_day")} error=${wrong(`${at}.until_day`)} isWhole=${true} value=${String(one.until_day ?? "")} onValue=${(/** @type {string} */ until_day) => change(at, { until_day })} />`
            : html`<${NumberField} label=${t("plan.window")} error=${wrong(`${at}.window`)} isWhole=${true} value=${String(one.window ?? "")} onValue=${(/** @type {string} */ window) => change(at, { window })} />`
        }</div>
        <${SeveralField} label=${t("plan.measured_then")} values=${one.measurements ?? []} onValues=${(/** @type {string[]} */ measurements) => change(at, { measurements })}
          choices=${plan.measurements.map((/** @type {any} */ m) => ({ value: m.code, label: m.name || m.code }))} /></section>`,
    )}
  </div>`;
}

/** @param {any} props */
export function EndStep({ plan, set, numberFormat, needsReason, wrong }) {
  const heights = plan.measurements.filter((/** @type {any} */ one) => one.type === "continuous");
  const hasFactors =
    plan.factors.length > 1 || plan.treatments.some((/** @type {any} */ one) => one.role === "mix");
  return html`<div class="stack">
    ${sizeQuestion(plan, numberFormat) === null ? html`<${Message} tone="caution" title=${t("plan.no_size")} />` : html`<${Size} plan=${plan} numberFormat=${numberFormat} />`}
    ${hasFactors && html`<${Chosen} label=${t("plan.scale")} hint=${t("plan.scale_hint")} name="trial.interaction_scale" value=${plan.interaction_scale} choices=${["absolute", "multiplicative"]} onValue=${(/** @type {string} */ interaction_scale) => set({ interaction_scale })} />`}
    <${Contrasts} plan=${plan} set=${set} numberFormat=${numberFormat} />
    ${needsReason && html`<${TextField} label=${t("plan.plan_reason")} hint=${t("plan.plan_reason_hint")} isLong=${true} value=${plan.plan_reason} maxLength=${400} onValue=${(/** @type {string} */ plan_reason) => set({ plan_reason })} />`}
    <${NumberField} label=${t("plan.wanted_value")} error=${wrong("wanted_value")} hint=${t("plan.wanted_value_hint")} isOptional=${true} value=${plan.wanted_value} onValue=${(/** @type {string} */ wanted_value) => set({ wanted_value })} />
    ${heights.length > 0 && html`<${RefSelect} label=${t("plan.covariate")} value=${plan.covariate ?? "-"} options=${[{ value: "-", label: t("pick.none") }, ...heights.map((/** @type {any} */ one) => ({ value: one.code, label: one.name }))]} onValue=${(/** @type {string} */ value) => set({ covariate: value === "-" ? null : value })} />`}
  </div>`;
}
