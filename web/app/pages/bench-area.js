// The area of a bench: as entered, else length times width, said as such, in both systems of measures.
import { amountText } from "../core/amounts.js";
import { toBase } from "../core/units.js";
import { html } from "../ui/html.js";
import { t } from "../ui/words.js";
import { useWays } from "./form-setting.js";

/** @typedef {import("../ui/amounts.js").Stored} Stored */

/**
 * @param {{ fields: { area?: Stored, length?: Stored, width?: Stored } }} props
 */
export function BenchArea({ fields }) {
  const { numberFormat, unitSystem } = useWays();
  const m2 = areaM2(fields);
  if (m2 === null) return html`<span class="missing">${t("office.not_on_file")}</span>`;
  const { metric, us } = amountText(m2, "area", numberFormat);
  const [first, second] = unitSystem === "us" ? [us, metric] : [metric, us];
  return html`<span>${first} <span class="muted small">${second}${fields.area ? "" : ` · ${t("register.area_derived")}`}</span></span>`;
}

/** Square metres, or null. @param {{ area?: Stored, length?: Stored, width?: Stored }} fields */
export function areaM2({ area, length, width }) {
  if (area) return toBase(Number(area.value), area.unit);
  if (!length || !width) return null;
  return toBase(Number(length.value), length.unit) * toBase(Number(width.value), width.unit);
}
