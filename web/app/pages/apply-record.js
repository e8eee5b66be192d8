// Apply, last steps: being sprayed, the end, photos, the signature. Each is an entry saved on this phone.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { useLocation } from "preact-iso";
import { formatNumber, formatQuantity } from "../core/rounding.js";
import { AskedQuantity } from "../forms/asked-quantity.js";
import { useRecord, useTepal } from "../state/context.js";
import { nowText } from "../state/moments.js";
import { usedOf } from "../state/used.js";
import { GoButton } from "../ui/buttons.js";
import { ChoiceField } from "../ui/choices.js";
import { InstantField, TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { AirFields } from "./air-panel.js";
import { notSaved } from "./apply-acts.js";
import { ppeLine } from "./apply-measure.js";
import { TrialPlots } from "./trial-treat.js";
import { VoiceNote } from "./voice-note.js";

/** @param {any[]} used */
export const applyingPpe = (used) => ppeLine(used, "ppe_applying", "apply.ppe_applying");

/** @param {any} props */
export function SprayStep({ used, form, set, job, failure }) {
  const tepal = useTepal();
  const unknown = used
    .filter((/** @type {any} */ row) => !row.shown.fields.rei)
    .map((/** @type {any} */ row) => row.shown.fields.name);
  return html`<div class="stack">
    ${!form.isLater && html`<${Message} tone="caution" title=${t("apply.before_start")}><p>${t("apply.before_start_why")}</p><//>`}
    ${unknown.length > 0 && html`<${Message} tone="stopped" title=${t("apply.rei_unknown", { products: unknown.join(", ") })}><p>${t("apply.rei_unknown_why")}</p><//>`}
    ${form.isLater && html`<${InstantField} label=${t("apply.started_when")} value=${form.startedText} now=${() => nowText(tepal.wall())} onValue=${(/** @type {string} */ startedText) => set({ startedText })} />`}
    <${AirFields} air=${form.air} onAir=${(/** @type {any} */ air) => set({ air })} numberFormat=${job.numberFormat} />
    ${failure && html`<${Message} tone="stopped" title=${failure} live=${true} />`}
  </div>`;
}

/** @param {any} props */
export function EndStep({ form, set, end, failure, job }) {
  const tepal = useTepal();
  const record = useRecord("application", form.record ?? "");
  const started = record?.shown.fields.started_at?.local ?? "";
  const typed = form.typedLeft ?? { value: "", unit: "L" };
  const needsNote = form.stoppedEarly === true && form.stoppedNote.trim() === "";
  const isReady = form.stoppedEarly !== null && !needsNote && record;
  const finish = () =>
    isReady &&
    end(record, {
      stopped_early: form.stoppedEarly,
      stopped_note: form.stoppedNote.trim() || null,
      volume_left: form.left.value === "" ? null : form.left,
    });
  return html`<div class="stack">
    <${Message} tone="caution" icon="sprayer" title=${t("apply.being_sprayed", { time: started.slice(11, 16) })}>
      <p>${t("apply.saved_here")}</p><//>
    <${ChoiceField} label=${t("apply.how_ended")} value=${form.stoppedEarly === null ? null : form.stoppedEarly ? "early" : "all"}
      onValue=${(/** @type {string} */ value) => set({ stoppedEarly: value === "early" })}
      choices=${["all", "early"].map((value) => ({ value, label: t(`apply.ended_${value}`) }))} />
    ${
      form.stoppedEarly &&
      html`<${TextField} label=${t("apply.stopped_note")} hint=${t("apply.stopped_hint")} isLong=${true} value=${form.stoppedNote}
      onValue=${(/** @type {string} */ stoppedNote) => set({ stoppedNote })} error=${needsNote ? t("apply.stopped_first") : ""} />`
    }
    <${AskedQuantity} label=${t("apply.left")} isOptional=${true} typed=${typed} units=${["L", "[gal_us]"]} numberFormat=${job.numberFormat} mayBeZero=${true}
      onTyped=${(/** @type {any} */ next, /** @type {any} */ stored) => set({ typedLeft: next, left: stored ?? { value: "", unit: next.unit } })} />
    <${Used} fields=${record?.shown.fields} left=${form.left} numberFormat=${job.numberFormat} />
    ${form.isLater && html`<${InstantField} label=${t("apply.ended_when")} value=${form.endedText} now=${() => nowText(tepal.wall())} onValue=${(/** @type {string} */ endedText) => set({ endedText })} />`}
    ${failure && html`<${Message} tone="stopped" title=${failure} live=${true} />`}
    <${GoButton} isOff=${!isReady} onPress=${finish}>${t(form.isLater ? "apply.ended_then" : "apply.end_now")}<//>
  </div>`;
}

/** What was really used against what was planned, in a sentence. @param {{ fields: any, left: any, numberFormat: any }} props */
function Used({ fields, left, numberFormat }) {
  if (!fields || left.value === "") return null;
  const used = usedOf(fields, left);
  if (used === null) return null;
  if (used.left_l > used.mixed_l)
    return html`<${Message} tone="caution" title=${t("apply.left_too_much")} />`;
  const litres = (/** @type {number} */ value) => formatQuantity(value, "L", numberFormat);
  const off = Math.abs(used.off_pct);
  const params = {
    used: litres(used.used_l),
    planned: litres(used.planned_l),
    pct: formatNumber(off, 1, numberFormat),
  };
  const more = used.off_pct > 0 ? "apply.used_more" : "apply.used_less";
  return html`<p class="said" role="status">${t(off < 0.05 ? "apply.used_as_planned" : more, params)}</p>`;
}

/** @param {any} props */
export function SignStep({ form, set, draft }) {
  const tepal = useTepal();
  const record = useRecord("application", form.record ?? "");
  const failure = useSignal("");
  const isSigned = useSignal(false);
  const member = tepal.session.value?.member;
  const { route } = useLocation();

  /** @param {Event} event */
  async function addPhoto(event) {
    const input = /** @type {HTMLInputElement} */ (event.currentTarget);
    const file = input.files?.[0];
    input.value = "";
    if (!file || !form.record) return;
    try {
      const { fields, ...photo } = await tepal.book.readPhoto(file);
      const id = tepal.book.newId();
      const saved_at = new Date(tepal.nowMs()).toISOString();
      const changes = tepal.book.changesBetween(
        {},
        {
          ...fields,
          of_kind: "application",
          of_id: form.record,
          captured_at: tepal.wall(),
        },
      );
      await tepal.save.all([tepal.save.act("photo", id, "create", changes)], {
        photos: [{ ...photo, of_id: form.record, saved_at }],
      });
      set({ n_photos: form.n_photos + 1 });
      failure.value = "";
    } catch (error) {
      failure.value = t("apply.photo_failed", {
        why: String(error instanceof Error ? error.message : error),
      });
    }
  }

  async function sign() {
    if (!record || isSigned.value) return;
    isSigned.value = true;
    try {
      await tepal.save.change(
        record,
        {
          note: form.note.trim() || null,
          signature: {
            member: member.id,
            name: member.name,
            method: tepal.session.value?.method ?? "phone",
            device: tepal.session.value?.device?.label ?? null,
            at: tepal.wall(),
          },
        },
        { draft: "apply" },
      );
      await draft.clear();
      route(`/saved/${record.id}`);
    } catch (error) {
      isSigned.value = false;
      failure.value = notSaved(error);
    }
  }

  return html`<div class="stack">
    ${record?.shown.fields.trial && html`<${TrialPlots} record=${record} />`}
    <${Thumbs} of=${form.record} n=${form.n_photos} />
    <label class="btn photo-button" onPointerDown=${() => draft.keep()}>
      <span>${t("apply.photo")}</span>
      <input class="visually-hidden" type="file" accept="image/jpeg,image/png" capture="environment" onChange=${addPhoto} />
    </label>
    ${form.record && html`<${VoiceNote} ofId=${form.record} keepDraft=${() => draft.keep()} />`}
    <${TextField} label=${t("apply.note")} isOptional=${true} isLong=${true} value=${form.note} onValue=${(/** @type {string} */ note) => set({ note })} />
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    <p>${t("apply.sign_words", { name: member?.name ?? "" })}</p>
    <${GoButton} isOff=${isSigned.value} onPress=${sign}>${t("apply.sign_now")}<//>
  </div>`;
}

/** Pictures of the record that are on this phone. @param {{ of: string | null, n: number }} props */
function Thumbs({ of, n }) {
  const tepal = useTepal();
  const urls = useSignal(/** @type {string[]} */ ([]));
  useEffect(() => {
    let isHere = true;
    pictures().then((found) => {
      if (isHere) urls.value = found;
    });
    return () => {
      isHere = false;
      for (const url of urls.value) URL.revokeObjectURL(url);
    };
  }, [of, n]);
  async function pictures() {
    const rows = (await tepal.book.photos()).filter((row) => row.of_id === of);
    const bytes = await Promise.all(rows.map((row) => tepal.book.photoBytes(row.sha256)));
    return bytes
      .filter((one) => one !== null)
      .map((one) => URL.createObjectURL(new Blob([one], { type: "image/jpeg" })));
  }
  if (urls.value.length === 0) return null;
  return html`<ul class="thumbs">${urls.value.map((url, i) => html`<li key=${url}><img src=${url} alt=${t("apply.photo_n", { n: i + 1 })} /></li>`)}</ul>`;
}
