// What the checks found before an application, with the operator's answers, and what the office knew more when it arrived.
import { useRecords } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { Message, StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";
import { coreText } from "./core-words.js";
import { keptText } from "./kept-finding.js";
import { useOnline } from "./online.js";

const TONES = /** @type {const} */ ({ stop: "stopped", caution: "caution", note: "waiting" });

/** @param {{ id: string, fields: Record<string, any>, revision: number | undefined }} props */
export function Checked({ id, fields, revision }) {
  const online = useOnline(`/applications/${id}/later`, revision);
  const restrictions = (useRecords("restriction") ?? []).filter(
    (row) => row.shown.fields.application === id && row.shown.state !== "void",
  );
  const later = online.reply?.findings ?? [];
  const checks = fields.checks ?? [];
  return html`${
    restrictions.length > 0 &&
    html`<div class="row">${restrictions.map(
      (row) =>
        html`<${Button} key=${row.id} icon="sign" href=${`/restrictions/${row.id}`}>${t("check.restriction_of", { place: row.shown.fields.place ?? "" })}<//>`,
    )}</div>`
  }
    ${fields.entered_later === true && html`<${Message} tone="waiting" icon="book" title=${t("apply.is_later")} />`}
    ${
      later.length > 0 &&
      html`<section class="stack" aria-labelledby="later"><h2 id="later">${t("check.later", { n: later.length })}</h2><p>${t("check.later_why")}</p>
        ${later.map(
          (
            /** @type {any} */ one,
            /** @type {number} */ i,
          ) => html`<${Message} key=${i} tone=${TONES[/** @type {keyof typeof TONES} */ (one.severity)]} title=${coreText(one)}>
            ${one.source && html`<p class="muted">${t("apply.source", { source: one.source })}</p>`}<//>`,
        )}</section>`
    }
    ${
      checks.length > 0 &&
      html`<section class="stack" aria-labelledby="checked"><h2 id="checked">${t("check.before")}</h2>
        <ul class="list">${checks.map(
          (
            /** @type {any} */ one,
            /** @type {number} */ i,
          ) => html`<li class="list-row" key=${i}><span class="choice-text"><b>${keptText(one)}</b>
            ${one.answer && html`<span>${t("check.answered", { answer: one.answer })}</span>`}</span>
            <${StateChip} tone=${TONES[/** @type {keyof typeof TONES} */ (one.severity)] ?? "plain"}>${t(`check.severity.${one.severity}`)}<//></li>`,
        )}</ul>
        ${fields.heard_at && html`<p class="muted small">${t("check.heard_at", { time: fields.heard_at.slice(0, 16).replace("T", " ") })}</p>`}</section>`
    }`;
}
