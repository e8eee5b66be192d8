// A mix, from the places it is for to what is measured, with how every amount comes about. Nothing here is a record: it is
// the plan that Apply goes on with, and that the mixing sheet prints.
import { useEffect } from "preact/hooks";
import { useLocation } from "preact-iso";
import { AskedQuantity } from "../forms/asked-quantity.js";
import { useDraft, useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { AirPanel } from "./air-panel.js";
import { mixingPpe } from "./apply-measure.js";
import { MixStep, WhereStep } from "./apply-where.js";
import { Findings, Measures } from "./measures.js";
import { useMixJob } from "./mix-job.js";
import { MixReckoning } from "./mix-reckoning.js";
import { MixShares } from "./mix-shares.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("./mix-job.js").MixJob} MixJob */

const EMPTY_MIX = {
  /** @type {string[]} */ places: [],
  /** @type {Record<string, {value: string, unit: string}>} */ areas: {},
  /** @type {Record<string, number>} */ containers: {},
  /** @type {string | null} */ mix: null,
  tank: { value: "", unit: "L" },
  /** @type {string | null} */ sprayer: null,
  /** @type {{value: string, unit: string} | null} */ ph: null,
  typedPh: { value: "", unit: "[pH]" },
  air: { temperature: { value: "", unit: "Cel" }, humidity: { value: "", unit: "%" } },
  /** @type {{at: string, flux: {value: string, unit: string}}[]} */ light: [],
};

/** What Apply and this page share of a form. */
const SHARED = [
  "places",
  "areas",
  "typedAreas",
  "containers",
  "typedContainers",
  "mix",
  "tank",
  "typedTank",
  "sprayer",
];

/** @param {Record<string, any>} form */
const sharedOf = (form) =>
  Object.fromEntries(SHARED.filter((name) => form[name] !== undefined).map((name) => [name, form[name]]));

/** @param {{ frame: any, query: Record<string, string> }} props */
export function MixPage({ frame, query }) {
  const tepal = useTepal();
  const { route } = useLocation();
  const draft = useDraft("mix", EMPTY_MIX);
  const form = draft.value;
  const mixJob = useMixJob(form);

  useEffect(() => {
    if (!draft.ready) return;
    if (query.from === "apply")
      tepal.book.readDraft("apply").then((kept) => kept && draft.merge(/** @type {any} */ (sharedOf(kept))));
    else if (query.mix) draft.merge({ mix: query.mix });
  }, [draft.ready, query.from, query.mix]);

  if (!draft.ready || mixJob === null)
    return frame(null, html`<${Page} title=${t("mix.title")}><p role="status">${t("apply.reading")}</p><//>`);
  if (mixJob.all.length === 0 || mixJob.rows.tank_mix.length === 0)
    return frame(null, html`<${NothingYet} mixJob=${mixJob} />`);

  /** Go on in Apply with what stands here; an application that runs there is not touched. */
  async function applyIt() {
    const kept = (await tepal.book.readDraft("apply")) ?? {};
    if (!kept.record)
      await tepal.book.writeDraft("apply", { ...kept, ...sharedOf(form), step: "mix", loadsMixed: 0 });
    route("/apply");
  }

  const steps = { form, set: draft.merge, ...mixJob };
  return frame(
    html`<${SheetFoot} mixJob=${mixJob} form=${form} />`,
    html`<${Page} title=${t("mix.title")} under=${mixJob.mix?.shown.fields.name ?? t("mix.under")}
        actions=${html`<${Button} kind="quiet" icon="sprayer" onPress=${applyIt}>${t("mix.apply")}<//>`}>
      <div class="mix-columns">
        <div class="stack-5">
          <h2>${t("apply.where")}</h2><${WhereStep} ...${steps} />
          <h2>${t("apply.mix")}</h2><${MixStep} ...${steps} mixes=${mixJob.rows.tank_mix} />
          <${AskedQuantity} label=${t("mix.water_ph")} isOptional=${true} typed=${form.typedPh} units=${["[pH]"]} numberFormat=${mixJob.job.numberFormat}
            onTyped=${(/** @type {any} */ typedPh, /** @type {any} */ ph) => draft.merge({ typedPh, ph })} />
        </div>
        <div class="stack-5"><${Result} mixJob=${mixJob} />
          <${AirPanel} air=${form.air} light=${form.light} numberFormat=${mixJob.job.numberFormat}
            onAir=${(/** @type {any} */ air) => draft.merge({ air })} onLight=${(/** @type {any} */ light) => draft.merge({ light })} /></div>
      </div>
    <//>`,
  );
}

/** What came out; a stop stands in the place of the amounts. @param {{ mixJob: MixJob }} props */
function Result({ mixJob }) {
  const { plan, job, placeNames, used } = mixJob;
  if (plan === null)
    return html`<${EmptyState} icon="mix" title=${t("mix.nothing")}><p class="muted">${t("mix.nothing_why")}</p><//>`;
  const stops = plan.findings.filter((finding) => finding.severity === "stop");
  const mayMix = !stops.some((finding) => finding.code.startsWith("mix."));
  return html`<${Findings} plan=${plan} numberFormat=${job.numberFormat} placeNames=${placeNames} />
    ${stops.length > 0 && html`<${Message} tone="stopped" title=${t("mix.no_amounts")} />`}
    ${
      stops.length === 0 &&
      html`<section class="stack"><h2>${t("mix.measure")}</h2>
        <${Message} tone="plain" icon="glove" title=${mixingPpe(used)} />
        ${plan.loads.map(
          (load) => html`<div class="stack" key=${load.numbers[0]}>
            <h3>${t(load.numbers.length === 1 ? "mix.load" : "mix.loads", { numbers: load.numbers.join(", "), metric: load.volume_text.metric, us: load.volume_text.us })}</h3>
            <${Measures} load=${load} plan=${plan} numberFormat=${job.numberFormat} /></div>`,
        )}
        <${Order} plan=${plan} /></section>`
    }
    ${mayMix && html`<${MixReckoning} mixJob=${mixJob} /><${MixShares} mixJob=${mixJob} />`}`;
}

/** The order of mixing, each place with where it comes from. @param {{ plan: import("../core/tank.js").TankPlan }} props */
function Order({ plan }) {
  return html`<details><summary>${t("mix.order_why")}</summary>
    <ol class="steps">${plan.steps.map((step) => {
      const component = plan.components.find((one) => one.id === step.component_id);
      return html`<li key=${step.component_id}><b>${component?.product_name}</b>
        <span class="muted"> ${t("apply.source", { source: step.source })}</span></li>`;
    })}</ol><p class="muted">${t("mix.order_label")}</p></details>`;
}

/** @param {{ mixJob: MixJob, form: typeof EMPTY_MIX }} props */
function SheetFoot({ mixJob, form }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const { plan, job } = mixJob;
  const unsent = tepal.sync.value.unsent;
  if (plan === null) return html`<${FootAct}><${GoButton} isOff=${true}>${t("mix.sheet_first")}<//><//>`;
  const query = new URLSearchParams({
    tank_mix: job.mix.id,
    tank: `${job.tank.value}:${job.tank.unit}`,
    language: language.value,
  });
  for (const place of job.places) {
    const area = place.treated ? `${place.treated.value}:${place.treated.unit}` : ":";
    query.append("place", `${place.bench.id}:${place.lot?.id ?? ""}:${area}:${place.containers ?? ""}`);
  }
  if (form.sprayer) query.set("sprayer", form.sprayer);
  if (form.ph) query.set("water_ph", form.ph.value);
  return html`<${FootAct}>
    ${unsent > 0 && html`<p class="muted small">${t("mix.sheet_unsent", { n: unsent })}</p>`}
    <${GoButton} href=${tepal.api.url(`/papers/mixing-sheet?${query}`)} isNewTab=${true}>${t("mix.sheet")}<//><//>`;
}

/** @param {{ mixJob: MixJob }} props */
function NothingYet({ mixJob }) {
  const lacksBench = mixJob.all.length === 0;
  return html`<${Page} title=${t("mix.title")} isReading=${true}>
    <${EmptyState} icon=${lacksBench ? "house" : "mix"} title=${t(lacksBench ? "apply.no_bench" : "apply.no_mix")}>
      <${Button} href=${lacksBench ? "/houses" : "/mixes"}>${t(lacksBench ? "place.houses" : "place.mixes")}<//><//>
    <${Message} tone="waiting"><p>${t("apply.need_signal_once")}</p><//><//>`;
}
