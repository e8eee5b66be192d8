// The planner's middle: what counts as one replicate, how many are needed, and where chance puts them.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { decimalText, formatNumber } from "../core/rounding.js";
import { AskedQuantity } from "../forms/asked-quantity.js";
import { choiceLabel } from "../forms/labels.js";
import { useRecords, useTepal } from "../state/context.js";
import { layoutFits, lotOfBlock } from "../state/plan-problems.js";
import { layoutQuestion, sizeQuestion, undrawn, wholeOf } from "../state/trial-plan.js";
import { Button } from "../ui/buttons.js";
import { ChoiceField, RefField, YesNoField } from "../ui/choices.js";
import { NumberField, TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { areaM2 } from "./bench-area.js";
import { BenchMap } from "./bench-map.js";
import { failureText } from "./device.js";
import { recordName } from "./record-words.js";
import { useSettings } from "./settings-context.js";
import { Chosen, RefSelect } from "./trial-plan-what.js";

const WAIT_MS = 500;

/** @param {any} props */
export function UnitStep({ plan, set }) {
  return html`<div class="stack">
    <${Chosen} label=${t("plan.unit")} hint=${t("plan.unit_hint")} name="trial.unit" value=${plan.unit} choices=${["plant", "pot", "tray", "bench"]} onValue=${(/** @type {string} */ unit) => set({ unit })} />
    <${Chosen} label=${t("plan.treated_how")} name="trial.treated_how" value=${plan.treated_how} choices=${["each_unit_alone", "shared_pass"]} onValue=${(/** @type {string} */ treated_how) => set({ treated_how })} />
    ${
      plan.unit &&
      html`<${Message} tone="plain" title=${t("plan.unit_is", { unit: choiceLabel("trial.unit", plan.unit) })}>
      ${(plan.unit === "tray" || plan.unit === "bench") && html`<p>${t("plan.samples")}</p>`}
      ${plan.treated_how === "shared_pass" && html`<p>${t("trial.shared_pass")}</p>`}
      <p class="muted small">${t("plan.unit_source")}</p><//>`
    }
    <${TextField} label=${t("plan.treated_words")} hint=${t("plan.treated_words_hint")} isLong=${true} isOptional=${true} value=${plan.treated_words} maxLength=${1000} onValue=${(/** @type {string} */ treated_words) => set({ treated_words })} />
  </div>`;
}

/** @param {any} props */
export function DesignStep({ plan, set, numberFormat, wrong }) {
  const whole = (/** @type {any} */ more) =>
    set({ ...more, layout: plan.layout?.isStored ? plan.layout : null });
  return html`<div class="stack">
    <${Chosen} label=${t("plan.design")} name="trial.design" value=${plan.design} choices=${["rcbd", "crd", "latin_square", "split_plot"]} onValue=${(/** @type {string} */ design) => whole({ design })} />
    ${plan.design === "split_plot" && html`<p class="muted">${t("plan.split_how")}</p>`}
    <${NumberField} label=${t(plan.design === "crd" ? "plan.n_replicates" : plan.design === "latin_square" ? "plan.n_squares" : "plan.n_blocks")} isWhole=${true} error=${wrong("n_blocks")} value=${plan.n_blocks} onValue=${(/** @type {string} */ n_blocks) => whole({ n_blocks })} />
    <${NumberField} label=${t("plan.plants")} isWhole=${true} error=${wrong("plants_per_plot")} value=${plan.plants_per_plot} onValue=${(/** @type {string} */ plants_per_plot) => whole({ plants_per_plot })} />
    ${plan.design !== "crd" && html`<${TextField} label=${t("plan.blocks_are")} hint=${t("plan.blocks_are_hint")} isOptional=${true} value=${plan.blocks_are} maxLength=${200} onValue=${(/** @type {string} */ blocks_are) => set({ blocks_are })} />`}
    <${InAll} plan=${plan} />
    <h3>${t("plan.size")}</h3><p class="muted">${t("plan.size_how")}</p>
    <${Comparison} plan=${plan} set=${set} />
    <${NumberField} label=${t("plan.cv")} error=${wrong("cv")} hint=${t("plan.cv_hint")} isOptional=${true} value=${plan.cv} onValue=${(/** @type {string} */ cv) => set({ cv })} />
    <${NumberField} label=${t("plan.difference")} error=${wrong("difference")} isOptional=${true} value=${plan.difference} onValue=${(/** @type {string} */ difference) => set({ difference })} />
    <${ChoiceField} label=${t("plan.power_wanted")} isShort=${true} value=${String(plan.power).replace(/0+$/, "")} onValue=${(/** @type {string} */ power) => set({ power })}
      choices=${["0.8", "0.9"].map((value) => ({ value, label: `${formatNumber(Number(value) * 100, 0, numberFormat)} %` }))} />
    <${Size} plan=${plan} numberFormat=${numberFormat} />
  </div>`;
}

/** Which comparison the trial is made for: chosen before its size is judged. @param {{ plan: any, set: (more: any) => void }} props */
const Comparison = ({ plan, set }) =>
  html`<${Chosen} label=${t("plan.comparison")} hint=${t("plan.comparison_hint")} name="trial.comparison" value=${plan.comparison} choices=${["dunnett", "tukey", "lsd", ...(plan.design === "crd" ? ["games_howell"] : [])]} onValue=${(/** @type {string} */ comparison) => set({ comparison })} />`;

/** How many plots and plants that comes to. @param {{ plan: any }} props */
function InAll({ plan }) {
  const times = wholeOf(plan.n_blocks) ?? 0;
  const n = times * plan.treatments.length * (plan.design === "latin_square" ? plan.treatments.length : 1);
  const plants = n * (wholeOf(plan.plants_per_plot) ?? 0);
  return n > 0 && plants > 0 ? html`<p>${t("plan.plots_in_all", { n, plants })}</p>` : null;
}

/** What a trial of this size can find, said before it starts. @param {{ plan: any, numberFormat: any }} props */
export function Size({ plan, numberFormat }) {
  const tepal = useTepal();
  const answer = useSignal(/** @type {any} */ (null));
  const asked = sizeQuestion(plan, numberFormat);
  const key = JSON.stringify(asked);
  useEffect(() => {
    answer.value = null;
    if (asked === null) return undefined;
    let isHere = true;
    const timer = setTimeout(async () => {
      const got = await tepal.api.post("/trials/size", asked);
      if (isHere) answer.value = got;
    }, WAIT_MS);
    return () => {
      isHere = false;
      clearTimeout(timer);
    };
  }, [key]);
  if (asked === null || answer.value === null) return null;
  if (!answer.value.ok) return html`<${Message} tone="waiting" title=${failureText(answer.value)} />`;
  const { power, detectable_pct, needed_replicates } = answer.value.reply;
  const isEnough = power >= asked.power;
  const pct = (/** @type {number} */ value) => formatNumber(value, 0, numberFormat);
  return html`<${Message} tone=${isEnough ? "passed" : "caution"} live=${true}
      title=${t(isEnough ? "plan.power_enough" : "plan.power_short", { power: pct(power * 100), difference: plan.difference, n: Number(plan.n_blocks) })}>
    ${detectable_pct !== null && html`<p>${t("plan.detectable", { pct: pct(detectable_pct), wanted: pct(asked.power * 100) })}</p>`}
    ${!isEnough && html`<p>${needed_replicates === null ? t("plan.needs_too_many") : t("plan.needs", { n: needed_replicates })}</p>`}
    <p class="muted small">${t("plan.size_source")}</p><//>`;
}

/** @param {any} props */
export function LayoutStep({ plan, set, id, numberFormat, wrong }) {
  const tepal = useTepal();
  const failure = useSignal("");
  const isAsking = useSignal(false);
  const { language } = useSettings();
  const applications = useRecords("application") ?? [];
  const houses = useRecords("house") ?? [];
  const nameOf = (/** @type {string} */ house) =>
    houses.find((row) => row.id === house)?.shown.fields.name ?? "";
  const benches = (useRecords("bench") ?? []).map((row) => ({
    id: row.id,
    name: recordName("bench", row.shown.fields),
    detail: String(nameOf(row.shown.fields.house)),
  }));
  if (plan.isPotted) {
    return html`<div class="stack"><${Message} tone="plain" title=${t("potting.places_stay")} /><${BenchMap} trial=${plan.layout} />
      <${PlotArea} plan=${plan} set=${set} numberFormat=${numberFormat} wrong=${wrong} /></div>`;
  }
  const treatedOn = applications
    .filter(({ shown }) => id !== null && shown.state !== "void" && shown.fields.trial === id)
    .map(({ shown }) => String(shown.fields.started_at?.local ?? "").slice(0, 10))
    .sort()[0];
  const isStored = Boolean(plan.layout?.isStored);
  const needsReason = id !== null && isStored;

  async function draw() {
    if (isAsking.value) return;
    const marked = ["rows", "columns", "guard_rows", "guard_columns", "out_of_use"].some((name) =>
      wrong(name),
    );
    if (marked) {
      failure.value = t("plan.lack.marked");
      return;
    }
    isAsking.value = true;
    const asked = { ...layoutQuestion(plan), ...(id ? { trial: id, reason: plan.reason } : {}) };
    const got = await tepal.api.post("/trials/layout", asked);
    isAsking.value = false;
    failure.value = got.ok ? "" : failureText(got);
    if (got.ok) {
      const { rows, columns, seed, algorithm, plots } = got.reply;
      set({
        ...undrawn(plan),
        layout: { rows, columns, seed, algorithm, plots, design: plan.design },
      });
    }
  }
  const field = (/** @type {string} */ name) =>
    html`<${NumberField} label=${t(`plan.${name}`)} error=${wrong(name)} isWhole=${true} isOptional=${true} value=${plan[name]} onValue=${(/** @type {string} */ value) => set({ [name]: value })} />`;
  return html`<div class="stack">
    <${RefField} label=${t("plan.bench")} isOptional=${true} value=${plan.bench} options=${benches} onValue=${(/** @type {any} */ bench) => set({ bench })} />
    ${
      treatedOn !== undefined
        ? html`<${Message} tone="plain" icon="lock" title=${t("plan.treated_already", { day: treatedOn ? shortDay(treatedOn, language.value) : "–" })} />`
        : html`<p class="muted">${t("plan.cells_how")}</p>
          <div class="halves">${field("rows")}${field("columns")}${field("guard_rows")}${field("guard_columns")}</div>
          <${TextField} label=${t("plan.out_of_use")} hint=${t("plan.out_of_use_hint")} isOptional=${true} error=${wrong("out_of_use")} value=${plan.out_of_use} maxLength=${200} onValue=${(/** @type {string} */ out_of_use) => set({ out_of_use })} />`
    }
    ${treatedOn === undefined && needsReason && html`<${TextField} label=${t("plan.reason")} hint=${t("plan.reason_hint")} value=${plan.reason} maxLength=${400} onValue=${(/** @type {string} */ reason) => set({ reason })} />`}
    ${!layoutFits(plan) && html`<${Message} tone="caution" title=${t("plan.misfit")} />`}
    ${treatedOn === undefined && html`<div><${Button} icon="mix" onPress=${draw}>${t(isAsking.value ? "plan.drawing" : plan.layout ? "plan.draw_again" : "plan.draw")}<//></div>`}
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    <${LotsOfBlocks} plan=${plan} set=${set} />
    ${plan.layout && html`<${BenchMap} trial=${plan.layout} /><p class="muted small">${t("trial.seed", { seed: plan.layout.seed ?? "–", algorithm: plan.layout.algorithm ?? "" })}</p>`}
    <${PlotArea} plan=${plan} set=${set} numberFormat=${numberFormat} wrong=${wrong} />
    <${YesNoField} label=${t("plan.blinded")} value=${plan.blinded} onValue=${(/** @type {boolean} */ blinded) => set({ blinded })} />
  </div>`;
}

/** Of several lots, which stands in which block. @param {{ plan: any, set: (more: any) => void }} props */
function LotsOfBlocks({ plan, set }) {
  const rows = useRecords("lot") ?? [];
  if (plan.lots.length < 2 || !plan.layout) return null;
  const blocks = [
    ...new Set(plan.layout.plots.map((/** @type {any} */ plot) => plot.block).filter(Boolean)),
  ].map(Number);
  if (blocks.length === 0) return html`<p class="muted">${t("plan.crd_lots")}</p>`;
  const options = rows
    .filter((row) => plan.lots.includes(row.id))
    .map((row) => ({ value: row.id, label: recordName("lot", row.shown.fields) }));
  return html`<div class="stack-1"><p class="muted">${t("plan.block_lots_why")}</p><div class="halves">${blocks.map(
    (block) =>
      html`<${RefSelect} key=${block} label=${t("plan.block_lot", { block })} value=${lotOfBlock(plan, block) ?? ""} options=${options}
        onValue=${(/** @type {string} */ lot) => set({ block_lots: { ...plan.block_lots, [String(block)]: lot } })} />`,
  )}</div></div>`;
}

/**
 * What one plot measures and how much more is mixed: from both follows what is mixed for a treatment.
 * @param {any} props
 */
function PlotArea({ plan, set, numberFormat, wrong }) {
  const benches = useRecords("bench") ?? [];
  const bench = benches.find((row) => row.id === plan.bench)?.shown.fields;
  const rows = wholeOf(plan.rows) ?? plan.layout?.rows;
  const columns = wholeOf(plan.columns) ?? plan.layout?.columns;
  const m2 = bench ? areaM2(bench) : null;
  const cell = m2 !== null && rows && columns ? decimalText(m2 / (rows * columns), 3) : null;
  const typed = (/** @type {any} */ plot_area, /** @type {any} */ plotArea) => set({ plot_area, plotArea });
  return html`<div class="stack-1"><${AskedQuantity} label=${t("plan.plot_area")} hint=${t("plan.plot_area_hint")} isOptional=${true} typed=${plan.plot_area} units=${["m2", "[sft_i]"]} numberFormat=${numberFormat} onTyped=${typed} />
    ${
      cell !== null &&
      Number(cell) > 0 &&
      Number(cell) !== Number(plan.plotArea?.value) &&
      html`<div><${Button} icon="check" onPress=${() => typed({ value: cell.replace(".", numberFormat.decimal), unit: "m2" }, { value: cell, unit: "m2" })}>${t("plan.plot_area_of_bench", { area: cell.replace(".", numberFormat.decimal), rows, columns })}<//></div>`
    }
    <${NumberField} label=${t("plan.overage")} error=${wrong("overage")} hint=${t("plan.overage_hint")} isOptional=${true} value=${plan.overage} onValue=${(/** @type {string} */ overage) => set({ overage })} /></div>`;
}
