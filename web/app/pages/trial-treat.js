// The plots that an application treated: as planned, or honestly otherwise. What was done is analysed, not what was meant.
import { useSignal } from "@preact/signals";
import { useRecord, useTepal } from "../state/context.js";
import { measuredPlots } from "../state/measure.js";
import { Button } from "../ui/buttons.js";
import { ChoiceField } from "../ui/choices.js";
import { TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** @param {{ record: RecordRow }} props */
export function TrialPlots({ record }) {
  const tepal = useTepal();
  const trial = useRecord("trial", String(record.shown.fields.trial ?? ""));
  const failure = useSignal("");
  const at = useSignal(/** @type {number | null} */ (null));
  /** @type {any[]} */
  const rows = record.shown.fields.plots ?? [];
  if (!trial || rows.length === 0) return null;
  const { fields } = trial.shown;
  const all = measuredPlots(fields);
  const codeOf = (/** @type {number} */ plot) => all.find((one) => one.plot === plot)?.code ?? String(plot);
  const treatment = rows.find((row) => row.planned)?.planned ?? null;
  const others = all.filter((plot) => !rows.some((row) => row.plot === plot.plot));

  /** @param {any[]} plots */
  async function save(plots) {
    try {
      await tepal.save.change(record, { plots });
      failure.value = "";
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
  }
  const missed = (/** @type {any} */ row) => row.actual !== row.planned;
  return html`<section class="stack"><h3>${t("treat.title", { trial: String(fields.code ?? ""), n: treatment ?? "–" })}</h3>
    <p class="muted">${t("treat.how")}</p>
    <div class="plot-keys">${rows.map(
      (
        row,
        i,
      ) => html`<button type="button" key=${row.plot} class=${`plot-key is-${missed(row) ? "lost" : "done"}`} aria-label=${t(missed(row) ? "treat.key.wrong" : "treat.key.right", { code: codeOf(row.plot) })}
        onClick=${() => {
          at.value = at.value === i ? null : i;
        }}>${codeOf(row.plot)}</button>`,
    )}</div>
    ${
      at.value !== null &&
      rows[at.value] &&
      html`<${Wrong} key=${at.value} row=${rows[at.value]} code=${codeOf(rows[at.value].plot)} isMeant=${rows[at.value].planned === treatment} onRow=${(
        /** @type {any} */ row,
      ) => {
        save(
          row === null
            ? rows.filter((_, i) => i !== at.value)
            : rows.map((one, i) => (i === at.value ? row : one)),
        );
        at.value = null;
      }} />`
    }
    ${
      others.length > 0 &&
      html`<details><summary class="list-row">${t("treat.others")}</summary><p class="muted">${t("treat.others_why")}</p><div class="plot-keys">${others.map(
        (plot) =>
          html`<button type="button" key=${plot.plot} class="plot-key" onClick=${() => save([...rows, { plot: plot.plot, planned: plot.treatment ?? null, actual: treatment, note: t("treat.by_mistake") }])}>${plot.code}</button>`,
      )}</div></details>`
    }
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    <p class="muted">${t("treat.clean")}</p>
  </section>`;
}

/** What became of one plot. @param {{ row: any, code: string, isMeant: boolean, onRow: (row: any) => void }} props */
function Wrong({ row, code, isMeant, onRow }) {
  const what = useSignal(row.actual === row.planned ? "right" : row.actual ? "other" : "not");
  const note = useSignal(row.note ?? "");
  if (!isMeant) {
    return html`<div class="card"><p>${t("treat.by_mistake")}: <b>${code}</b></p><div><${Button} onPress=${() => onRow(null)}>${t("treat.not_so")}<//></div></div>`;
  }
  return html`<div class="card"><${ChoiceField} label=${t("treat.what", { code })} value=${what.value} onValue=${(
    /** @type {string} */ value,
  ) => {
    what.value = value;
  }} choices=${["right", "not"].map((value) => ({ value, label: t(`treat.${value}`) }))} />
    <${TextField} label=${t("measure.reason")} isOptional=${what.value === "right"} value=${note.value} maxLength=${400} onValue=${(
      /** @type {string} */ value,
    ) => {
      note.value = value;
    }} />
    <div><${Button} icon="check" isOff=${what.value !== "right" && note.value.trim() === ""} onPress=${() => {
      if (what.value !== "right" && note.value.trim() === "") return;
      const actual = what.value === "right" ? row.planned : 0;
      const words = note.value.trim();
      onRow({ plot: row.plot, planned: row.planned, actual, ...(words ? { note: words } : {}) });
    }}>${t("treat.save")}<//></div></div>`;
}
