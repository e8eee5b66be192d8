// Apply, third step: what the checks find before anything is mixed, each with its source and what to do. A stop blocks the
// start; what was done already can always be entered. A caution waits for an answer, which goes onto the record.
import { ANSWERS, progressOf } from "../state/answers.js";
import { useTepal } from "../state/context.js";
import { nowText } from "../state/moments.js";
import { Answer } from "../ui/answer.js";
import { Button } from "../ui/buttons.js";
import { InstantField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { RinseFirst } from "./trial-treat.js";

/** Methods that wet the leaves, where overhead water comes into it. */
const OVERHEAD = ["spray", "sprench"];

/** @param {any} props */
export function CheckStep({ form, set, told, mix }) {
  const tepal = useTepal();
  const { stops, cautions, notes } = progressOf(told, form.answers);
  const choices = ANSWERS.map((value) => ({
    value,
    label: t(`check.answer.${value}`),
    needsReason: value === "other",
  }));
  const none = { value: null, reason: "" };
  return html`<div class="stack">
    <${RinseFirst} order=${form.order} mix=${form.mix} sprayer=${form.sprayer} />
    ${told.length === 0 && html`<${Message} tone="passed" title=${t("check.nothing")}><p>${t("check.nothing_why")}</p><//>`}
    ${stops.map(
      ({ key, words, finding }) =>
        html`<${Answer} key=${key} tone="stopped" title=${words} source=${sourceOf(finding)} choices=${[]} given=${none} onAnswer=${() => {}} />`,
    )}
    ${
      stops.length > 0 &&
      !form.isLater &&
      html`<${Message} tone="plain" title=${t("check.stop_words")}><p>${t("check.stop_why")}</p>
        <${Button} icon="book" onPress=${() => set({ isLater: true })}>${t("apply.enter_later")}<//><//>`
    }
    ${cautions.map(
      ({ key, words, finding }) =>
        html`<${Answer} key=${key} tone="caution" title=${words} source=${sourceOf(finding)} choices=${choices} given=${form.answers[key] ?? none}
          onAnswer=${(/** @type {any} */ given) => set({ answers: { ...form.answers, [key]: given } })} />`,
    )}
    ${
      notes > 0 &&
      html`<details class="card" open=${notes <= 2}><summary><b>${t("check.notes", { n: notes })}</b></summary><ul class="notes">
        ${told
          .filter((/** @type {any} */ one) => one.finding.severity === "note")
          .map(
            (/** @type {any} */ { key, words, finding }) =>
              html`<li key=${key}><${Icon} name="note" /><span>${words}${finding.source && html` <span class="muted small">${finding.source}</span>`}</span></li>`,
          )}</ul></details>`
    }
    ${
      OVERHEAD.includes(mix?.shown.fields.method) &&
      html`<${InstantField} label=${t("check.water_due")} hint=${t("check.water_due_hint")} isOptional=${true} value=${form.waterDue} now=${() => nowText(tepal.wall())}
      onValue=${(/** @type {string} */ waterDue) => set({ waterDue })} />`
    }
    <p class="muted">${t("apply.label_is_law")}</p>
  </div>`;
}

/** @param {any} finding */
const sourceOf = (finding) => (finding.source ? t("apply.source", { source: finding.source }) : undefined);

/** "2 answered, 3 notes" @param {any[]} told @param {Record<string, any>} answers */
export function checkSummary(told, answers) {
  const { stops, cautions, unanswered, notes } = progressOf(told, answers);
  if (told.length === 0) return t("check.nothing");
  return [
    stops.length > 0 ? t("check.n_stops", { n: stops.length }) : "",
    cautions.length > 0 ? t("check.n_answered", { n: cautions.length - unanswered.length }) : "",
    notes > 0 ? t("check.n_notes", { n: notes }) : "",
  ]
    .filter(Boolean)
    .join(" · ");
}

/** The same of a record that has started. @param {import("../sync/port.js").RecordRow | undefined} record */
export function recordedSummary(record) {
  /** @type {{severity: string, answer: string | null}[]} */
  const checks = record?.shown.fields.checks ?? [];
  const n = (/** @type {string} */ severity) => checks.filter((one) => one.severity === severity).length;
  if (checks.length === 0) return t("check.nothing");
  return [
    n("stop") > 0 ? t("check.n_stops", { n: n("stop") }) : "",
    n("caution") > 0 ? t("check.n_answered", { n: checks.filter((one) => one.answer).length }) : "",
    n("note") > 0 ? t("check.n_notes", { n: n("note") }) : "",
  ]
    .filter(Boolean)
    .join(" · ");
}
