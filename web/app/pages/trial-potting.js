// Potting on: the liners of a trial become its finished pots, each at a new random place, each knowing which liner it was.
// The new trial, and the end of the liners' one, are one saving.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { useLocation } from "preact-iso";
import { useDraft, useRecord, useRecords, useTepal } from "../state/context.js";
import { idParts, measuredPlots, stopsOf } from "../state/measure.js";
import { aheadOf, goneOf, keptOf, leftOut, pottedFields } from "../state/potting.js";
import { wholeOf } from "../state/trial-plan.js";
import { Button, GoButton } from "../ui/buttons.js";
import { RefField, SeveralField, YesNoField } from "../ui/choices.js";
import { DateField, NumberField, TextField } from "../ui/fields.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { BenchMap } from "./bench-map.js";
import { failureText } from "./device.js";
import { may } from "./may.js";
import { recordName } from "./record-words.js";
import { useSettings } from "./settings-context.js";
import { nextCode } from "./trial-small.js";
import { treatmentName } from "./trial-words.js";

const CHUNK = 100;

/** Where the plants of a trial came from and went to. @param {{ id: string, trial: any }} props */
export function PottingLinks({ id, trial }) {
  const trials = useRecords("trial") ?? [];
  const { language } = useSettings();
  const from = trials.find((row) => row.id === trial.origin)?.shown.fields;
  const to = trials.filter((row) => row.shown.fields.origin === id && row.shown.state !== "void");
  if (!from && to.length === 0) return null;
  const isAgain = Boolean(from?.origin); // moved a second time: they were no liners any more
  return html`<div class="row">
    ${from && html`<${Button} icon="back" href=${`/trials/${trial.origin}`}>${t(isAgain ? "potting.from_again" : "potting.from", { code: String(from.code ?? ""), day: trial.potted_on ? shortDay(trial.potted_on, language.value) : "–" })}<//>`}
    ${to.map((row) => html`<${Button} key=${row.id} icon="forward" href=${`/trials/${row.id}`}>${t("potting.to", { code: String(row.shown.fields.code ?? "") })}<//>`)}</div>`;
}

/** @param {{ frame: any, id: string }} props */
export function PottingPage({ frame, id }) {
  const tepal = useTepal();
  const row = useRecord("trial", id);
  const trials = useRecords("trial");
  const title = t("potting.title");
  if (!row || trials === null) {
    return frame(
      null,
      html`<${Page} title=${title}>${row === null && html`<${EmptyState} icon="trial" title=${t("trial.not_here")} />`}<//>`,
    );
  }
  const fields = row.shown.fields;
  const why =
    may(tepal.session.value, "registers") !== "yes"
      ? "trial.plan_grower"
      : measuredPlots(fields).length === 0
        ? "potting.no_layout"
        : "";
  const leave = html`<${Button} kind="quiet" icon="back" href=${`/trials/${id}`}>${t("office.leave")}<//>`;
  if (why)
    return frame(
      null,
      html`<${Page} title=${title} actions=${leave}><${Message} tone="stopped" title=${t(why)} /><//>`,
    );
  return html`<${Potting} frame=${frame} id=${id} row=${row} code=${nextCode(trials)} leave=${leave} />`;
}

/** @param {any} props */
function Potting({ frame, id, row, code, leave }) {
  const tepal = useTepal();
  const { route } = useLocation();
  const trial = row.shown.fields;
  const today = tepal.wall().local.slice(0, 10);
  const draft = useDraft(`potting/${id}`, {
    code,
    // a second move keeps the title: it says "finished pots" already
    title: trial.origin
      ? String(trial.title ?? "")
      : t("potting.title_of", { title: trial.title ?? trial.code ?? "" }),
    potted_on: today,
    out: "",
    lot: /** @type {string | null} */ (null),
    bench: /** @type {string | null} */ (null),
    rows: "",
    columns: "",
    guard_rows: "0",
    guard_columns: "0",
    codes: /** @type {string[] | null} */ (null),
    ends: /** @type {boolean | null} */ (true),
    drawn: /** @type {any} */ (null),
  });
  const failure = useSignal("");
  const isBusy = useSignal(false);
  const gone = useGone(id, trial, today);
  const lots = useRecords("lot") ?? [];
  const benches = useRecords("bench") ?? [];
  if (!draft.ready || gone === null)
    return frame(
      null,
      html`<${Page} title=${t("potting.title")}><p role="status">${t("apply.reading")}</p><//>`,
    );
  const form = draft.value;
  const ahead = aheadOf(trial, form.potted_on);
  const codes = form.codes ?? ahead.map((/** @type {any} */ one) => one.code);
  const typed = leftOut(form.out, trial);
  const kept = keptOf(trial, new Set([...gone.keys(), ...typed.plants]));
  const set = (/** @type {any} */ more) => {
    failure.value = "";
    draft.merge(more);
  };
  const asksPlaces = (/** @type {any} */ more) => set({ ...more, drawn: null });
  const [rows, columns] = [wholeOf(form.rows), wholeOf(form.columns)];
  const lack = !(form.code.trim() && form.title.trim())
    ? t("plan.lack.title")
    : typed.problem
      ? t("potting.no_plant", { said: typed.problem })
      : !form.drawn
        ? t("potting.draw_first")
        : "";

  async function draw() {
    if (isBusy.value || !rows || !columns || typed.problem) {
      if (!rows || !columns) failure.value = t("potting.bench_first");
      return;
    }
    isBusy.value = true;
    const guards = {
      guard_rows: wholeOf(form.guard_rows) ?? 0,
      guard_columns: wholeOf(form.guard_columns) ?? 0,
    };
    const got = await tepal.api.post(`/trials/${id}/potted`, { bench: { rows, columns, ...guards }, kept });
    isBusy.value = false;
    failure.value = got.ok ? "" : failureText(got);
    if (got.ok) draft.merge({ drawn: got.reply });
  }

  async function save() {
    if (lack || isBusy.value) return;
    isBusy.value = true;
    const record = tepal.book.newId();
    const fields = pottedFields(trial, id, form.drawn, { ...form, codes }, tepal.wall());
    const { changesBetween } = tepal.book;
    const group = tepal.book.newId();
    const acts = [tepal.save.act("trial", record, "create", changesBetween({}, fields))];
    if (form.ends && ["planned", "running"].includes(trial.phase ?? "planned")) {
      const ended = changesBetween(trial, { phase: "finished", finished_on: form.potted_on });
      acts.push(tepal.save.act("trial", id, "change", ended));
    }
    try {
      await tepal.save.all(
        acts.map((act) => ({ ...act, group })),
        { draft: `potting/${id}` },
      );
      await draft.clear();
      route(`/trials/${record}`);
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    } finally {
      isBusy.value = false;
    }
  }
  const whole = (/** @type {string} */ name, /** @type {boolean} */ isOptional) =>
    html`<${NumberField} label=${t(`plan.${name}`)} isWhole=${true} isOptional=${isOptional} value=${/** @type {any} */ (form)[name]} onValue=${(/** @type {string} */ value) => asksPlaces({ [name]: value })} />`;
  const harvested = [...gone.values()].filter((one) => one === "harvested").length;
  return frame(
    html`<${FootAct}>${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
      <${GoButton} isOff=${Boolean(lack)} onPress=${save}>${lack || t("potting.save", { code: form.code, n: kept.length })}<//><//>`,
    html`<${Page} title=${t("potting.title")} under=${`${trial.code ?? ""} · ${trial.title ?? ""}`} isReading=${true} actions=${leave}>
      <p>${t(trial.origin ? "potting.why_again" : "potting.why")}</p>
      <${Message} tone="plain" title=${t("potting.unit")}><p>${t("potting.unit_why")}</p><//>
      <${TextField} label=${t("plan.code")} value=${form.code} maxLength=${12} onValue=${(/** @type {string} */ value) => set({ code: value })} />
      <${TextField} label=${t("plan.title")} value=${form.title} maxLength=${200} onValue=${(/** @type {string} */ value) => set({ title: value })} />
      <${DateField} label=${t("field.potted_on")} value=${form.potted_on} onValue=${(/** @type {string} */ value) => value && set({ potted_on: value })} />
      <section class="stack"><h2>${t("potting.plants")}</h2>
        <p>${t("potting.n_plants", { n: kept.length, all: keptOf(trial, new Set()).length })}${gone.size > 0 ? ` ${t("potting.gone", { dead: gone.size - harvested, harvested })}` : ""}</p>
        <${TextField} label=${t("potting.out")} hint=${t("potting.out_hint")} isOptional=${true} value=${form.out} maxLength=${2000} error=${typed.problem ? t("potting.no_plant", { said: typed.problem }) : ""} onValue=${(/** @type {string} */ out) => asksPlaces({ out })} /></section>
      <section class="stack"><h2>${t("potting.where")}</h2>
        <${RefField} label=${t("plan.bench")} isOptional=${true} value=${form.bench} options=${benches.filter(isLive).map((one) => ({ id: one.id, name: recordName("bench", one.shown.fields) }))} onValue=${(/** @type {any} */ bench) => set({ bench })} />
        <${RefField} label=${t("potting.lot")} isOptional=${true} value=${form.lot} options=${lots.filter(isLive).map((one) => ({ id: one.id, name: recordName("lot", one.shown.fields) }))} onValue=${(/** @type {any} */ lot) => set({ lot })} />
        <p class="muted">${t("potting.cells")}</p>
        <div class="halves">${whole("rows", false)}${whole("columns", false)}${whole("guard_rows", true)}${whole("guard_columns", true)}</div>
        <div><${Button} icon="mix" onPress=${draw}>${t(isBusy.value ? "plan.drawing" : form.drawn ? "potting.draw_again" : "potting.draw")}<//></div>
        ${
          form.drawn &&
          html`<${BenchMap} trial=${{ ...form.drawn, treatments: trial.treatments }} /><p class="muted small">${t("trial.seed", { seed: form.drawn.seed, algorithm: form.drawn.algorithm })}</p>
          <p class="muted small">${(trial.treatments ?? []).map(treatmentName).join(", ")}</p>`
        }</section>
      ${(trial.assessments ?? []).length > 0 && html`<${SeveralField} label=${t("potting.assessments")} hint=${t("potting.assessments_hint")} isOptional=${true} values=${codes} onValues=${(/** @type {string[]} */ values) => set({ codes: values })} choices=${trial.assessments.map((/** @type {any} */ one) => ({ value: one.code, label: one.name ?? one.code, detail: t("trial.day_n", { day: one.day ?? 0 }) }))} />`}
      <${YesNoField} label=${t("potting.ends", { code: trial.code ?? "" })} value=${form.ends} onValue=${(/** @type {boolean} */ ends) => set({ ends })} />
    <//>`,
  );
}

/** @param {any} row */
const isLive = (row) => row.shown.state !== "void" && row.shown.fields.retired !== true;

/** The plants that this phone knows to be gone; null while it reads. @param {string} id @param {any} trial @param {string} today */
function useGone(id, trial, today) {
  const tepal = useTepal();
  const found = useSignal(/** @type {Map<string, "gone" | "harvested"> | null} */ (null));
  const member = tepal.session.value?.member?.id ?? "";
  useEffect(() => {
    let isHere = true;
    (async () => {
      /** @type {any[]} */
      const rows = [];
      for (const planned of trial.assessments ?? []) {
        const ids = stopsOf(trial, planned).map((stop) =>
          tepal.book.sharedId(...idParts(id, planned, stop, member)),
        );
        for (let at = 0; at < ids.length; at += CHUNK) {
          const got = await tepal.book.getMany("observation", ids.slice(at, at + CHUNK));
          if (!isHere) return;
          for (const row of got) if (row?.shown) rows.push(row.shown);
        }
      }
      if (isHere) found.value = goneOf(trial, today, rows);
    })();
    return () => {
      isHere = false;
    };
  }, [id, tepal.observed.value]);
  return found.value;
}
