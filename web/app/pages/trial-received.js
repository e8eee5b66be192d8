// What the treatments of a trial from elsewhere received: as its file says it, or by a mix that the office names for it.
import { useSignal } from "@preact/signals";
import { choiceLabel } from "../forms/labels.js";
import { useRecord, useRecords, useTepal } from "../state/context.js";
import { storedText } from "../ui/amounts.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { useWrittenNumbers } from "./establishment.js";
import { may } from "./may.js";
import { living, RefSelect } from "./trial-plan-what.js";
import { treatmentName } from "./trial-words.js";

/** @param {{ id: string }} props */
export function ReceivedElsewhere({ id: trialId }) {
  const tepal = useTepal();
  const row = useRecord("trial", trialId);
  const written = useWrittenNumbers();
  const mixes = living(useRecords("tank_mix"));
  const failure = useSignal("");
  if (!row) return null;
  const trial = row.shown.fields;
  const mayLink = may(tepal.session.value, "registers") === "yes";
  const told = (/** @type {number} */ number) =>
    (trial.received ?? []).filter((/** @type {any} */ one) => one.treatment === number);
  const unit = (/** @type {any} */ quantity) => quantity && storedText(quantity, written);
  /** @param {any[]} tank  a row for each a.i.; the rest is the same in all */
  const words = (tank) => {
    const ais = tank.filter(({ ai }) => ai).map((one) => [one.ai, unit(one.rate)].filter(Boolean).join(" "));
    const [one] = tank;
    return [
      ais.join(" + "),
      one.products ?? one.others,
      one.method && choiceLabel("method", one.method),
      unit(one.volume_per_container),
      unit(one.volume_per_area),
    ]
      .filter(Boolean)
      .join(" · ");
  };

  /** @param {any} treatment @param {string} mix */
  async function link(treatment, mix) {
    if (!row) return;
    const treatments = trial.treatments.map((/** @type {any} */ one) =>
      one.number === treatment.number ? { ...one, tank_mix: mix === "-" ? null : mix } : one,
    );
    try {
      await tepal.save.change(row, { treatments }, {}, t("received.reason"));
      failure.value = "";
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
  }

  return html`<section class="stack"><h2>${t("received.title")}</h2><p class="muted small">${t("received.how")}</p>
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    <ul class="list">${(trial.treatments ?? []).map((/** @type {any} */ one) => {
      const rows = told(one.number);
      const mix = mixes.find(({ id }) => id === one.tank_mix)?.shown.fields.name;
      const isUntreated = one.role === "untreated" || one.role === "water";
      return html`<li class="list-row" key=${one.number}><span class="choice-text"><b>${treatmentName(one)}</b>
        ${
          rows.length > 0
            ? html`<span class="choice-detail">${words(rows)}</span>`
            : isUntreated
              ? html`<span class="choice-detail">${choiceLabel("trial.treatments.role", one.role)}</span>`
              : mayLink
                ? html`<${RefSelect} label=${t("received.link")} value=${one.tank_mix ?? "-"} options=${[{ value: "-", label: t("received.unknown") }, ...mixes.map(({ id, shown }) => ({ value: id, label: shown.fields.name ?? id }))]}
                    onValue=${(/** @type {string} */ value) => link(one, value)} />`
                : html`<span class="choice-detail">${mix ?? t("received.unknown")}</span>`
        }</span></li>`;
    })}</ul></section>`;
}
