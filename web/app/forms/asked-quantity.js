// One quantity on a hand-built page: typed as people type, read as the establishment writes numbers, asked about where it can
// be two numbers. The page keeps both: what was typed, and what is stored.
import { localDecimal } from "../core/number_format.js";
import { UNITS } from "../core/units.js";
import { QuantityField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Readings } from "../ui/readings.js";
import { t } from "../ui/words.js";
import { problemText } from "./problem-words.js";
import { readingsIn, readQuantity } from "./typed-quantity.js";

/** @typedef {import("./typed-quantity.js").Typed} Typed */
/** @typedef {import("./typed-quantity.js").Stored} Stored */
/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */

/**
 * @param {{ label: string, hint?: string, typed: Typed, units: string[], numberFormat: NumberFormat, isOptional?: boolean,
 *   mayBeZero?: boolean, mayBeBelow?: boolean, also?: string,
 *   onTyped: (typed: Typed, stored: Stored | null) => void }} props
 *   units    UCUM codes.
 *   onTyped  `stored` is null while it is empty or can't be read.
 */
export function AskedQuantity({
  label,
  hint,
  typed,
  units,
  numberFormat,
  isOptional,
  also,
  onTyped,
  ...bounds
}) {
  const { problem } = readQuantity(typed, numberFormat, bounds);
  const readings = readingsIn(problem, numberFormat);
  const tell = (/** @type {Typed} */ next) => onTyped(next, readQuantity(next, numberFormat, bounds).stored);
  const shownRead = typed.read
    ? t("form.read_as", { value: localDecimal(typed.read, numberFormat) })
    : undefined;
  return html`<${QuantityField} label=${label} hint=${hint} value=${typed} isOptional=${isOptional} onValue=${tell}
    units=${units.map((code) => ({ code, label: UNITS[code].symbol }))} error=${problem ? problemText(problem) : undefined}
    also=${shownRead ?? also}
    below=${
      readings.length > 0 &&
      html`<${Readings} readings=${readings} unit=${UNITS[typed.unit].symbol} onPick=${(/** @type {string} */ read) => tell({ ...typed, read })} />`
    } />`;
}
