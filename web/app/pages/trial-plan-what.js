// The planner's first steps: what is asked, of which lots, and which treatments answer it.
import { choiceLabel } from "../forms/labels.js";
import { useRecords } from "../state/context.js";
import { withoutTreatment } from "../state/trial-contrasts.js";
import { factorial, namedByMix, needsPermit } from "../state/trial-plan.js";
import { Button } from "../ui/buttons.js";
import { ChoiceField, RefField, SeveralField } from "../ui/choices.js";
import { NumberField, TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { recordName } from "./record-words.js";
import { OffLabelList, useOffLabel } from "./trial-authority.js";

const ROLES = ["untreated", "water", "standard", "blank", "partner", "mix", "rate", "other"];

/** What can still be chosen. @param {any[] | null} rows */
export const living = (rows) =>
  (rows ?? []).filter((row) => row.shown.state !== "void" && row.shown.fields.retired !== true);

/** @param {any} props */
export function QuestionStep({ plan, set }) {
  const members = living(useRecords("member")).map((row) => ({
    id: row.id,
    name: row.shown.fields.name ?? "",
  }));
  return html`<div class="stack">
    <${TextField} label=${t("plan.code")} hint=${t("plan.code_hint")} value=${plan.code} maxLength=${12} onValue=${(/** @type {string} */ code) => set({ code })} />
    <${TextField} label=${t("plan.title")} value=${plan.title} maxLength=${200} onValue=${(/** @type {string} */ title) => set({ title })} />
    <${TextField} label=${t("plan.question")} hint=${t("plan.question_hint")} isLong=${true} isOptional=${true} value=${plan.question} maxLength=${2000} onValue=${(/** @type {string} */ question) => set({ question })} />
    <${RefField} label=${t("plan.responsible")} isOptional=${true} value=${plan.responsible} options=${members} onValue=${(/** @type {any} */ responsible) => set({ responsible })} />
  </div>`;
}

/** @param {any} props */
export function LotsStep({ plan, set }) {
  const lots = living(useRecords("lot"));
  return html`<${SeveralField} label=${t("plan.lots")} hint=${t("plan.lots_hint")} isOptional=${true} values=${plan.lots}
    onValues=${(/** @type {string[]} */ values) => set({ lots: values })}
    choices=${lots.map((row) => ({ value: row.id, label: recordName("lot", row.shown.fields), detail: row.shown.fields.stage ?? "" }))} />`;
}

/** @param {any} props */
export function TreatmentsStep({ plan, set, wrong }) {
  const mixes = living(useRecords("tank_mix")).map((row) => ({
    id: row.id,
    name: row.shown.fields.name ?? "",
  }));
  const permits = living(useRecords("permit")).map((row) => ({
    id: row.id,
    name: row.shown.fields.number ?? "",
  }));
  const off = useOffLabel(plan);
  const change = (/** @type {number} */ at, /** @type {any} */ more) =>
    set({
      treatments: plan.treatments.map((/** @type {any} */ one, /** @type {number} */ i) =>
        i === at ? namedByMix(one, more, mixes) : one,
      ),
      layout: plan.layout?.isStored ? plan.layout : null,
    });
  const add = (/** @type {any} */ one) =>
    set({ treatments: [...plan.treatments, one], layout: plan.layout?.isStored ? plan.layout : null });
  const factors = plan.factors;
  return html`<div class="stack">
    <p class="muted">${t("plan.comparators")}</p>
    ${plan.treatments.map((/** @type {any} */ one, /** @type {number} */ at) => {
      const isTreated = !["untreated", "water"].includes(one.role);
      return html`<section class="card" key=${at}><div class="spread"><h3>${t("plan.treatment", { n: at + 1 })}</h3>
        <${Button} kind="quiet" icon="close" label=${t("plan.remove", { name: one.name ?? "" })} onPress=${() => set(withoutTreatment(plan, at))}>${t("plan.take_out")}<//></div>
        <${TextField} label=${t("plan.treatment_name")} value=${one.name ?? ""} maxLength=${120} onValue=${(/** @type {string} */ name) => change(at, { name })} />
        <${RefSelect} label=${t("plan.role")} value=${one.role ?? ""} options=${ROLES.map((value) => ({ value, label: t(`choice.trial.treatments.role.${value}`) }))} onValue=${(/** @type {string} */ role) => change(at, { role })} />
        ${
          isTreated &&
          html`<${RefField} label=${t("plan.mix")} isOptional=${true} value=${one.tank_mix ?? null} options=${mixes} onValue=${(/** @type {any} */ tank_mix) => change(at, { tank_mix })} />
          ${one.role === "rate" && html`<div class="row"><${NumberField} label=${t("plan.rate")} error=${wrong(`${at}.rate`)} value=${one.rate ?? ""} onValue=${(/** @type {string} */ rate) => change(at, { rate })} /><${TextField} label=${t("plan.rate_unit")} value=${one.rate_unit ?? "mg/L"} maxLength=${24} onValue=${(/** @type {string} */ rate_unit) => change(at, { rate_unit })} /></div>`}
          ${one.role === "blank" && html`<${NumberField} label=${t("plan.blank_of")} error=${wrong(`${at}.blank_of`)} isWhole=${true} value=${String(one.blank_of ?? "")} onValue=${(/** @type {string} */ blank_of) => change(at, { blank_of })} />`}`
        }</section>`;
    })}
    <div class="row">${["untreated", "water", "standard", "rate", "blank", "other"].map(
      (role) =>
        html`<${Button} key=${role} icon="plus" onPress=${() => add({ role, name: ["untreated", "water"].includes(role) ? t(`choice.trial.treatments.role.${role}`) : "", ...(role === "rate" ? { rate: "", rate_unit: "mg/L" } : {}) })}>${t(`choice.trial.treatments.role.${role}`)}<//>`,
    )}</div>
    <details class="stack"><summary class="list-row">${t("plan.factorial")}</summary>
      <p class="muted">${t("plan.factorial_why")}</p>
      ${[...factors, { name: "", levels: "" }].slice(0, 4).map(
        (/** @type {any} */ one, /** @type {number} */ at) =>
          html`<div class="stack-1" key=${at}><${TextField} label=${t("plan.factor", { n: at + 1 })} isOptional=${true} value=${one.name} maxLength=${60} onValue=${(/** @type {string} */ name) => set({ factors: replaced(factors, at, { ...one, name }) })} />
          <${TextField} label=${t("plan.levels")} hint=${t("plan.levels_hint")} isOptional=${true} value=${one.levels} maxLength=${200} onValue=${(/** @type {string} */ levels) => set({ factors: replaced(factors, at, { ...one, levels }) })} /></div>`,
      )}
      <div><${Button} icon="check" onPress=${() => {
        const treatments = factorial(factors);
        if (treatments.length > 0)
          set({ treatments, contrasts: [], layout: plan.layout?.isStored ? plan.layout : null });
      }}>${t("plan.make_factorial", { n: factorial(factors).length })}<//></div></details>
    ${
      (needsPermit(plan) || off.length > 0) &&
      html`<${Message} tone="caution" title=${t(off.length > 0 ? "plan.authority_off" : "plan.authority")}><${OffLabelList} found=${off} /><p>${t("plan.authority_why")}</p>
        <${RefField} label=${t("plan.permit")} value=${plan.permit} options=${permits} emptyText=${t("plan.no_permit")} onValue=${(/** @type {any} */ permit) => set({ permit })} />
        <${PermitSays} id=${plan.permit} /><//>`
    }
  </div>`;
}

/** What a permit lays down, or what it should say and does not. @param {{ id: string | null }} props */
function PermitSays({ id }) {
  const permit = (useRecords("permit") ?? []).find((row) => row.id === id)?.shown.fields;
  const members = useRecords("member") ?? [];
  if (!permit) return null;
  const { sort, rei, rei_source, crop_fate, responsible } = permit;
  if (!rei || !rei_source || !crop_fate || !responsible)
    return html`<p>${t("plan.permit_lacks")}</p><div><${Button} icon="pencil" href=${`/permits/${id}`}>${t("kind.permit")}<//></div>`;
  return html`<p>${t("plan.permit_is", {
    sort: sort ? choiceLabel("permit.sort", sort) : t("kind.permit"),
    rei: `${rei.value} h (${rei_source})`,
    fate: choiceLabel("permit.crop_fate", crop_fate),
    who: members.find((row) => row.id === responsible)?.shown.fields.name ?? "–",
  })}</p>`;
}

/** @param {any[]} list @param {number} at @param {any} value */
const replaced = (list, at, value) => {
  const next = [...list];
  next[at] = value;
  return next.filter((one) => one.name.trim() || one.levels.trim());
};

/** One of several in a menu of the browser's own, where a list of targets would be too long.
 * @param {{ label: string, value: string, options: {value: string, label: string}[], onValue: (value: string) => void }} props */
export function RefSelect({ label, value, options, onValue }) {
  return html`<label class="field"><span class="field-label">${label}</span>
    <select class="input" value=${value} onChange=${(/** @type {Event} */ event) => onValue(/** @type {HTMLSelectElement} */ (event.currentTarget).value)}>
      ${value === "" && html`<option value="">${t("pick.choose")}</option>`}
      ${options.map((one) => html`<option key=${one.value} value=${one.value} selected=${one.value === value}>${one.label}</option>`)}
    </select></label>`;
}

/** @param {{ label: string, name: string, value: string | null, choices: string[], onValue: (value: string) => void, hint?: string, isOptional?: boolean }} props */
export function Chosen({ label, name, value, choices, onValue, hint, isOptional }) {
  return html`<${ChoiceField} label=${label} hint=${hint} isOptional=${isOptional} value=${value} onValue=${onValue}
    choices=${choices.map((one) => ({ value: one, label: choiceLabel(name, one) }))} />`;
}
