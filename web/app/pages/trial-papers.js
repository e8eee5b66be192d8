// The papers of a trial: labels for the plots, the map of the bench, sheets for the field, mixing sheets. Made in the office.
import { useSignal } from "@preact/signals";
import { useRecords, useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { ChoiceField } from "../ui/choices.js";
import { html } from "../ui/html.js";
import { t } from "../ui/words.js";
import { useWide } from "./online.js";
import { useSettings } from "./settings-context.js";

export const SHEETS = ["a4_63x38", "a4_99x67", "letter_67x25", "letter_102x51", "roll_50x25"];

/** @param {{ id: string, trial: any }} props */
export function PaperLinks({ id, trial }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const sheet = useSignal(SHEETS[0]);
  const blinded = useSignal(trial.blinded !== false);
  const isOpen = useSignal(false);
  const isKept = trial.blinded && !useWide(); // whoever measures must not read a treatment off a label or map
  const paper = (/** @type {string} */ name, query = "") =>
    tepal.api.url(`/trials/${id}/papers/${name}?language=${language.value}${query}`);
  const mixes = useRecords("tank_mix") ?? [];
  /** Mixed by area, and no plot has one on file: the whole bench would be too much. @param {any} one */
  const lacksArea = (one) =>
    !trial.plot_area && Boolean(mixes.find((row) => row.id === one.tank_mix)?.shown.fields.volume_per_area);
  const blind = `&blinded=${blinded.value ? "yes" : "no"}`;
  return html`<section class="stack"><h2>${t("trial.papers")}</h2>
    ${
      isOpen.value
        ? html`<div class="stack">
          <${ChoiceField} label=${t("trial.label_sheet")} value=${sheet.value} onValue=${(
            /** @type {string} */ value,
          ) => {
            sheet.value = value;
          }} choices=${SHEETS.map((value) => ({ value, label: t(`trial.sheet.${value}`) }))} />
          ${
            !isKept &&
            html`<${ChoiceField} label=${t("trial.on_labels")} value=${blinded.value ? "blinded" : "named"} onValue=${(
              /** @type {string} */ value,
            ) => {
              blinded.value = value === "blinded";
            }} choices=${["blinded", "named"].map((value) => ({ value, label: t(`trial.labels.${value}`) }))} />`
          }
          <ul class="list">${[
            ["labels", `&sheet=${sheet.value}${blind}`],
            ["map", blind],
          ].map(
            ([name, query]) =>
              html`<li key=${name}><a class="list-row" href=${paper(name, query)} target="_blank" rel="noopener"><b>${t(`trial.paper.${name}`)}</b></a></li>`,
          )}
          ${(trial.assessments ?? []).map(
            (/** @type {any} */ one) =>
              html`<li key=${one.code}><a class="list-row" href=${paper("field-sheet", `&assessment=${encodeURIComponent(one.code)}`)} target="_blank" rel="noopener"><b>${t("trial.paper.field_sheet", { name: one.name ?? one.code })}</b></a></li>`,
          )}
          ${(trial.treatments ?? [])
            .filter((/** @type {any} */ one) => one.tank_mix && !trial.order)
            .map((/** @type {any} */ one) =>
              lacksArea(one)
                ? html`<li key=${one.number}><a class="list-row" href=${`/trials/${id}/plan`}><span>${t("trial.paper.mixing_area", { n: one.number, name: one.name ?? "" })}</span></a></li>`
                : html`<li key=${one.number}><a class="list-row" href=${paper("mixing-sheet", `&treatment=${one.number}`)} target="_blank" rel="noopener"><b>${t("trial.paper.mixing", { n: one.number, name: one.name ?? "" })}</b></a></li>`,
            )}</ul></div>`
        : html`<div><${Button} icon="print" onPress=${() => {
            isOpen.value = true;
          }}>${t("trial.papers_open")}<//></div>`
    }</section>`;
}
