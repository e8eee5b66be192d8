// Where a trial is: it starts with its treatment, ends when the last plot is measured, and closes when all is decided.
import { useSignal } from "@preact/signals";
import { useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { DateField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { may } from "./may.js";

/** @param {{ row: import("../sync/port.js").RecordRow }} props */
export function PhaseActs({ row }) {
  const tepal = useTepal();
  const today = tepal.wall().local.slice(0, 10);
  const day = useSignal(today);
  const failure = useSignal("");
  const phase = row.shown.fields.phase ?? "planned";
  const word = may(tepal.session.value, "registers");
  if (word !== "yes") return null;

  /** @param {Record<string, any>} values */
  async function save(values) {
    try {
      await tepal.save.change(row, values);
      failure.value = "";
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
  }
  const failed = failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`;
  if (phase === "planned") {
    if ((row.shown.fields.plots ?? []).length === 0) return null;
    return html`<div class="stack"><p class="muted">${t("trial.start_why")}</p>
      <${DateField} label=${t("field.day_zero_on")} value=${day.value} onValue=${(
        /** @type {string} */ value,
      ) => {
        day.value = value;
      }} />
      <div><${Button} icon="check" onPress=${() => day.value && save({ phase: "running", day_zero_on: day.value, started_on: day.value })}>${t("trial.start")}<//></div>${failed}</div>`;
  }
  if (phase === "running") {
    return html`<div><${Button} icon="check" onPress=${() => save({ phase: "finished", finished_on: today })}>${t("trial.finish")}<//>${failed}</div>`;
  }
  return failed || null;
}
