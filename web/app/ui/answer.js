// A caution that must be answered. It stands where it is needed and the next step waits for it; it can't be scrolled past.
import { useId } from "preact/hooks";
import { ChoiceField } from "./choices.js";
import { TextField } from "./fields.js";
import { html } from "./html.js";
import { Icon } from "./icons.js";
import { t } from "./words.js";

/**
 * @typedef {object} AnswerChoice
 * @property {string} value
 * @property {string} label
 * @property {boolean} [needsReason]  The answer counts only with a reason, which is printed on the record.
 */

/**
 * Whether an answer is complete.
 * @param {AnswerChoice[]} choices
 * @param {{ value: string | null, reason: string }} given
 */
function isAnswered(choices, given) {
  const chosen = choices.find((choice) => choice.value === given.value);
  return chosen !== undefined && (!chosen.needsReason || given.reason.trim() !== "");
}

/**
 * @param {{ tone: "caution" | "stopped", title: string, children?: any, source?: string, choices: AnswerChoice[],
 *   given: { value: string | null, reason: string }, onAnswer: (given: { value: string | null, reason: string }) => void }} props
 *   tone    "caution" can be answered; for "stopped" give no choices: it says what bars the way.
 *   source  Where the rule comes from: label section, house rule.
 */
export function Answer({ tone, title, children, source, choices, given, onAnswer }) {
  const id = useId();
  const chosen = choices.find((choice) => choice.value === given.value);
  return html`<section class=${`answer ${tone}${isAnswered(choices, given) ? " is-answered" : ""}`} aria-labelledby=${id}>
    <div class="answer-head"><${Icon} name=${tone === "stopped" ? "stop" : "caution"} /><h3 id=${id}>${title}</h3></div>
    ${children && html`<div>${children}</div>`}
    ${source && html`<p class="answer-source">${source}</p>`}
    ${
      choices.length > 0 &&
      html`<${ChoiceField} label=${t("answer.yours")} choices=${choices} value=${given.value}
        onValue=${(/** @type {string} */ value) => onAnswer({ ...given, value })} />`
    }
    ${
      chosen?.needsReason &&
      html`<${TextField} label=${t("answer.reason")} hint=${t("answer.reason_hint")} value=${given.reason} maxLength=${300}
        onValue=${(/** @type {string} */ reason) => onAnswer({ ...given, reason })} />`
    }
  </section>`;
}
