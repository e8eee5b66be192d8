// The planner's harvests: what is cut, from which plants, how it is weighed and by whom. The plants are drawn by chance
// before anybody sees how they grew: who picks them by eye picks the result.
import { useSignal } from "@preact/signals";
import { AskedQuantity } from "../forms/asked-quantity.js";
import { choiceLabel } from "../forms/labels.js";
import { useRecords, useTepal } from "../state/context.js";
import { codeOf, harvestQuestion, looksOfHarvest, OFTEN, undrawn } from "../state/trial-plan.js";
import { Button } from "../ui/buttons.js";
import { RefField, SeveralField } from "../ui/choices.js";
import { NumberField, TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { failureText } from "./device.js";
import { Chosen, RefSelect } from "./trial-plan-what.js";

const PARTS = ["shoot", "shoot_and_roots", "leaves", "stems", "flowers", "roots"];
const START = { part: "shoot", plants_per_plot: "1", blocks: [], weighing: "dry" };
const DAYS = 42;

/** @param {any} props */
export function HarvestStep({ plan, set, numberFormat, wrong }) {
  const tepal = useTepal();
  const failure = useSignal("");
  const members = (useRecords("member") ?? [])
    .filter((row) => row.shown.state !== "void")
    .map((row) => ({ id: row.id, name: String(row.shown.fields.name ?? "") }));
  const looks = looksOfHarvest(plan);
  const rowOf = (/** @type {string} */ code) => ({
    assessment: code,
    ...START,
    ...plan.harvests.find((/** @type {any} */ one) => one.assessment === code),
  });
  /** @param {string} code @param {any} more @param {boolean} [drawsAnew] */
  function change(code, more, drawsAnew = false) {
    const others = plan.harvests.filter((/** @type {any} */ one) => one.assessment !== code);
    const harvests = [...others, { ...rowOf(code), ...more }];
    set(drawsAnew ? undrawn({ ...plan, harvests }) : { harvests });
  }
  function add() {
    const taken = plan.assessments.map((/** @type {any} */ one) => one.code);
    const code = codeOf("harvest", taken);
    const last = Math.max(0, ...plan.assessments.map((/** @type {any} */ one) => Number(one.day) || 0));
    const known = plan.measurements
      .map((/** @type {any} */ one) => one.code)
      .filter((/** @type {string} */ one) => one.includes("weight"));
    // a harvest at which nothing is weighed has nothing to enter: what is usual comes with it
    const weight = { ...OFTEN.dry_weight, code: "dry_weight", per: "plant" };
    const added =
      known.length > 0
        ? []
        : [{ ...weight, name: t("plan.often.dry_weight"), definition: t("plan.often.dry_weight_is") }];
    const weights = known.length > 0 ? known : ["dry_weight"];
    const name = choiceLabel("trial.assessments.sort", "harvest");
    set({
      measurements: [...plan.measurements, ...added],
      assessments: [
        ...plan.assessments,
        { code, name, sort: "harvest", day: last || DAYS, window: 1, measurements: weights },
      ],
      harvests: [...plan.harvests, { assessment: code, ...START }],
    });
  }
  async function draw() {
    const asked = harvestQuestion({
      ...plan,
      harvests: looks.map((/** @type {any} */ one) => rowOf(one.code)),
    });
    if (asked === null) return;
    const got = await tepal.api.post("/trials/harvests", asked);
    failure.value = got.ok ? "" : failureText(got);
    if (!got.ok) return;
    const drawn = new Map(got.reply.harvests.map((/** @type {any} */ one) => [one.assessment, one.plants]));
    set({
      harvests: looks.map((/** @type {any} */ { code }) => ({
        ...rowOf(code),
        plants: drawn.get(code) ?? null,
      })),
      harvest_seed: got.reply.seed,
    });
  }
  const blocks = [
    ...new Set((plan.layout?.plots ?? []).map((/** @type {any} */ plot) => plot.block).filter(Boolean)),
  ].map(String);
  return html`<div class="stack"><p class="muted">${t("harvest.why")}</p>
    ${looks.map((/** @type {any} */ look) => {
      const row = rowOf(look.code);
      const isDry = row.weighing !== "fresh";
      const tell = (/** @type {any} */ more) => change(look.code, more);
      return html`<section class="card" key=${look.code}><h3>${look.name || look.code} · ${t("plan.days_after", { n: look.day || 0 })}</h3>
        <${RefSelect} label=${t("harvest.part")} value=${row.part} options=${PARTS.map((value) => ({ value, label: choiceLabel("trial.harvests.part", value) }))} onValue=${(/** @type {string} */ part) => tell({ part })} />
        <${NumberField} label=${t(plan.isPotted ? "harvest.per_liner_plot" : "harvest.per_plot")} hint=${t("harvest.per_plot_hint")} error=${wrong(`${look.code}.plants_per_plot`)} isWhole=${true} value=${row.plants_per_plot} onValue=${(/** @type {string} */ n) => change(look.code, { plants_per_plot: n }, true)} />
        ${blocks.length > 1 && html`<${SeveralField} label=${t("harvest.blocks")} hint=${t("harvest.blocks_hint")} isOptional=${true} values=${row.blocks ?? []} onValues=${(/** @type {string[]} */ values) => change(look.code, { blocks: values }, true)} choices=${blocks.map((value) => ({ value, label: t("measure.block", { block: value }) }))} />`}
        <${Chosen} label=${t("harvest.weighing")} name="trial.harvests.weighing" value=${row.weighing} choices=${["fresh", "dry", "fresh_and_dry"]} onValue=${(/** @type {string} */ weighing) => tell({ weighing })} />
        ${
          isDry &&
          html`<${AskedQuantity} label=${t("harvest.drying_temperature")} hint=${t("harvest.drying_hint")} isOptional=${true} numberFormat=${numberFormat} units=${["Cel", "[degF]"]}
            typed=${row.typedTemperature ?? row.drying_temperature ?? { value: "", unit: "Cel" }} onTyped=${(/** @type {any} */ typedTemperature, /** @type {any} */ stored) => tell({ typedTemperature, drying_temperature: stored })} />
          <${AskedQuantity} label=${t("harvest.drying_time")} isOptional=${true} numberFormat=${numberFormat} units=${["h", "d"]}
            typed=${row.typedTime ?? row.drying_time ?? { value: "", unit: "h" }} onTyped=${(/** @type {any} */ typedTime, /** @type {any} */ stored) => tell({ typedTime, drying_time: stored })} />`
        }
        <${RefField} label=${t("harvest.by")} isOptional=${true} value=${row.by ?? null} options=${members} onValue=${(/** @type {any} */ by) => tell({ by })} />
        <${TextField} label=${t("field.note")} isLong=${true} isOptional=${true} value=${row.note ?? ""} maxLength=${600} onValue=${(/** @type {string} */ note) => tell({ note })} />
        <p class=${row.plants ? "strong" : "muted"}>${row.plants ? t("harvest.drawn", { n: countOf(row.plants), plots: row.plants.length }) : t("harvest.not_drawn")}</p></section>`;
    })}
    <div class="row"><${Button} icon="plus" onPress=${add}>${t("harvest.add")}<//>
      ${looks.length > 0 && plan.layout && html`<${Button} icon="mix" onPress=${draw}>${t(plan.harvest_seed ? "harvest.draw_again" : "harvest.draw")}<//>`}</div>
    ${looks.length > 0 && !plan.layout && html`<${Message} tone="plain" title=${t("harvest.layout_first")} />`}
    ${plan.harvest_seed && html`<p class="muted small">${t("harvest.seed", { seed: plan.harvest_seed })}</p>`}
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    <${TextField} label=${t("harvest.words")} hint=${t("harvest.words_hint")} isLong=${true} isOptional=${true} value=${plan.harvest_plan} maxLength=${2000} onValue=${(/** @type {string} */ harvest_plan) => set({ harvest_plan })} />
  </div>`;
}

/** @param {any[]} plants */
const countOf = (plants) =>
  plants.reduce(
    (sum, { plants: text }) =>
      sum +
      String(text ?? "")
        .split(",")
        .filter(Boolean).length,
    0,
  );

/** The harvests of a trial as it stands, for its page. @param {{ trial: any }} props */
export function Harvests({ trial }) {
  const members = useRecords("member") ?? [];
  const rows = trial.harvests ?? [];
  if (rows.length === 0 && !trial.harvest_plan) return null;
  const lookOf = (/** @type {string} */ code) =>
    (trial.assessments ?? []).find((/** @type {any} */ one) => one.code === code);
  return html`<section class="stack"><h2>${t("harvest.title")}</h2><ul class="list">${rows.map(
    (/** @type {any} */ row) => {
      const look = lookOf(row.assessment);
      const by = members.find((one) => one.id === row.by)?.shown.fields.name;
      const said = [
        look && t("plan.days_after", { n: look.day ?? 0 }),
        row.plants_per_plot && t("harvest.n_per_plot", { n: row.plants_per_plot }),
        row.blocks?.length > 0 && t("harvest.in_blocks", { blocks: row.blocks.join(", ") }),
        row.weighing && choiceLabel("trial.harvests.weighing", row.weighing),
        by,
      ].filter(Boolean);
      return html`<li class="list-row" key=${row.assessment}><span class="choice-text"><b>${look?.name ?? row.assessment}: ${row.part ? choiceLabel("trial.harvests.part", row.part) : "–"}</b>
      <span class="choice-detail">${said.join(" · ")}</span>
      <span class="choice-detail">${row.plants ? t("harvest.drawn", { n: countOf(row.plants), plots: row.plants.length }) : t("harvest.not_drawn")}</span>
      ${row.note && html`<span class="choice-detail">${row.note}</span>`}</span></li>`;
    },
  )}</ul>${trial.harvest_plan && html`<p class="said">${trial.harvest_plan}</p>`}</section>`;
}
