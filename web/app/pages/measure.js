// Measuring a plot: one plant after the other, one number after the other, one thumb. Never an earlier value before a
// value is entered; what can't be taken back lightly stands away from the digits.
import { useSignal } from "@preact/signals";
import { numberFormatOf } from "../core/number_format.js";
import { bedsOf, dueOf, fieldOf, progressOf, questionAbout, wireValue, withUnit } from "../state/measure.js";
import { Button, GoButton, IconButton } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Kept } from "../ui/kept.js";
import { Later } from "../ui/later.js";
import { MeasureWells, PlotBeds } from "../ui/measuring.js";
import { NumberPad } from "../ui/number-pad.js";
import { Quantity } from "../ui/quantity.js";
import { Stake } from "../ui/stake.js";
import { EmptyState, Message, StateChip } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { mayCapture } from "./capture.js";
import { useWrittenNumbers } from "./establishment.js";
import { DayWell, hasSteps, RatingKeys } from "./measure-kinds.js";
import { PhotoSheet } from "./measure-photo.js";
import { PlaceSheet } from "./measure-place.js";
import { MissingSheet, NoteSheet } from "./measure-sheets.js";
import { useMeasuring } from "./measuring.js";
import { WrongDay } from "./server-clock.js";
import { useSettings } from "./settings-context.js";
import { dueWords, placeWords } from "./trial-words.js";

const MOST_BEDS = 96; // more plots than this and only the block at hand is drawn

/** @param {{ frame: any, id: string, code: string, query: Record<string, string> }} props */
export function MeasurePage({ frame, id, code, query }) {
  const m = useMeasuring(id, code, (query.again ?? "").split(",").filter(Boolean));
  const refusal = mayCapture(m.tepal);
  const title = m.planned?.name ?? t("measure.title");
  if (refusal) return frame(null, html`<${Page} title=${title} isReading=${true}>${refusal}<//>`);
  if (m.trial === null || (m.fields && !m.planned)) {
    return frame(
      null,
      html`<${Page} title=${title}><${EmptyState} icon="trial" title=${t("trial.not_here")}><${Button} href="/trials">${t("place.trials")}<//><//><//>`,
    );
  }
  if (m.fields && m.stops.length === 0) {
    return frame(
      null,
      html`<${Page} title=${title}><${EmptyState} icon="trial" title=${t("measure.no_plots")}><${Button} href=${`/trials/${id}`}>${m.fields.code}<//><//><//>`,
    );
  }
  if (!m.isReady)
    return frame(null, html`<${Page} title=${title}><p role="status">${t("apply.reading")}</p><//>`);
  return html`<${Pad} frame=${frame} m=${m} id=${id} />`;
}

/** @param {{ frame: any, m: import("./measuring.js").Measuring, id: string }} props */
function Pad({ frame, m, id }) {
  const { hand, language } = useSettings();
  const written = useWrittenNumbers();
  const numberFormat = numberFormatOf(written);
  const sheet = useSignal("");
  const question = useSignal(/** @type {{ text: string, about: any } | null} */ (null));
  const whole = useSignal(false);
  const { stop, well, draft } = m;
  const definition = stop.definitions[well];
  const kind = definition.type ?? "continuous";
  const { text } = draft.value;
  const value = wireValue(text, numberFormat);
  const asks = question.value?.text === text && draft.value.kept !== text ? question.value : null;

  /** @param {string} wire */
  function keep(wire) {
    question.value = null;
    whole.value = m.enter({ [fieldOf(definition.code)]: wire });
  }

  async function next() {
    if (value === null || asks) return;
    const place = { at: m.at, well, text };
    const range = questionAbout(definition, value, { earlier: null, numberFormat });
    if (draft.value.kept === text) return keep(value);
    if (range) {
      question.value = { text, about: range };
      return undefined;
    }
    if (kind !== "continuous" || m.before.length === 0) return keep(value);
    const known = m.earlierKnown(definition.code);
    const earlier = known === undefined ? await m.earlier(definition.code) : known;
    const jump = questionAbout(definition, value, { earlier, numberFormat });
    if (known === undefined && m.draft.value.text !== place.text) return undefined; // typed on meanwhile
    if (jump) question.value = { text, about: jump };
    else keep(value);
    return undefined;
  }

  const own = m.own ?? {};
  const stored = own[fieldOf(definition.code)] ?? null;
  const missing = typeof stored === "object" ? stored : null;
  const shown = text !== "" ? text : typeof stored === "string" ? inFormat(stored, numberFormat) : null;
  const wells = stop.definitions.map((one, i) => ({
    label: one.name ?? one.code,
    text: i === well && text !== "" ? text : wellText(own[fieldOf(one.code)], one, numberFormat),
    isCurrent: i === well,
    onOpen: () => {
      question.value = null;
      whole.value = false;
      m.openWell(i);
    },
  }));
  const apart = [
    { label: t("measure.undo"), onPress: undo },
    {
      label: t("measure.dead"),
      onPress: () => {
        sheet.value = "dead";
      },
    },
    {
      label: t("measure.missing"),
      onPress: () => {
        sheet.value = "missing";
      },
    },
  ];
  const foot = whole.value
    ? html`<div class="foot-act"><p class="strong">${t("measure.whole")}</p><div><${Button} icon="undo" onPress=${undo}>${t("measure.undo")}<//></div><${GoButton} href=${`/trials/${id}`}>${t("measure.to_trial")}<//></div>`
    : asks
      ? html`<div class="foot-act">
          <${Message} tone="caution" title=${t(`measure.ask.${asks.about.code}`, asks.about.params)} live=${true}><p class="small">${t("measure.ask_source")}</p><//>
          <div class="row"><${Button} onPress=${() => m.typeText("")}>${t("measure.correct")}<//>
            <div class="grows"><${GoButton} onPress=${() => value !== null && keep(value)}>${t("measure.keep", { value: withUnit(value ?? "0", definition, numberFormat) })}<//></div></div></div>`
      : kind === "days"
        ? html`<${DayWell} m=${m} definition=${definition} apart=${apart} onDay=${(/** @type {string} */ day) => keep(day)} />`
        : kind === "proportion" || (kind === "rating" && hasSteps(definition))
          ? html`<${RatingKeys} definition=${definition} apart=${apart} onValue=${keep} numberFormat=${numberFormat} />`
          : html`<${NumberPad} text=${text} decimalSign=${numberFormat.decimal} maxDecimals=${kind === "count" ? 0 : (definition.decimals ?? 1)} nextLabel=${t("measure.next")}
              isLeft=${hand.value === "left"} onText=${(/** @type {string} */ typed) => m.typeText(typed)} onNext=${next} canNext=${value !== null} apart=${apart} />`;

  const head =
    () => html`<header class="measure-head"><h1 class="visually-hidden" tabindex="-1">${m.planned?.name ?? ""}</h1>
        <${Stake} code=${stop.code} tone="mine" />
        <p class="grows"><b>${placeWords(stop)}</b></p>
        <span class="measure-tools"><${IconButton} icon="list" label=${t("measure.map")} onPress=${() => open("place")} />
          <${IconButton} icon="camera" label=${t("measure.photo")} onPress=${() => open("photo")} />
          <${IconButton} icon="pencil" label=${t("measure.note")} onPress=${() => open("note")} /></span>
      </header>`;

  return frame(
    html`<${Later}>${foot}<//>`,
    html`<div class="page measuring">
      <${Kept} by=${[m.planned, stop]} draw=${head} />
      <${Later}><${Beds} m=${m} onOpen=${() => open("place")} /><//>
      <${Kept} by=${[m.planned, m.fields, m.at, m.goneBefore()?.why]} draw=${() => html`<${WrongDay} isShort=${true} /><${Outside} m=${m} language=${language.value} />`} />
      ${m.failure.value && html`<${Message} tone="stopped" title=${t("measure.not_saved", m.failure.value)} live=${true} />`}
      <section class="measure-value" aria-live="polite">
        <div class="spread"><h2>${definition.name ?? definition.code}</h2><span class="muted measure-definition">${definition.definition ?? ""}</span></div>
        ${
          missing && text === ""
            ? html`<p class="measure-missing">${t(`missing_why.${missing.missing}`)}${missing.note ? ` · ${missing.note}` : ""}</p>`
            : kind === "days"
              ? html`<p class="measure-missing">${stored ? shortDay(String(stored), language.value) : "–"}</p>`
              : html`<${Quantity} size="giant" value=${shown} unit=${definition.unit ?? ""} />`
        }
        <p class="muted small">${t("measure.no_earlier")}</p>
      </section>
      ${wells.length > 1 && html`<${Later}><${MeasureWells} wells=${wells} /><//>`}
      ${sheet.value === "place" && html`<${PlaceSheet} m=${m} onClose=${close} />`}
      ${sheet.value === "photo" && html`<${PhotoSheet} m=${m} onClose=${close} />`}
      ${sheet.value === "note" && html`<${NoteSheet} m=${m} onClose=${close} />`}
      ${(sheet.value === "missing" || sheet.value === "dead") && html`<${MissingSheet} m=${m} isDead=${sheet.value === "dead"} definition=${definition} onClose=${close} />`}
    </div>`,
  );

  function undo() {
    question.value = null;
    whole.value = false;
    m.undo();
  }

  /** @param {string} name */
  function open(name) {
    draft.keep();
    sheet.value = name;
  }

  function close() {
    sheet.value = "";
    whole.value = false;
  }
}

/** @param {string} stored @param {import("../core/rounding.js").NumberFormat} numberFormat */
const inFormat = (stored, { decimal }) => stored.replace(".", decimal);

/** @param {any} value @param {any} definition @param {import("../core/rounding.js").NumberFormat} numberFormat */
function wellText(value, definition, numberFormat) {
  if (value === undefined || value === null) return "";
  if (typeof value === "object") return "–";
  if (definition.type === "days") return value.slice(5);
  return inFormat(value, numberFormat);
}

/** Beds and count; drawn anew only when a value was saved or the plot changes, not with every digit.
 * @param {{ m: import("./measuring.js").Measuring, onOpen: () => void }} props */
function Beds({ m, onOpen }) {
  const draw = () => {
    const { n, total } = progressOf(m.stops, m.fieldsAt);
    const near = total <= MOST_BEDS ? m.stops : m.stops.filter(({ block }) => block === m.stop.block);
    const few = bedsOf(near, m.fieldsAt, near.indexOf(m.stop));
    const label = [m.fields?.code, m.planned?.name, t("measure.progress", { n, total })]
      .filter(Boolean)
      .join(" · ");
    return html`<button type="button" class="beds-button" onClick=${onOpen}>
      <${PlotBeds} label=${label} blocks=${few.map(({ plots }) => plots.map(({ state }) => state))} /><span class="muted small">${label}</span></button>`;
  };
  return html`<${Kept} by=${[m.version.value, m.at, m.stops]} draw=${draw} />`;
}

/** Said before the first value: that this is not the day of the assessment, or that its values are the second ones.
 * @param {{ m: import("./measuring.js").Measuring, language: string }} props */
function Outside({ m, language }) {
  const gone = m.goneBefore();
  if (gone)
    return html`<div><${StateChip} tone="caution">${t("measure.gone_before", { why: t(`missing_why.${gone.why}`), name: gone.name ?? "" })}<//></div>`;
  if (m.isAgain) return html`<div><${StateChip} tone="plain" icon="ruler">${t("measure.again")}<//></div>`;
  const today = m.tepal.wall().local.slice(0, 10);
  const due = m.fields && m.planned ? dueOf(m.fields, m.planned) : null;
  if (due === null || (due.from <= today && today <= due.to)) return null;
  const when = dueWords(m.fields, m.planned ?? { code: "" }, today, language);
  return html`<div><${StateChip} tone="caution" icon="calendar">${t("measure.outside", { when })}<//></div>`;
}
