// The plots that an application treated: as planned, or honestly otherwise. What was done is analysed, not what was meant.
import { useSignal } from "@preact/signals";
import { useRecord, useRecords, useTepal } from "../state/context.js";
import { measuredPlots } from "../state/measure.js";
import { unrinsedBefore } from "../state/trial-orders.js";
import { Button } from "../ui/buttons.js";
import { ChoiceField, YesNoField } from "../ui/choices.js";
import { TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { may } from "./may.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** The plots of a record that is being made, and whether the sprayer was rinsed. @param {{ record: RecordRow }} props */
export function TrialPlots({ record }) {
  const tepal = useTepal();
  const failure = useSignal("");
  /** @param {Record<string, any>} values */
  async function save(values) {
    try {
      await tepal.save.change(record, values);
      failure.value = "";
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
  }
  if ((record.shown.fields.plots ?? []).length === 0) return null;
  return html`<${Plots} record=${record} onPlots=${(/** @type {any[]} */ plots) => save({ plots })} failure=${failure.value}>
    <${YesNoField} label=${t("treat.rinsed")} hint=${t("treat.clean")} isOptional=${true} value=${record.shown.fields.tank_cleaned ?? null} onValue=${(/** @type {boolean} */ tank_cleaned) => save({ tank_cleaned })} /><//>`;
}

/** The same on the page of an application: what is found out later is an amendment with its reason. @param {{ row: RecordRow }} props */
export function TreatedPlots({ row }) {
  const tepal = useTepal();
  const failure = useSignal("");
  const isOpen = row.shown.state === "open";
  const isOwn = row.shown.author === tepal.session.value?.member?.id;
  const word = may(tepal.session.value, isOwn ? "amend_own" : "amend_other");
  if ((row.shown.fields.plots ?? []).length === 0) return null;
  const action = isOpen ? "change" : word === "ask" ? "request" : "amend";
  /** @param {any[]} plots @param {string} why */
  async function save(plots, why) {
    try {
      const changes = tepal.book.changesBetween(row.shown.fields, { plots });
      if (Object.keys(changes).length > 0)
        await tepal.save.all([tepal.save.act("application", row.id, action, changes, isOpen ? null : why)]);
      failure.value = "";
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
  }
  const isWriting = word !== "no" && row.shown.state !== "void";
  return html`<${Plots} record=${row} onPlots=${isWriting ? save : null} needsReason=${!isOpen} failure=${failure.value}>
    ${isWriting && action === "request" && html`<p class="muted">${t("office.request_why")}</p>`}<//>`;
}

/**
 * @param {{ record: RecordRow, onPlots: ((plots: any[], why: string) => void) | null, needsReason?: boolean, failure: string,
 *   children?: any }} props   Without `onPlots` to be read only.
 */
function Plots({ record, onPlots, needsReason = false, failure, children }) {
  const trial = useRecord("trial", String(record.shown.fields.trial ?? ""));
  const at = useSignal(/** @type {number | null} */ (null));
  /** @type {any[]} */
  const rows = record.shown.fields.plots ?? [];
  if (!trial || rows.length === 0) return null;
  const { fields } = trial.shown;
  const all = measuredPlots(fields);
  const codeOf = (/** @type {number} */ plot) => all.find((one) => one.plot === plot)?.code ?? String(plot);
  const meant = record.shown.fields.plots.find((/** @type {any} */ row) => row.actual && row.actual !== 0);
  const treatment =
    rows.find((row) => row.planned === row.actual)?.planned ?? meant?.actual ?? rows[0].planned;
  const others = all.filter((plot) => !rows.some((row) => row.plot === plot.plot));
  const missed = (/** @type {any} */ row) => row.actual !== row.planned;
  const wrong = rows.filter(missed);
  const chosen = at.value === null ? null : (all.find((one) => one.plot === at.value) ?? null);
  const choose = (/** @type {number} */ plot) => {
    at.value = at.value === plot ? null : plot;
  };
  /** @param {any} row @param {string} why */
  function put(row, why) {
    const rest = rows.filter((one) => one.plot !== at.value);
    const place = rows.findIndex((one) => one.plot === at.value);
    if (row === null) onPlots?.(rest, why);
    else onPlots?.(place < 0 ? [...rows, row] : rows.map((one, i) => (i === place ? row : one)), why);
    at.value = null;
  }
  const form =
    chosen &&
    onPlots &&
    html`<${Wrong} key=${chosen.plot} plot=${chosen} row=${rows.find((one) => one.plot === chosen.plot) ?? null} treatment=${treatment} needsReason=${needsReason} onRow=${put} />`;
  const isOther = chosen !== null && others.some((one) => one.plot === chosen.plot);
  return html`<section class="stack"><h3>${t("treat.title", { trial: String(fields.code ?? ""), n: treatment ?? "–" })}</h3>
    <p class="muted">${onPlots ? t("treat.how") : t("treat.counts", { n: rows.length - wrong.length, of: rows.length })}</p>
    <div class="plot-keys">${rows.map((row) => {
      const said = t(missed(row) ? "treat.key.wrong" : "treat.key.right", { code: codeOf(row.plot) });
      const look = `plot-key is-${missed(row) ? "lost" : "done"}`;
      return onPlots
        ? html`<button type="button" key=${row.plot} class=${look} aria-label=${said} aria-expanded=${at.value === row.plot} onClick=${() => choose(row.plot)}>${codeOf(row.plot)}</button>`
        : html`<span key=${row.plot} class=${look} role="img" aria-label=${said}>${codeOf(row.plot)}</span>`;
    })}</div>
    ${!isOther && form}
    ${
      wrong.length > 0 &&
      html`<ul class="list">${wrong.map(
        (row) =>
          html`<li class="list-row" key=${row.plot}><span class="choice-text"><b>${codeOf(row.plot)}: ${t(row.actual ? "treat.by_mistake" : "treat.not")}</b>${row.note && html`<span class="choice-detail">${row.note}</span>`}</span></li>`,
      )}</ul>`
    }
    ${
      onPlots &&
      others.length > 0 &&
      html`<details open=${isOther}><summary class="list-row">${t("treat.others")}</summary><p class="muted">${t("treat.others_why")}</p><div class="plot-keys">${others.map(
        (plot) =>
          html`<button type="button" key=${plot.plot} class="plot-key" aria-expanded=${at.value === plot.plot} onClick=${() => choose(plot.plot)}>${plot.code}</button>`,
      )}</div>${isOther && form}</details>`
    }
    ${failure && html`<${Message} tone="stopped" title=${failure} live=${true} />`}
    ${children}
  </section>`;
}

/**
 * What became of one plot: got it, did not, or got it by mistake; with the reason, which the report prints.
 * @param {{ plot: any, row: any, treatment: number, needsReason: boolean, onRow: (row: any, why: string) => void }} props
 */
function Wrong({ plot, row, treatment, needsReason, onRow }) {
  const isMeant = row !== null && row.planned === treatment;
  const isIn = row !== null && row.actual === treatment;
  const start = isIn ? "right" : row === null ? "right" : "not";
  const what = useSignal(isMeant ? start : row === null ? "mistake" : "not_so");
  const note = useSignal(String(row?.note ?? ""));
  const words = note.value.trim();
  const isAsked = needsReason || what.value === "not" || what.value === "mistake";
  function save() {
    if (isAsked && words === "") return;
    const more = words ? { note: words } : {};
    const { plot: number } = plot;
    if (what.value === "not_so") onRow(null, words);
    else if (what.value === "mistake")
      onRow({ plot: number, planned: plot.treatment ?? null, actual: treatment, ...more }, words);
    else
      onRow(
        { plot: number, planned: row.planned, actual: what.value === "right" ? row.planned : 0, ...more },
        words,
      );
  }
  return html`<div class="card">${
    isMeant
      ? html`<${ChoiceField} label=${t("treat.what", { code: plot.code })} value=${what.value} onValue=${(
          /** @type {string} */ value,
        ) => {
          what.value = value;
        }} choices=${["right", "not"].map((value) => ({ value, label: t(`treat.${value}`) }))} />`
      : html`<p><b>${plot.code}</b>: ${t(row === null ? "treat.got_by_mistake" : "treat.undo")}</p>`
  }
    <${TextField} label=${t("measure.reason")} hint=${isAsked ? t("treat.reason_hint") : undefined} isOptional=${!isAsked} value=${note.value} maxLength=${400} onValue=${(
      /** @type {string} */ value,
    ) => {
      note.value = value;
    }} />
    <div><${Button} icon="check" isOff=${isAsked && words === ""} onPress=${save}>${t(what.value === "not_so" ? "treat.not_so" : "treat.save")}<//></div></div>`;
}

/** What was sprayed before it for the same trial, and not rinsed as far as anybody noted.
 * @param {{ order: string | null, mix: string | null, sprayer: string | null }} props */
export function RinseFirst({ order, mix, sprayer }) {
  const tepal = useTepal();
  const trial = useRecord("spray_order", order ?? "")?.shown.fields.trial ?? null;
  const applications = useRecords("application") ?? [];
  const before = unrinsedBefore(applications, {
    trial,
    mix,
    sprayer,
    today: tepal.wall().local.slice(0, 10),
  });
  if (!before) return null;
  const { fields } = before.shown;
  return html`<${Message} tone="caution" icon="sprayer" title=${t("treat.rinse_first", { mix: fields.mix_name ?? "–", time: fields.started_at.local.slice(11, 16) })}>
    <p>${t("treat.rinse_first_why")}</p><//>`;
}
