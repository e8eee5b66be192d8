// A form spec as controls. Draws what the registry says and nothing else: hand-built pages use the same controls directly.
import { amountText } from "../core/amounts.js";
import { localDecimal } from "../core/number_format.js";
import { toBase, UNITS } from "../core/units.js";
import { Button } from "../ui/buttons.js";
import { ChoiceField, RefField, SeveralField, SeveralRefField, YesNoField } from "../ui/choices.js";
import { DateField, InstantField, NumberField, QuantityField, TextField } from "../ui/fields.js";
import { Fold } from "../ui/fold.js";
import { html } from "../ui/html.js";
import { Readings } from "../ui/readings.js";
import { hasWords, t } from "../ui/words.js";
import { choiceLabel, fieldLabel } from "./labels.js";
import { problemText } from "./problem-words.js";
import { textIn, typedOf, wireOf } from "./typed.js";
import { readingsIn } from "./typed-quantity.js";

/** @typedef {import("./checks.js").FieldSpec} FieldSpec */
/** @typedef {import("./checks.js").Problem} Problem */
/** @typedef {import("./typed.js").Ways} Ways */

/**
 * What all fields of a form share.
 * @typedef {object} FormSetting
 * @property {Ways} ways
 * @property {Record<string, Problem>} problems          By path, from `wireOf`.
 * @property {string[]} missing                          Paths of required fields that must not stay empty.
 * @property {(kind: string) => import("../ui/choices.js").Option[]} options  The register that a reference picks from.
 * @property {() => string} now                          Wall time now, YYYY-MM-DDTHH:MM.
 */

/**
 * The controls of a record.
 * @param {{ kind: string, specs: FieldSpec[], typed: Record<string, any>, onTyped: (typed: Record<string, any>) => void,
 *   setting: FormSetting, only?: string[] }} props
 *   typed  From `typedOf` or the kept draft. only  These fields, in this order; all by default.
 */
export function RecordForm({ kind, specs, typed, onTyped, setting, only }) {
  const shown = only ? only.map((name) => specs.find((spec) => spec.name === name)).filter(Boolean) : specs;
  return html`<div class="stack-5">
    ${
      /** @type {FieldSpec[]} */ (shown).map(
        (
          spec,
        ) => html`<${SpecField} key=${spec.name} spec=${spec} words=${`${kind}.${spec.name}`} path=${spec.name} value=${typed[spec.name]}
        onValue=${(/** @type {any} */ value) => onTyped({ ...typed, [spec.name]: value })} setting=${setting} />`,
      )
    }
  </div>`;
}

/** @typedef {{ spec: FieldSpec, words: string, path: string, value: any, onValue: (value: any) => void, setting: FormSetting }} SpecProps */

/**
 * One field of a spec as its control.
 * @param {SpecProps} props
 */
function SpecField(props) {
  const { spec, words, path, value, onValue, setting } = props;
  const shared = { ...wordsOf(spec, words, path, setting), value, onValue };
  switch (spec.type) {
    case "text":
      return html`<${TextField} ...${shared} maxLength=${spec.max_length} />`;
    case "longtext":
      return html`<${TextField} ...${shared} maxLength=${spec.max_length} isLong=${true} />`;
    case "texts":
      return html`<${TextField} ...${shared} isLong=${true} />`;
    case "choices":
      return html`<${SeveralField} ...${shared} values=${value ?? []} onValues=${onValue}
        choices=${(spec.choices ?? []).map((one) => ({ value: one, label: choiceLabel(words, one) }))} />`;
    case "choice":
      return html`<${SpecChoice} ...${props} shared=${shared} />`;
    case "quantity":
      return html`<${QuantityField} ...${shared} units=${(spec.unit_choices ?? []).map((code) => ({ code, label: UNITS[code]?.symbol ?? code }))}
        also=${readText(value, setting.ways) ?? alsoText(spec, value, setting.ways)}
        below=${whichNumber(props, (read) => ({ ...value, read }))} />`;
    case "number":
    case "integer":
      return html`<${NumberField} ...${shared} value=${textIn(value ?? "")} isWhole=${spec.type === "integer"} also=${readText(value, setting.ways)}
        below=${whichNumber(props, (read) => ({ text: textIn(value), read }))} />`;
    case "bool":
      return html`<${YesNoField} ...${shared} />`;
    case "date":
      return html`<${DateField} ...${shared} />`;
    case "moment":
      return html`<${InstantField} ...${shared} now=${setting.now} />`;
    case "ref":
      return html`<${RefField} ...${shared} options=${setting.options(spec.ref ?? "")} />`;
    case "refs":
      return html`<${SpecRefs} ...${props} shared=${shared} />`;
    case "group":
      return html`<${GroupFields} ...${props} />`;
    case "list":
      return html`<${RowFields} ...${props} />`;
    case "digest":
    case "measured":
      return null; // made by the phone, or by the pad of an assessment
    default:
      throw new Error(`a form has no control for the type ${spec.type}`);
  }
}

const SHORT_WORDS = 16; // characters that fit beside a radio button in half of a phone's width

/** @param {SpecProps & { shared: any }} props */
function SpecChoice({ spec, words, shared }) {
  const choices = (spec.choices ?? []).map((value) => ({ value, label: choiceLabel(words, value) }));
  const isShort = choices.every(({ label }) => label.length <= SHORT_WORDS);
  return html`<${ChoiceField} ...${shared} choices=${choices} isShort=${isShort} />`;
}

const FEW = 8; // more than these are found by searching, not by reading down a wall of boxes

/** @param {SpecProps & { shared: any }} props */
function SpecRefs({ spec, value, onValue, setting, shared }) {
  const options = setting.options(spec.ref ?? "");
  const offered = options.filter(({ id, isRetired }) => !isRetired || value.includes(id));
  if (offered.length > FEW)
    return html`<${SeveralRefField} ...${shared} values=${value} onValues=${onValue} options=${options} />`;
  return html`<${SeveralField} ...${shared} values=${value} onValues=${onValue}
    choices=${offered.map(({ id, name, code, detail }) => ({ value: id, label: code ? `${code} · ${name}` : name, detail }))} />`;
}

/**
 * Both readings of a number that can be two, to choose from.
 * @param {SpecProps} props @param {(read: string) => any} chosen  What was typed, with the reading beside it.
 */
function whichNumber({ path, value, onValue, setting }, chosen) {
  const readings = readingsIn(setting.problems[path], setting.ways.numberFormat);
  if (readings.length === 0) return null;
  return html`<${Readings} readings=${readings} unit=${value?.unit ? UNITS[value.unit]?.symbol : ""}
    onPick=${(/** @type {string} */ read) => onValue(chosen(read))} />`;
}

/** Which reading was chosen, said below what was typed. @param {any} typed @param {Ways} ways */
const readText = (typed, { numberFormat }) =>
  typed?.read ? t("form.read_as", { value: localDecimal(typed.read, numberFormat) }) : undefined;

/** @param {FieldSpec} spec @param {string} words @param {string} path @param {FormSetting} setting */
function wordsOf(spec, words, path, { problems, missing }) {
  const problem = problems[path];
  const hint = `hint.${words}`;
  return {
    label: fieldLabel(words),
    hint: hasWords(hint) ? t(hint) : undefined,
    error: problem ? problemText(problem) : missing.includes(path) ? t("form.missing") : undefined,
    isOptional: !spec.required,
    mark: spec.required ? "needed" : "none",
  };
}

/**
 * The amount in the other system of measures, where it is a plain number already and has one.
 * @param {FieldSpec} spec @param {{ value: string, unit: string }} typed @param {Ways} ways
 */
function alsoText(spec, typed, ways) {
  const unit = UNITS[typed.unit];
  if (!unit || !["metric", "us"].includes(unit.system)) return undefined;
  const { values } = wireOf([{ ...spec, required: false }], { [spec.name]: typed }, ways);
  const read = values[spec.name];
  // the dimensions that core/units.js shows in both systems; a length typed here once took the whole form down
  if (!read || !["volume", "mass", "area"].includes(unit.dimension)) return undefined;
  const texts = amountText(toBase(Number(read.value), read.unit), unit.dimension, ways.numberFormat);
  return unit.system === "us" ? texts.metric : texts.us;
}

/** @param {SpecProps} props */
function GroupFields({ spec, words, path, value, onValue, setting }) {
  return html`<fieldset class="stack"><legend class="field-label">${fieldLabel(words)}</legend>
    <${Inner} spec=${spec} words=${words} path=${path} value=${value} onValue=${onValue} setting=${setting} />
  </fieldset>`;
}

/** The fields inside a group or a row. @param {SpecProps} props */
function Inner({ spec, words, path, value, onValue, setting }) {
  return html`${(spec.fields ?? []).map(
    (
      inner,
    ) => html`<${SpecField} key=${inner.name} spec=${inner} words=${`${words}.${inner.name}`} path=${`${path}.${inner.name}`}
      value=${value?.[inner.name]} onValue=${(/** @type {any} */ next) => onValue({ ...value, [inner.name]: next })} setting=${setting} />`,
  )}`;
}

const FOLDED_FROM = 8; // fields of a row

/** What a folded row says of itself: its text and its choices. @param {FieldSpec} spec @param {string} words @param {any} row */
function saidOf(spec, words, row) {
  return (spec.fields ?? [])
    .flatMap(({ name, type }) => {
      const value = row?.[name];
      if (type === "text") return value ? [value] : [];
      if (type === "choices" || type === "choice")
        return [value ?? []].flat().map((one) => choiceLabel(`${words}.${name}`, one));
      return [];
    })
    .slice(0, 4)
    .join(" · ");
}

/** @param {SpecProps} props */
function RowFields({ spec, words, path, value, onValue, setting }) {
  const { label, hint, error } = wordsOf(spec, words, path, setting);
  /** @type {any[]} */
  const rows = value ?? [];
  const addRow = () => onValue([...rows, typedOf(spec.fields ?? [], {}, setting.ways)]);
  return html`<fieldset class="stack"><legend class="field-label">${label}</legend>
    ${hint && html`<p class="field-hint">${hint}</p>`}
    ${rows.map((row, at) => {
      const remove = html`<${Button} kind="quiet" label=${t("form.remove_row_of", { n: at + 1, label })}
        onPress=${() => onValue(rows.filter((_, other) => other !== at))}>${t("form.remove_row")}<//>`;
      const inner = html`<${Inner} spec=${spec} words=${words} path=${`${path}.${at}`} value=${row} setting=${setting}
        onValue=${(/** @type {any} */ next) => onValue(rows.map((old, other) => (other === at ? next : old)))} />`;
      if ((spec.fields ?? []).length < FOLDED_FROM)
        return html`<div class="card" key=${at}><div class="spread"><h3>${t("form.row", { n: at + 1 })}</h3>${remove}</div>${inner}</div>`;
      const isWrong = Object.keys(setting.problems).some((where) => where.startsWith(`${path}.${at}.`));
      return html`<${Fold} key=${at} title=${[t("form.row", { n: at + 1 }), saidOf(spec, words, row)].filter(Boolean).join(" · ")}
        isOpen=${isWrong || saidOf(spec, words, row) === ""}><div class="stack-5">${inner}<div>${remove}</div></div><//>`;
    })}
    ${error && html`<p class="field-error">${error}</p>`}
    <${Button} icon="plus" onPress=${addRow}>${t("form.add_row")}<//>
  </fieldset>`;
}
