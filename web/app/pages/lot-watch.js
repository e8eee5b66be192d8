// A lot watched: this week's height against its lines, what the last application did to the growth, and what was seen.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { heightVerdict, slopes } from "../core/heights.js";
import { numberFormatOf } from "../core/number_format.js";
import { formatNumber, parseDecimal } from "../core/rounding.js";
import { useDraft, useRecord, useRecords, useTepal } from "../state/context.js";
import { cm, heightPoints, lastApplied, latestSlope, watchDays } from "../state/lot-watch.js";
import { Button, GoButton } from "../ui/buttons.js";
import { NumberField, TextField } from "../ui/fields.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { mayCapture } from "./capture.js";
import { coreText } from "./core-words.js";
import { useWrittenNumbers } from "./establishment.js";
import { HeightChart } from "./height-chart.js";
import { linesOn } from "./lot-lines.js";
import { Photos } from "./photos.js";
import { momentText, recordName } from "./record-words.js";
import { useSettings } from "./settings-context.js";

const EMPTY = { height: "", phytotoxicity: "", stage: "", note: "" };
const TONES = /** @type {const} */ ({ below: "caution", within: "passed", above: "caution" });

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
  const idOf = (/** @type {string} */ day) => tepal.book.sharedId("lot", id, day);

  useEffect(() => {
    if (!lot) return;
    let isHere = true;
    const days = watchDays(lot.shown.fields, today);
    tepal.book.getMany("observation", days.map(idOf)).then((rows) => {
      if (!isHere) return;
      seen.value = rows.flatMap((row, i) =>
        row?.shown ? [{ day: days[i], fields: row.shown.fields, row }] : [],
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
  const last = points.at(-1) ?? null;
  const now = seen.value.find(({ day }) => day === today);
  const told = draft.value;

  async function save() {
    /** @type {Record<string, any>} */
    const values = {};
    try {
      if (told.height.trim()) values.m_height = parseDecimal(told.height, numberFormat);
      if (told.phytotoxicity.trim()) values.phytotoxicity = parseDecimal(told.phytotoxicity, numberFormat);
    } catch (error) {
      failure.value = coreText(/** @type {any} */ (error), numberFormat);
      return;
    }
    if (Number(values.phytotoxicity ?? 0) > 100) {
      failure.value = t("watch.at_most_100");
      return;
    }
    if (told.stage.trim()) values.stage = told.stage.trim();
    if (told.note.trim()) values.note = told.note.trim();
    if (Object.keys(values).length === 0) {
      failure.value = t("watch.something_first");
      return;
    }
    try {
      const wanted = now ? values : { lot: id, assessment: today, plant: 0, ...values };
      const changes = tepal.book.changesBetween(now?.fields ?? {}, wanted);
      await tepal.save.all([tepal.save.act("observation", idOf(today), now ? "change" : "create", changes)], {
        draft: `lot-watch/${id}`,
      });
      await draft.clear();
      failure.value = "";
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
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
        { ...photo, of_kind: "observation", of_id: idOf(today), captured_at: at },
      );
      await tepal.save.all([tepal.save.act("photo", tepal.book.newId(), "create", changes)], {
        photos: [{ ...bytes, of_id: idOf(today), saved_at: new Date(tepal.nowMs()).toISOString() }],
      });
    } catch (error) {
      failure.value = t("apply.photo_failed", {
        why: String(error instanceof Error ? error.message : error),
      });
    }
  }
  const field = (/** @type {string} */ name) => (/** @type {string} */ value) => {
    failure.value = "";
    draft.merge({ [name]: value });
  };
  return frame(
    html`<${FootAct}>${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
      <${GoButton} onPress=${save}>${t("watch.save")}<//><//>`,
    html`<${Page} title=${recordName("lot", fields)} under=${t("watch.title")} actions=${back} isReading=${true}>
      <${Verdict} lot=${fields} id=${id} points=${points} last=${last} applications=${applications} numberFormat=${numberFormat} />
      ${points.length > 0 || fields.finish_on ? html`<${HeightChart} lot=${fields} points=${points} today=${today} applied=${lastApplied(applications, id)?.on ?? null} numberFormat=${numberFormat} />` : null}
      <section class="stack"><h2>${t("watch.today", { day: shortDay(today, language.value) })}</h2>
        ${now && html`<p class="muted">${t("watch.already")}</p>`}
        <${NumberField} label=${t("watch.height")} hint=${t("watch.height_hint")} isOptional=${true} value=${told.height} onValue=${field("height")} />
        <${NumberField} label=${t("watch.phytotoxicity")} hint=${t("watch.phytotoxicity_hint")} isOptional=${true} value=${told.phytotoxicity} onValue=${field("phytotoxicity")} />
        <${TextField} label=${t("measure.stage")} isOptional=${true} maxLength=${120} value=${told.stage} onValue=${field("stage")} />
        <${TextField} label=${t("measure.note")} isOptional=${true} isLong=${true} maxLength=${2000} value=${told.note} onValue=${field("note")} />
        <label class="btn photo-button" onPointerDown=${() => draft.keep()}><span>${t("apply.photo")}</span><input class="visually-hidden" type="file" accept="image/jpeg,image/png" capture="environment" onChange=${addPhoto} /></label>
        <${Photos} ofId=${idOf(today)} /></section>
      <${Seen} seen=${seen.value} numberFormat=${numberFormat} language=${language.value} />
    <//>`,
  );
}

/** One plain sentence, and what the last application did to the growth.
 * @param {{ lot: any, id: string, points: any[], last: any, applications: any[], numberFormat: any }} props */
function Verdict({ lot, id, points, last, applications, numberFormat }) {
  if (!last) return html`<${Message} tone="plain" title=${t("watch.no_height")} />`;
  const lines = linesOn(lot, last.on);
  const applied = lastApplied(applications, id);
  const growth = applied ? slopes(points, applied.on) : null;
  const perWeek = (/** @type {number} */ value) => cm(value * 7, numberFormat);
  return html`${
    lines === null
      ? html`<${Message} tone="plain" title=${t("watch.no_lines", { height: cm(last.height_cm, numberFormat) })}><p>${t("watch.no_lines_why")}</p><//>`
      : verdictOf(lines)
  }
  ${
    applied &&
    growth?.before_cm_per_d != null &&
    growth?.after_cm_per_d != null &&
    html`<p class="said">${t("watch.applied", { mix: applied.name, before: perWeek(growth.before_cm_per_d), after: perWeek(growth.after_cm_per_d) })}</p>`
  }`;

  /** @param {any} on */
  function verdictOf(on) {
    const found = heightVerdict(last.height_cm, on, latestSlope(points));
    const params = {
      height: cm(last.height_cm, numberFormat),
      off: cm(Math.abs(found.deviation_cm), numberFormat),
      wanted: cm(on.wanted_cm, numberFormat),
    };
    const line = found.verdict === "above" ? on.upper_cm : on.lower_cm;
    const beyond = cm(Math.abs(last.height_cm - line), numberFormat);
    return html`<${Message} tone=${TONES[/** @type {keyof typeof TONES} */ (found.verdict)]} title=${t(`watch.verdict.${found.verdict}`, { ...params, beyond })}>
      ${found.trend !== "unknown" && html`<p>${t(`watch.trend.${found.trend}`)}</p>`}<p class="muted small">${t("watch.source")}</p><//>`;
  }
}

/** @param {{ seen: any[], numberFormat: any, language: string }} props */
function Seen({ seen, numberFormat, language }) {
  if (seen.length === 0) return null;
  return html`<section class="stack"><h2>${t("watch.seen")}</h2><ul class="list">${[...seen]
    .reverse()
    .map(
      ({ day, fields }) =>
        html`<li class="list-row" key=${day}><span class="choice-text"><b>${shortDay(day, language)}</b><span class="choice-detail">${[
          typeof fields.m_height === "string" && cm(Number(fields.m_height), numberFormat),
          fields.phytotoxicity &&
            t("watch.phyto_n", { n: formatNumber(Number(fields.phytotoxicity), 0, numberFormat) }),
          fields.stage,
          fields.note,
        ]
          .filter(Boolean)
          .join(" · ")}</span></span></li>`,
    )}</ul></section>`;
}
