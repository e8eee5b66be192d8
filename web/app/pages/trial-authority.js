// What of a trial the labels on file do not allow, said while it is planned and again when its orders are made.
import { numberFormatOf } from "../core/number_format.js";
import { formatQuantity } from "../core/rounding.js";
import { useRecords } from "../state/context.js";
import { offLabel } from "../state/off-label.js";
import { html } from "../ui/html.js";
import { t } from "../ui/words.js";
import { useWrittenNumbers } from "./establishment.js";

/** @param {{treatments: any[], lots?: string[] | null}} trial */
export const useOffLabel = (trial) =>
  offLabel(trial, {
    lot: useRecords("lot"),
    tank_mix: useRecords("tank_mix"),
    product: useRecords("product"),
  });

/** @param {{ found: import("../state/off-label.js").OffLabel[] }} props */
export function OffLabelList({ found }) {
  const numberFormat = numberFormatOf(useWrittenNumbers());
  const said = (/** @type {import("../state/off-label.js").Amount} */ { value, unit }) =>
    formatQuantity(Number(value), unit, numberFormat);
  if (found.length === 0) return null;
  return html`<ul class="cell-list">${found.map(
    (one) =>
      html`<li key=${JSON.stringify(one)}>${
        one.code === "crop"
          ? t("plan.off_label.crop", { n: one.number, product: one.product, crop: one.crop })
          : t("plan.off_label.concentration", {
              n: one.number,
              product: one.product,
              target: said(one.target),
              limit: said(one.limit),
            })
      }</li>`,
  )}</ul>`;
}
