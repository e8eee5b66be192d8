// Photos of a plant, and the line-up: one plant of every treatment side by side. Plot, day and scale are written into the
// picture, so that it says what it shows wherever it ends up.
import { useSignal } from "@preact/signals";
import { measuredPlots } from "../state/measure.js";
import { ChoiceField } from "../ui/choices.js";
import { TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Sheet } from "../ui/sheet.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { Photos } from "./photos.js";
import { momentText } from "./record-words.js";
import { useSettings } from "./settings-context.js";
import { placeWords } from "./trial-words.js";

/**
 * The plots of a line-up: of each treatment the one in the block at hand, in the order of the treatments; in a blinded trial
 * in that of the bench, since the order alone would tell which plot is the control.
 * @param {any} trial @param {number | null} block
 */
function lineUp(trial, block) {
  const plots = measuredPlots(trial).filter((plot) => block === null || plot.block === block);
  const first = new Map();
  for (const plot of plots) if (!first.has(plot.treatment)) first.set(plot.treatment, plot);
  const lined = [...first.entries()];
  if (!trial?.blinded) lined.sort(([a], [b]) => a - b);
  return lined.map(([, plot]) => plot.code);
}

/** @param {{ m: import("./measuring.js").Measuring, onClose: () => void }} props */
export function PhotoSheet({ m, onClose }) {
  const { tepal, stop, fields } = m;
  const { language } = useSettings();
  const what = useSignal("plant");
  const scale = useSignal(t("photo.scale_usual"));
  const failure = useSignal("");
  const codes = lineUp(fields, stop.block);
  const isLineUp = what.value === "line_up";
  const ofId = isLineUp ? m.assessmentId : m.idAt(m.at);

  /** @param {Event} event */
  async function add(event) {
    const input = /** @type {HTMLInputElement} */ (event.currentTarget);
    const file = input.files?.[0];
    input.value = "";
    if (!file) return;
    const at = tepal.wall();
    const shows = isLineUp
      ? t("photo.line_up_of", { codes: codes.join(" ") })
      : t("photo.plot_of", { code: stop.code, place: placeWords(stop) });
    const burnt = [
      `${fields?.code ?? ""} · ${shows}`,
      [momentText(at, language.value), m.planned?.name, scale.value.trim()].filter(Boolean).join(" · "),
    ];
    try {
      const { fields: photo, ...bytes } = await tepal.book.readPhoto(file, burnt);
      const changes = tepal.book.changesBetween(
        {},
        {
          ...photo,
          of_kind: isLineUp ? "assessment" : "observation",
          of_id: ofId,
          captured_at: at,
        },
      );
      const saved_at = new Date(tepal.nowMs()).toISOString();
      await tepal.save.all([tepal.save.act("photo", tepal.book.newId(), "create", changes)], {
        photos: [{ ...bytes, of_id: ofId, saved_at }],
      });
      failure.value = "";
    } catch (error) {
      failure.value = t("apply.photo_failed", {
        why: String(error instanceof Error ? error.message : error),
      });
    }
  }

  return html`<${Sheet} title=${t("measure.photo")} onClose=${onClose}>
    <${ChoiceField} label=${t("photo.what")} value=${what.value} onValue=${(/** @type {string} */ value) => {
      what.value = value;
    }} choices=${[
      { value: "plant", label: t("photo.plant", { code: stop.code }), detail: placeWords(stop) },
      {
        value: "line_up",
        label: t("photo.line_up"),
        detail: t("photo.line_up_how", { codes: codes.join(" ") }),
      },
    ]} />
    <${TextField} label=${t("photo.scale")} hint=${t("photo.scale_hint")} value=${scale.value} maxLength=${60} onValue=${(
      /** @type {string} */ value,
    ) => {
      scale.value = value;
    }} />
    <label class="btn photo-button"><span>${t("apply.photo")}</span>
      <input class="visually-hidden" type="file" accept="image/jpeg,image/png" capture="environment" onChange=${add} /></label>
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    <${Photos} ofId=${ofId} />
  <//>`;
}
