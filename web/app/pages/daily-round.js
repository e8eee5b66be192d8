// The daily round: what opened today. A tap on a plant says "open today"; who passes every plot says so at the end, since
// a plant that nobody looked at is not the same as one that was closed.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { useRecord, useTepal } from "../state/context.js";
import { definitionsOf, dueOf, fieldOf, plannedOf, stopsOf } from "../state/measure.js";
import { Button, GoButton } from "../ui/buttons.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Stake } from "../ui/stake.js";
import { EmptyState, Message } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { mayCapture } from "./capture.js";
import { ReasonSheet } from "./measure-sheets.js";
import { WrongDay } from "./server-clock.js";
import { useSettings } from "./settings-context.js";
import { dueWords } from "./trial-words.js";

/** @typedef {import("../state/measure.js").Stop} Stop */

const CHUNK = 50; // records read at once: more would hold the screen up on a slow phone

/** @param {{ frame: any, id: string, code: string }} props */
export function DailyRoundPage({ frame, id, code }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const trial = useRecord("trial", id);
  const fields = trial?.shown.fields;
  const planned = fields ? plannedOf(fields, code) : null;
  const [definition] = fields ? definitionsOf(fields, planned) : [];
  const stops = fields && planned ? stopsOf(fields, planned) : [];
  const today = tepal.wall().local.slice(0, 10);
  const rows = useRef(/** @type {Map<string, any>} */ (new Map()));
  const version = useSignal(0);
  const isDone = useSignal(false);
  const failure = useSignal("");
  const isGoneMode = useSignal(false); // a tap says that a plant is gone, not that it opened
  const gone = useSignal(/** @type {Stop | null} */ (null));
  const { book, save } = tepal;
  const idOf = (/** @type {Stop} */ stop) => book.sharedId(id, code, stop.plot, stop.plant);
  // the day is part of the code: that it was done is known by the record being there, so two phones never differ over it
  const dayCode = `${code}.${today}`;
  const dayId = book.sharedId(id, dayCode);

  useEffect(() => {
    if (stops.length === 0) return;
    let isHere = true;
    (async () => {
      for (let start = 0; start < stops.length && isHere; start += CHUNK) {
        const found = await book.getMany("observation", stops.slice(start, start + CHUNK).map(idOf));
        for (const row of found) if (row?.shown) rows.current.set(row.id, row.shown.fields);
      }
      const day = await book.get("assessment", dayId);
      if (!isHere) return;
      isDone.value = Boolean(day?.shown);
      version.value += 1;
    })();
    return () => {
      isHere = false;
    };
  }, [id, code, stops.length, tepal.observed.value]);

  const title = planned?.name ?? t("trial.round");
  const refusal = mayCapture(tepal);
  if (refusal) return frame(null, html`<${Page} title=${title} isReading=${true}>${refusal}<//>`);
  if (trial === undefined) return frame(null, html`<${Page} title=${title} />`);
  if (!fields || !planned || !definition) {
    return frame(
      null,
      html`<${Page} title=${title}><${EmptyState} icon="trial" title=${t("trial.not_here")} /><//>`,
    );
  }
  const name = fieldOf(definition.code);

  /** Open today, or, tapped again on the same day, not open after all. @param {Stop} stop */
  async function tap(stop) {
    const own = rows.current.get(idOf(stop));
    const was = own?.[name] ?? null;
    if (isGoneMode.value) {
      if (was === null) gone.value = stop;
      // what was said to be gone by mistake stands again
      else if (typeof was === "object")
        await put(stop, { [name]: null, condition: null, condition_why: null });
      return;
    }
    if (was === null || was === today) await put(stop, { [name]: was === null ? today : null });
  }

  /** Save fields of a plant; shown at once, and put back where that fails. @param {Stop} stop @param {Record<string, any>} values */
  async function put(stop, values) {
    const key = idOf(stop);
    const old = rows.current.get(key);
    const to = values[name];
    const start = { trial: id, assessment: code, plot: stop.plot, plant: stop.plant };
    const wanted = old ? values : { ...start, ...values };
    /** @type {Record<string, any>} */
    const fresh = { ...start, ...old, ...values };
    for (const [field, value] of Object.entries(fresh)) if (value === null) delete fresh[field];
    rows.current.set(key, fresh);
    version.value += 1;
    try {
      const changes = book.changesBetween(old ?? {}, wanted);
      await save.all([
        save.act("observation", key, old ? "change" : "create", changes, to === null ? "undo" : null),
      ]);
      failure.value = "";
    } catch (error) {
      if (old) rows.current.set(key, old);
      else rows.current.delete(key);
      version.value += 1;
      failure.value = t("office.not_saved", { cause: String(error) });
    }
  }

  async function done() {
    try {
      await save.create("assessment", { trial: id, code: dayCode }, { id: dayId });
      isDone.value = true;
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
  }

  const stateOf = (/** @type {Stop} */ stop) => {
    const own = rows.current.get(idOf(stop)) ?? {};
    const value = own[name] ?? null;
    if (own.condition && own.condition !== "alive") return "lost";
    if (value === null) return "closed";
    if (typeof value === "object") return "lost";
    if (value === today) return "today";
    return fields.day_zero_on && value <= fields.day_zero_on ? "at_treatment" : "open";
  };
  const states = version.value >= 0 ? stops.map(stateOf) : []; // asked for so that what was read is drawn
  const nToday = states.filter((state) => state === "today").length;
  const due = dueOf(fields, planned);
  const isOutside = due !== null && (today < due.from || today > due.to);
  const plots = [...new Set(stops.map((stop) => stop.code))];
  const blocks = [...new Set(stops.map((stop) => stop.block))];
  return frame(
    html`<${FootAct}>${
      isDone.value
        ? html`<p class="strong">${t("round.is_done", { n: nToday })}</p><${Button} href=${`/trials/${id}`}>${t("measure.to_trial")}<//>`
        : html`<${GoButton} onPress=${done}>${t("round.done", { n: nToday })}<//>`
    }<//>`,
    html`<${Page} title=${title} under=${shortDay(today, language.value)} isReading=${true}
      actions=${html`<${Button} kind="quiet" icon="back" href=${`/trials/${id}`}>${fields.code}<//>`}>
      <${WrongDay} />
      ${isOutside && html`<${Message} tone="caution" title=${t("measure.outside", { when: dueWords(fields, planned, today, language.value) })} />`}
      <p>${t("round.how", { definition: definition.definition ?? definition.name ?? "" })}</p>
      <div><button type="button" class="btn" aria-pressed=${isGoneMode.value} onClick=${() => {
        isGoneMode.value = !isGoneMode.value;
      }}>${t(isGoneMode.value ? "round.gone_end" : "round.gone")}</button></div>
      ${isGoneMode.value && html`<${Message} tone="waiting" title=${t("round.gone_how")} />`}
      ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
      ${blocks.map(
        (
          block,
        ) => html`<section class="stack-1" key=${block ?? 0}>${block !== null && html`<h2>${t("measure.block", { block })}</h2>`}
        <ul class="list">${plots
          .filter((plot) => stops.find((stop) => stop.code === plot)?.block === block)
          .map(
            (plot) =>
              html`<li class="list-row round-row" key=${plot}><${Stake} code=${plot} tone="mine" /><span class="round-keys">${stops
                .map((stop, at) => ({ stop, state: states[at] }))
                .filter(({ stop }) => stop.code === plot)
                .map(
                  ({ stop, state }) =>
                    html`<button type="button" key=${stop.plant} class=${`round-key is-${state}`} aria-pressed=${state === "today"} aria-disabled=${(isGoneMode.value ? ["closed", "lost"] : ["closed", "today"]).includes(state) ? undefined : "true"}
                  aria-label=${t(`round.key.${state}`, { plant: stop.plant, code: plot })} onClick=${() => tap(stop)}><b>${stop.plant}</b><span>${t(`round.${state}`)}</span></button>`,
                )}</span></li>`,
          )}</ul></section>`,
      )}
      ${
        gone.value &&
        html`<${ReasonSheet} code=${gone.value.code} isDead=${true} onReason=${(
          /** @type {{missing: string, note: string | null}} */ reason,
        ) =>
          put(/** @type {Stop} */ (gone.value), {
            [name]: reason,
            condition: reason.missing,
            condition_why: reason.note,
          })} onClose=${() => {
          gone.value = null;
        }} />`
      }
    <//>`,
  );
}
