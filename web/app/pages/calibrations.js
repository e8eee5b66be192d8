// A sprayer's calibrations: where it stands, the newest result, and every one before.
import { choiceLabel } from "../forms/labels.js";
import { calibrationsOf, measuredBy, newestOf, rateText } from "../state/calibration.js";
import { useRecords } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { Quantity } from "../ui/quantity.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { CalibrationAge } from "./calibration-age.js";
import { coreText } from "./core-words.js";
import { useWays } from "./form-setting.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** @param {{ sprayer: RecordRow }} props */
export function Calibrations({ sprayer }) {
  const calibrations = useRecords("calibration");
  const { language } = useSettings();
  const { numberFormat } = useWays();
  if (calibrations === null) return null;
  const rows = calibrationsOf(calibrations, sprayer.id);
  const newest = newestOf(calibrations, sprayer.id);
  return html`<section class="stack"><h2>${t("calibration.title")}</h2>
    <${CalibrationAge} sprayer=${sprayer} calibrations=${calibrations} />
    ${newest && html`<${Rate} mlPerM2=${newest.result.ml_per_m2} numberFormat=${numberFormat} />`}
    <div><${Button} icon="plus" href=${`/calibrations/new?sprayer=${sprayer.id}`}>${t("calibration.add")}<//></div>
    ${
      rows.length > 0 &&
      html`<ul class="list">${rows.map(
        ({ id, shown: { fields } }) => html`<li key=${id}><a class="list-row" href=${`/calibrations/${id}`}>
          <span class="choice-text"><b>${fields.measured_on ? shortDay(fields.measured_on, language.value) : t("office.not_on_file")}</b>
            <span class="choice-detail">${detailOf(fields, numberFormat)}</span></span>
          <${Icon} name="forward" /></a></li>`,
      )}</ul>`
    }
  </section>`;
}

/** Method and result in a line. @param {any} fields @param {any} numberFormat */
function detailOf(fields, numberFormat) {
  const { result, error } = measuredBy(fields);
  const method = fields.method && choiceLabel("calibration.method", fields.method);
  if (result === null) return [method, coreText(error, numberFormat)].filter(Boolean).join(" · ");
  const { metric, us } = rateText(result.ml_per_m2, numberFormat);
  return [method, `${metric} (${us})`].filter(Boolean).join(" · ");
}

/** A result, large, with the other system beside it. @param {{ mlPerM2: number, numberFormat: any }} props */
export function Rate({ mlPerM2, numberFormat }) {
  const { metric, us } = rateText(mlPerM2, numberFormat);
  const [value, ...unit] = metric.split("\u00a0");
  const [usValue, ...usUnit] = us.split("\u00a0");
  return html`<p class="rate"><${Quantity} size="amount" value=${value} unit=${unit.join(" ")} also=${{ value: usValue, unit: usUnit.join(" ") }} /></p>`;
}
