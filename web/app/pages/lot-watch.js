// A lot watched: this week's height against its lines, what the last application did to the growth, and what was seen.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { numberFormatOf } from "../core/number_format.js";
import { formatNumber, parseDecimal } from "../core/rounding.js";
import { useDraft, useRecord, useRecords, useTepal } from "../state/context.js";
import {
  cm,
  heightPoints,
  LOT_MEASURES,
  lastApplied,
  MOST_DAYS,
  numberProblem,
  ownFields,
  questionsAbout,
  watchDays,
} from "../state/lot-watch.js";
import { dayAfter, fieldOf, withUnit } from "../state/measure.js";
import { Button, GoButton } from "../ui/buttons.js";
import { DateField, NumberField, TextField } from "../ui/fields.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { dayAt, shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { mayCapture } from "./capture.js";
import { coreText } from "./core-words.js";
import { useWrittenNumbers } from "./establishment.js";
import { HeightChart } from "./height-chart.js";
import { LotGrowth } from "./lot-growth.js";
import { Photos } from "./photos.js";
import { momentText, recordName } from "./record-words.js";
import { WrongDay } from "./server-clock.js";
import { useSettings } from "./settings-context.js";

const EMPTY = {
  /** @type {Record<string, string>} what was typed, by measurement */ typed: {},
  /** @type {string[]} chosen beside those that this lot was measured for before */ more: [],
  phytotoxicity: "",
  stage: "",
  note: "",
  day: "", // an earlier day; "" is today
};
const CM_PER_INCH = 2.54; // by definition, international inch of 1959

/** @param {{ frame: any, id: string }} props */
export function LotWatchPage({ frame, id }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const lot = useRecord("lot", id);
  const applications = useRecords("application") ?? [];
  const numberFormat = numberFormatOf(useWrittenNumbers());
  const today = tepal.wall().local.slice(0, 10);
  const draft = useDraft(`lot-watch/${id}`, EMPTY);
  const seen = useSignal(/** @type {{day: string, fields: any, row: any}[] | null} */ (null));
  const failure = useSignal("");
  const asked = useSignal(/** @type {{key: string, questions: any[]} | null} */ (null));
  const idOf = (/** @type {string} */ day) => tepal.book.sharedId("lot", id, day);

  useEffect(() => {
    if (!lot) return;
    let isHere = true;
    // a clock that was put back must not hide what is on file
    const office = dayAt(tepal.serverNowMs());
    const days = watchDays(lot.shown.fields, [today, office].sort()[1]);
    tepal.book.getMany("observation", days.map(idOf)).then((rows) => {
      if (!isHere) return;
      seen.value = rows.flatMap((row, i) =>
        row?.shown && row.shown.state !== "void" ? [{ day: days[i], fields: row.shown.fields, row }] : [],
      );
    });
    return () => {
      isHere = false;
    };
  }, [lot?.id, today, tepal.observed.value]);

  const back = html`<${Button} kind="quiet" icon="back" href=${`/lots/${id}`}>${t("watch.lot")}<//>`;
  const refusal = mayCapture(tepal);
  if (!lot || seen.value === null || !draft.ready || refusal) {
    return frame(
      null,
      html`<${Page} title=${t("watch.title")} actions=${back}>${refusal || (lot === null && html`<${EmptyState} icon="lot" title=${t("register.not_here")} />`)}<//>`,
    );
  }
  const { fields } = lot.shown;
  const points = heightPoints(seen.value);
  const told = draft.value;
  const day = told.day || today;
  const now = seen.value.find((one) => one.day === day);
  const applied = lastApplied(applications, id);
  const before = new Set(seen.value.flatMap((one) => Object.keys(one.fields)));
  const chosen = Object.keys(LOT_MEASURES).filter(
    (code) => code === "height" || before.has(fieldOf(code)) || told.more.includes(code),
  );
  const isAsked = asked.value !== null && asked.value.questions.length > 0;

  /** What was typed as it is saved; throws words for what can't be. */
  function valuesTyped() {
    /** @type {Record<string, any>} */
    const values = {};
    const read = (/** @type {string} */ text, /** @type {string} */ name, most = 100_000) => {
      const value = parseDecimal(text, numberFormat);
      const problem = numberProblem(value, most);
      if (problem) throw new Refused(t(`watch.problem.${problem}`, { name, most }));
      return value;
    };
    for (const code of chosen) {
      const text = told.typed[code] ?? "";
      if (text.trim()) values[fieldOf(code)] = read(text, t(`plan.often.${code}`));
    }
    if (told.phytotoxicity.trim()) {
      values.phytotoxicity = read(told.phytotoxicity, t("plan.often.phytotoxicity"), 100);
    }
    if (told.stage.trim()) values.stage = told.stage.trim();
    if (told.note.trim()) values.note = told.note.trim();
    if (Object.keys(values).length === 0) throw new Refused(t("watch.something_first"));
    if (day > today || day < dayAfter(today, -MOST_DAYS)) {
      throw new Refused(t("watch.problem.day", { day: shortDay(today, language.value), n: MOST_DAYS }));
    }
    return values;
  }

  async function save() {
    let values;
    try {
      values = valuesTyped();
    } catch (error) {
      failure.value =
        error instanceof Refused ? error.message : coreText(/** @type {any} */ (error), numberFormat);
      return;
    }
    const key = JSON.stringify([day, values]);
    if (asked.value?.key !== key) {
      const questions = questionsAbout(values, seen.value ?? [], day, numberFormat);
      asked.value = { key, questions };
      if (questions.length > 0) return;
    }
    await write(values);
  }

  /** @param {Record<string, any>} values @param {string | null} [reason] */
  async function write(values, reason = null) {
    try {
      await tepal.save.all([actOf(values, reason)], { draft: `lot-watch/${id}` });
      await draft.clear();
      failure.value = "";
      asked.value = null;
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
  }

  /** @param {Record<string, any>} values @param {string | null} [reason] */
  function actOf(values, reason = null) {
    const wanted = now ? values : { lot: id, assessment: day, plant: 0, ...values };
    const changes = tepal.book.changesBetween(now?.fields ?? {}, wanted);
    return tepal.save.act("observation", idOf(day), now ? "change" : "create", changes, reason);
  }

  /** @param {Event} event */
  async function addPhoto(event) {
    const input = /** @type {HTMLInputElement} */ (event.currentTarget);
    const file = input.files?.[0];
    input.value = "";
    if (!file) return;
    try {
      const at = tepal.wall();
      const burnt = [`${recordName("lot", fields)}`, momentText(at, language.value)];
      const { fields: photo, ...bytes } = await tepal.book.readPhoto(file, burnt);
      const changes = tepal.book.changesBetween(
        {},
        { ...photo, of_kind: "observation", of_id: idOf(day), captured_at: at },
      );
      // the day's own record first: a photo of nothing would be found by nobody
      const acts = [tepal.save.act("photo", tepal.book.newId(), "create", changes)];
      await tepal.save.all(now ? acts : [actOf({}), ...acts], {
        photos: [{ ...bytes, of_id: idOf(day), saved_at: new Date(tepal.nowMs()).toISOString() }],
      });
    } catch (error) {
      failure.value = t("apply.photo_failed", {
        why: String(error instanceof Error ? error.message : error),
      });
    }
  }
  const changed = (/** @type {any} */ values) => {
    failure.value = "";
    asked.value = null;
    draft.merge(values);
  };
  const field = (/** @type {string} */ name) => (/** @type {string} */ value) => changed({ [name]: value });
  const canAdd = Object.keys(LOT_MEASURES).filter((code) => !chosen.includes(code));
  return frame(
    html`<${FootAct}>${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
      ${asked.value?.questions.map(
        (one) =>
          html`<${Message} key=${one.measure} tone="caution" title=${`${t(`plan.often.${one.measure}`)}: ${t(`watch.ask.${one.code}`, one.params)}`} live=${true} />`,
      )}
      <${GoButton} onPress=${save}>${t(isAsked ? "watch.keep" : "watch.save")}<//><//>`,
    html`<${Page} title=${recordName("lot", fields)} under=${t("watch.title")} actions=${back} isReading=${true}>
      <${WrongDay} />
      <${LotGrowth} lot=${fields} points=${points} applied=${applied} today=${today} numberFormat=${numberFormat} />
      ${points.length > 0 || fields.finish_on ? html`<${HeightChart} lot=${fields} points=${points} today=${today} applied=${applied?.on ?? null} numberFormat=${numberFormat} />` : null}
      <section class="stack"><h2>${t(day === today ? "watch.today" : "watch.day", { day: shortDay(day, language.value) })}</h2>
        ${
          now &&
          ownFields(now.fields).length > 0 &&
          html`<${Message} tone="plain" title=${t("watch.already", { what: seenWords(now.fields, numberFormat) })}><p>${t("watch.already_why")}</p>
          <${Button} icon="undo" onPress=${() => write(Object.fromEntries(ownFields(now.fields).map((name) => [name, null])), "undo")}>${t("watch.take_back")}<//><//>`
        }
        ${chosen.map(
          (code) =>
            html`<${NumberField} key=${code} label=${[t(`plan.often.${code}`), LOT_MEASURES[code].unit].filter(Boolean).join(", ")} hint=${t(code === "height" ? "watch.height_hint" : `plan.often.${code}_is`)} isOptional=${true}
            also=${inInches(told.typed[code] ?? "", LOT_MEASURES[code].unit, numberFormat)} value=${told.typed[code] ?? ""} onValue=${(/** @type {string} */ value) => changed({ typed: { ...told.typed, [code]: value } })} />`,
        )}
        ${
          canAdd.length > 0 &&
          html`<details class="card"><summary><b>${t("watch.more")}</b></summary><div class="row">${canAdd.map(
            (code) =>
              html`<${Button} key=${code} icon="plus" onPress=${() => changed({ more: [...told.more, code] })}>${t(`plan.often.${code}`)}<//>`,
          )}</div></details>`
        }
        <${NumberField} label=${t("watch.phytotoxicity")} hint=${t("watch.phytotoxicity_hint")} isOptional=${true} value=${told.phytotoxicity} onValue=${field("phytotoxicity")} />
        <${TextField} label=${t("measure.stage")} isOptional=${true} maxLength=${120} value=${told.stage} onValue=${field("stage")} />
        <${TextField} label=${t("measure.note")} isOptional=${true} isLong=${true} maxLength=${2000} value=${told.note} onValue=${field("note")} />
        <${DateField} label=${t("watch.day_of")} hint=${t("watch.day_hint")} isOptional=${true} value=${told.day} onValue=${field("day")} />
        ${day === today && html`<label class="btn photo-button" onPointerDown=${() => draft.keep()}><span>${t("apply.photo")}</span><input class="visually-hidden" type="file" accept="image/jpeg,image/png" capture="environment" onChange=${addPhoto} /></label>`}
        <${Photos} ofId=${idOf(day)} /></section>
      <${Seen} seen=${seen.value} numberFormat=${numberFormat} onDay=${(/** @type {string} */ one) => changed({ day: one === today ? "" : one })} />
    <//>`,
  );
}

/** What was typed can't be saved; the message is for the person. */
class Refused extends Error {}

/** "5.7 in" beside a typed length; nothing beside anything else. @param {string} text @param {string | null | undefined} unit @param {any} numberFormat */
function inInches(text, unit, numberFormat) {
  if (unit !== "cm" || !text.trim()) return undefined;
  try {
    const cmTyped = Number(parseDecimal(text, numberFormat));
    return `${formatNumber(cmTyped / CM_PER_INCH, 1, numberFormat)}\u00a0in`;
  } catch {
    return undefined;
  }
}

/** What was seen on a day, in words. @param {any} fields @param {any} numberFormat */
const seenWords = (fields, numberFormat) =>
  [
    ...Object.values(LOT_MEASURES).map((one) => {
      const value = fields[fieldOf(one.code)];
      if (typeof value !== "string") return "";
      return one.code === "height"
        ? cm(Number(value), numberFormat)
        : `${t(`plan.often.${one.code}`)} ${withUnit(value, one, numberFormat)}`;
    }),
    fields.phytotoxicity &&
      t("watch.phyto_n", { n: formatNumber(Number(fields.phytotoxicity), 0, numberFormat) }),
    fields.stage,
    fields.note,
  ]
    .filter(Boolean)
    .join(" · ");

/** @param {{ seen: any[], numberFormat: any, onDay: (day: string) => void }} props */
function Seen({ seen, numberFormat, onDay }) {
  const { language } = useSettings();
  const photos = useRecords("photo") ?? [];
  const nPhotos = (/** @type {any} */ row) =>
    photos.filter(({ shown }) => shown.fields.of_id === row.id && shown.state !== "void").length;
  const rows = seen.filter(({ fields, row }) => ownFields(fields).length > 0 || nPhotos(row) > 0);
  if (rows.length === 0) return null;
  return html`<section class="stack"><h2>${t("watch.seen")}</h2><ul class="list">${rows.toReversed().map(
    ({ day, fields, row }) =>
      html`<li key=${day}><button type="button" class="list-row" onClick=${() => {
        onDay(day);
        document.querySelector("main h2")?.scrollIntoView();
      }}><span class="choice-text"><b>${shortDay(day, language.value)}</b><span class="choice-detail">${[
        seenWords(fields, numberFormat),
        nPhotos(row) > 0 && t("office.photos", { n: nPhotos(row) }),
      ]
        .filter(Boolean)
        .join(" · ")}</span></span></button></li>`,
  )}</ul></section>`;
}
