// How old a sprayer's newest calibration is, as a caution where it is none or overdue.
import { standingOf } from "../state/calibration.js";
import { useTepal } from "../state/context.js";
import { html } from "../ui/html.js";
import { Message, StateChip } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** @param {{ sprayer: RecordRow, calibrations: RecordRow[], isQuiet?: boolean }} props
 *   isQuiet  Say nothing where it is current. */
export function CalibrationAge({ sprayer, calibrations, isQuiet = false }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const today = tepal.wall().local.slice(0, 10);
  const { state, age_days, due_on } = standingOf(sprayer, calibrations, today);
  const name = sprayer.shown.fields.name ?? "";
  if (state === "never") return html`<${Message} tone="caution" title=${t("calibration.never", { name })} />`;
  if (state === "overdue")
    return html`<${Message} tone="caution" title=${t("calibration.overdue", { name, n: age_days ?? 0, day: shortDay(due_on ?? "", language.value) })} />`;
  if (isQuiet) return null;
  return html`<div><${StateChip} tone="passed">${
    due_on === null
      ? t("calibration.age", { n: age_days ?? 0 })
      : t("calibration.due", { n: age_days ?? 0, day: shortDay(due_on, language.value) })
  }<//></div>`;
}
