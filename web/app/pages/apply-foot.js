// Apply: the next step within reach of the thumb, with the PPE for the act at hand large above it.
import { progressOf } from "../state/answers.js";
import { GoButton } from "../ui/buttons.js";
import { TextField } from "../ui/fields.js";
import { FootAct } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { t } from "../ui/words.js";
import { errorText, mixingPpe } from "./apply-measure.js";
import { applyingPpe } from "./apply-record.js";

/**
 * HAZARD: the next step's button comes to lie where this one was. The second half of a double tap (`detail` counts them)
 * must neither skip a load nor start the spraying.
 * @param {() => unknown} act
 */
export const once = (act) => (/** @type {MouseEvent} */ event) => (event.detail > 1 ? undefined : act());

/** @param {any} props */
export function Foot(props) {
  switch (props.form.step) {
    case "where":
      return html`<${WhereFoot} ...${props} />`;
    case "mix":
      return html`<${MixFoot} ...${props} />`;
    case "check":
      return html`<${CheckFoot} ...${props} />`;
    case "measure":
      return html`<${MeasureFoot} ...${props} />`;
    case "spray":
      return html`<${SprayFoot} ...${props} />`;
    default:
      return html`<${FootAct}><div class="leave-row">${props.leave}</div><//>`;
  }
}

/** @param {any} props */
function WhereFoot({ set, job, leave }) {
  const isReady = job.places.length > 0 && job.places.every((/** @type {any} */ p) => p.treated !== null);
  return html`<${FootAct}><div class="leave-row">${leave}<${GoButton} isOff=${!isReady} onPress=${once(() => isReady && set({ step: "mix" }))}>
    ${isReady ? t("apply.where_done", { n: job.places.length }) : t("apply.where_first")}<//></div><//>`;
}

/** @param {any} props */
function MixFoot({ set, plan, error, job, placeNames, leave }) {
  const isReady = plan !== null;
  return html`<${FootAct}><div class="leave-row">${leave}<${GoButton} isOff=${!isReady} onPress=${once(() => isReady && set({ step: "check" }))}>
    ${isReady ? t("apply.mix_done") : error ? errorText(error, job.numberFormat, placeNames) : t("apply.mix_first")}<//></div><//>`;
}

/** @param {any} props */
function CheckFoot({ form, set, plan, told, leave }) {
  const { stops, unanswered } = progressOf(told, form.answers);
  const isReady = plan !== null && (form.isLater || (stops.length === 0 && unanswered.length === 0));
  const words = isReady
    ? t("check.done")
    : plan === null
      ? t("apply.mix_first")
      : stops.length > 0
        ? t("check.stopped", { n: stops.length })
        : t("check.answer_first", { n: unanswered.length });
  return html`<${FootAct}><div class="leave-row">${leave}<${GoButton} isOff=${!isReady} onPress=${once(() => isReady && set({ step: "measure", loadsMixed: 0 }))}>${words}<//></div><//>`;
}

/** @param {any} props */
function MeasureFoot({ form, set, plan, used, leave }) {
  const total = plan
    ? plan.loads.reduce((/** @type {number} */ n, /** @type {any} */ load) => n + load.numbers.length, 0)
    : 0;
  const next = () =>
    set(
      form.loadsMixed + 1 >= total
        ? { step: "spray", loadsMixed: total, asksPpe: null }
        : { loadsMixed: form.loadsMixed + 1 },
    );
  return html`<${FootAct} ppe=${mixingPpe(used)}><${Worn} form=${form} set=${set} act="mixing" />
    <div class="leave-row">${leave}<${GoButton} onPress=${once(() => whenWorn(form, set, "mixing", next))}>${t("apply.load_mixed", { n: form.loadsMixed + 1 })}<//></div><//>`;
}

/** @param {any} props */
function SprayFoot({ form, set, used, start, leave }) {
  return html`<${FootAct} ppe=${applyingPpe(used)}><${Worn} form=${form} set=${set} act="applying" />
    <div class="leave-row">${leave}<${GoButton} onPress=${once(() => whenWorn(form, set, "applying", start))}>${t(form.isLater ? "apply.started_then" : "apply.start")}<//></div><//>`;
}

/** PPE that is not ticked is a caution: the button asks for a reason first, and the reason goes onto the record.
 * @param {any} form @param {any} set @param {"mixing" | "applying"} act @param {() => unknown} next */
function whenWorn(form, set, act, next) {
  if (form.worn[act] || form.notWorn[act].trim() !== "") next();
  else set({ asksPpe: act });
}

/** @param {{ form: any, set: any, act: "mixing" | "applying" }} props */
function Worn({ form, set, act }) {
  const isWorn = form.worn[act];
  return html`<label class="choice worn"><input type="checkbox" checked=${isWorn}
      onChange=${() => set({ worn: { ...form.worn, [act]: !isWorn }, asksPpe: null })} />
      <span class="choice-text"><b>${t("apply.worn")}</b></span></label>
    ${
      form.asksPpe === act &&
      !isWorn &&
      html`<${TextField} label=${t("apply.not_worn")} hint=${t("apply.not_worn_hint")} value=${form.notWorn[act]} maxLength=${300}
        error=${form.notWorn[act].trim() === "" ? t("apply.not_worn_first") : ""}
        onValue=${(/** @type {string} */ reason) => set({ notWorn: { ...form.notWorn, [act]: reason } })} />`
    }`;
}
