// One calibration of a sprayer: what was caught and timed, nozzle by nozzle, and what that makes. Entering and looking at it.
import { useState } from "preact/hooks";
import { useLocation } from "preact-iso";
import { formatNumber, formatQuantity } from "../core/rounding.js";
import { choiceLabel, fieldLabel } from "../forms/labels.js";
import { RecordForm } from "../forms/record-form.js";
import { typedOf, wireOf } from "../forms/typed.js";
import { FIELDS_OF, measuredBy } from "../state/calibration.js";
import { useDraft, useRecord, useRecords, useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message, StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";
import { Rate } from "./calibrations.js";
import { coreText } from "./core-words.js";
import { useFormSetting } from "./form-setting.js";
import { useValueWords } from "./record-words.js";

/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */

const DRAFT = "calibration/new";
const ALWAYS = ["sprayer", "measured_on", "method"];

/** @param {{ frame: any, query: Record<string, string> }} props */
export function NewCalibrationPage({ frame, query }) {
  const tepal = useTepal();
  const { route } = useLocation();
  const setting = useFormSetting();
  const words = useValueWords();
  const draft = useDraft(DRAFT, { typed: /** @type {Record<string, any> | null} */ (null) });
  const [wasTried, setTried] = useState(false);
  const [failure, setFailure] = useState("");
  const specs = /** @type {any[]} */ (words.specs("calibration"));
  const title = t("calibration.add");
  if (!draft.ready || specs.length === 0) return frame(null, html`<${Page} title=${title} />`);
  const start = { sprayer: query.sprayer ?? null, measured_on: tepal.wall().local.slice(0, 10) };
  const typed = draft.value.typed ?? typedOf(specs, start, setting.ways);
  const method = /** @type {keyof typeof FIELDS_OF | null} */ (typed.method);
  const asked = [...ALWAYS, ...(method ? FIELDS_OF[method] : []), "note"];
  const own = specs
    .filter((spec) => asked.includes(spec.name))
    .map((spec) => ({ ...spec, required: ALWAYS.includes(spec.name) }));
  const { values, problems, missing } = wireOf(own, typed, setting.ways);
  const measured = method && Object.keys(problems).length === 0 ? measuredBy(values) : null;
  const { numberFormat } = setting.ways;

  async function save() {
    setTried(true);
    if (Object.keys(problems).length + missing.length > 0 || !measured?.result) {
      return setFailure(measured?.error ? coreText(measured.error, numberFormat) : t("calibration.not_yet"));
    }
    try {
      await tepal.save.create("calibration", values, { draft: DRAFT });
      await draft.clear();
      route(`/sprayers/${values.sprayer}`);
    } catch (error) {
      setFailure(t("office.not_saved", { cause: String(error) }));
    }
  }

  return frame(
    html`<${FootAct}><${GoButton} isOff=${!measured?.result} onPress=${save}>${t("register.save")}<//><//>`,
    html`<${Page} title=${title} isReading=${true}
      actions=${html`<${Button} kind="quiet" icon="back" href=${typed.sprayer ? `/sprayers/${typed.sprayer}` : "/mixes"}>${t("office.leave")}<//>`}>
      ${method && html`<p class="muted">${t(`calibration.how.${method}`)}</p>`}
      <${RecordForm} kind="calibration" specs=${own} typed=${typed} only=${asked}
        onTyped=${(/** @type {any} */ next) => {
          setFailure("");
          draft.merge({ typed: next });
        }}
        setting=${{ ...setting, problems: wasTried ? problems : ambiguous(problems), missing: wasTried ? missing : [] }} />
      ${measured?.result && html`<${Result} values=${values} numberFormat=${numberFormat} />`}
      ${failure && html`<${Message} tone="stopped" title=${failure} live=${true} />`}
    <//>`,
  );
}

/** A number that can be two is asked about at once; the rest waits for the first try to save. @param {Record<string, any>} problems */
const ambiguous = (problems) =>
  Object.fromEntries(Object.entries(problems).filter(([, problem]) => problem.code === "number.ambiguous"));

/** @param {{ frame: any, id: string }} props */
export function CalibrationPage({ frame, id }) {
  const row = useRecord("calibration", id);
  const sprayers = useRecords("sprayer");
  const words = useValueWords();
  const setting = useFormSetting();
  if (!row) {
    return frame(
      null,
      html`<${Page} title=${t("kind.calibration")}>${row === null && html`<${EmptyState} icon="search" title=${t("register.not_here")} />`}<//>`,
    );
  }
  const { fields } = row.shown;
  const sprayer = sprayers?.find((one) => one.id === fields.sprayer);
  const told = words
    .specs("calibration")
    .filter(({ name }) => !["sprayer", "catches"].includes(name))
    .map(({ name }) => ({ name, text: words.text("calibration", name, fields[name]) }))
    .filter(({ text }) => text !== null);
  return frame(
    null,
    html`<${Page} title=${t("kind.calibration")} under=${sprayer?.shown.fields.name ?? ""} isReading=${true}
      actions=${html`<${Button} kind="quiet" icon="back" href=${`/sprayers/${fields.sprayer}`}>${t("office.leave")}<//>`}>
      ${row.pending.length > 0 && html`<div><${StateChip} tone="waiting" icon="phone">${t("office.state.only_here")}<//></div>`}
      <${Result} values=${fields} numberFormat=${setting.ways.numberFormat} />
      <dl class="facts">${told.map(
        ({ name, text }) =>
          html`<div key=${name}><dt>${fieldLabel(`calibration.${name}`)}</dt><dd>${text}</dd></div>`,
      )}</dl>
    <//>`,
  );
}

/** The rate, the flow, and how far each nozzle is off the mean. @param {{ values: any, numberFormat: NumberFormat }} props */
function Result({ values, numberFormat }) {
  const { result, error } = measuredBy(values);
  if (result === null) return html`<${Message} tone="waiting" title=${coreText(error, numberFormat)} />`;
  const { spread } = result;
  const flow =
    result.flow_ml_per_min === null
      ? ""
      : t("calibration.flow", { flow: formatQuantity(result.flow_ml_per_min, "mL/min", numberFormat) });
  return html`<section class="stack"><h2>${t("calibration.result")}</h2>
    <${Rate} mlPerM2=${result.ml_per_m2} numberFormat=${numberFormat} />
    <p class="muted">${[choiceLabel("calibration.method", result.method), flow].filter(Boolean).join(" · ")}</p>
    ${spread !== null && spread.deviations_pct.length > 1 && html`<${Spread} spread=${spread} numberFormat=${numberFormat} />`}
    ${result.findings.map(
      (
        finding,
      ) => html`<${Message} key=${finding.code} tone="caution" title=${coreText(finding, numberFormat)}>
        ${finding.source && html`<p class="muted">${t("apply.source", { source: finding.source })}</p>`}<//>`,
    )}
  </section>`;
}

/** @param {{ spread: import("../core/calibration.js").NozzleSpread, numberFormat: NumberFormat }} props */
function Spread({ spread, numberFormat }) {
  return html`<ul class="list">${spread.deviations_pct.map((deviation, at) => {
    const isUneven = spread.uneven_numbers.includes(at + 1);
    return html`<li class="list-row" key=${at}><span class="grows">${t("calibration.nozzle", { n: at + 1 })}</span>
      <span class="q">${deviation > 0 ? "+" : ""}${formatNumber(deviation, 1, numberFormat)} %</span>
      <${StateChip} tone=${isUneven ? "caution" : "passed"}>${t(isUneven ? "calibration.uneven" : "calibration.even")}<//></li>`;
  })}</ul>
  <p class="muted small">${t("calibration.spread_source")}</p>`;
}
