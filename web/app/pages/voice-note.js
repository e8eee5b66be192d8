// A spoken note of an application: for a hand in a glove. Recorded here, kept like a photo: the record announces the bytes,
// which travel apart. At most ten minutes; a phone without a microphone, or a person who says no to it, types the note.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { useRecords, useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";

const MOST_S = 600; // the form's bound
const TYPES = ["audio/webm", "audio/mp4"];

/** The first sort of sound that this browser records; null where it records none. */
function typeHere() {
  if (typeof MediaRecorder === "undefined" || !navigator.mediaDevices?.getUserMedia) return null;
  return TYPES.find((type) => MediaRecorder.isTypeSupported(type)) ?? null;
}

/** @param {{ ofId: string, keepDraft: () => unknown }} props */
export function VoiceNote({ ofId, keepDraft }) {
  const tepal = useTepal();
  const recorder = useRef(/** @type {MediaRecorder | null} */ (null));
  const startedMs = useRef(0);
  const isRunning = useSignal(false);
  const failure = useSignal("");
  const notes = (useRecords("voice_note") ?? []).filter(
    (row) => row.shown.fields.of_id === ofId && row.shown.state !== "void",
  );
  useEffect(() => () => stop(), []);
  const type = typeHere();
  if (type === null) return null;

  function stop() {
    if (recorder.current?.state === "recording") recorder.current.stop();
  }

  async function start() {
    keepDraft();
    failure.value = "";
    try {
      const stream = await navigator.mediaDevices.getUserMedia({ audio: true });
      /** @type {Blob[]} */
      const parts = [];
      const one = new MediaRecorder(stream, { mimeType: /** @type {string} */ (type) });
      one.ondataavailable = (event) => event.data.size > 0 && parts.push(event.data);
      one.onstop = () => {
        for (const track of stream.getTracks()) track.stop();
        isRunning.value = false;
        keep(new Blob(parts, { type: /** @type {string} */ (type) }));
      };
      recorder.current = one;
      startedMs.current = tepal.nowMs();
      one.start();
      isRunning.value = true;
      setTimeout(() => one.state === "recording" && one.stop(), MOST_S * 1000);
    } catch (error) {
      failure.value = t("voice.failed", { why: error instanceof Error ? error.message : String(error) });
    }
  }

  /** @param {Blob} sound */
  async function keep(sound) {
    if (sound.size === 0) {
      failure.value = t("voice.nothing");
      return;
    }
    try {
      const bytes = await sound.arrayBuffer();
      const digest = await crypto.subtle.digest("SHA-256", bytes);
      const sha256 = [...new Uint8Array(digest)].map((b) => b.toString(16).padStart(2, "0")).join("");
      const seconds = Math.min(MOST_S, Math.round((tepal.nowMs() - startedMs.current) / 1000));
      const fields = {
        of_kind: "application",
        of_id: ofId,
        sha256,
        size: bytes.byteLength,
        seconds,
        media_type: type,
        captured_at: tepal.wall(),
      };
      const act = tepal.save.act(
        "voice_note",
        tepal.book.newId(),
        "create",
        tepal.book.changesBetween({}, fields),
      );
      const saved_at = new Date(tepal.nowMs()).toISOString();
      await tepal.save.all([act], {
        photos: [
          {
            sha256,
            bytes,
            size: bytes.byteLength,
            state: "waiting",
            of_id: ofId,
            saved_at,
            stored_at: null,
            problem: null,
          },
        ],
      });
    } catch (error) {
      failure.value = t("voice.failed", { why: error instanceof Error ? error.message : String(error) });
    }
  }

  return html`<div class="stack-1">
    ${
      isRunning.value
        ? html`<${Button} kind="danger" icon="stop" onPress=${stop}>${t("voice.stop")}<//>`
        : html`<${Button} icon="note" onPress=${start}>${t("voice.start")}<//>`
    }
    <p class="muted" role="status">${isRunning.value ? t("voice.runs") : notes.length > 0 ? t("voice.kept", { n: notes.length }) : ""}</p>
    ${failure.value && html`<${Message} tone="caution" title=${failure.value} live=${true} />`}
  </div>`;
}

/** The spoken notes of a record: heard from this phone where it has them, else from the office. @param {{ ofId: string }} props */
export function VoiceNotes({ ofId }) {
  const tepal = useTepal();
  const notes = (useRecords("voice_note") ?? []).filter(
    (row) => row.shown.fields.of_id === ofId && row.shown.state !== "void",
  );
  const urls = useSignal(/** @type {Record<string, string>} */ ({}));
  const wanted = notes.map((row) => row.shown.fields.sha256).join(" ");
  useEffect(() => {
    let isHere = true;
    /** @type {string[]} */
    const made = [];
    Promise.all(
      notes.map(async ({ shown }) => {
        const { sha256, media_type } = shown.fields;
        const bytes = await tepal.book.photoBytes(sha256);
        if (bytes === null) return [sha256, tepal.api.url(`/photos/${sha256}`)];
        const url = URL.createObjectURL(new Blob([bytes], { type: media_type }));
        made.push(url);
        return [sha256, url];
      }),
    ).then((found) => {
      if (isHere) urls.value = Object.fromEntries(found);
    });
    return () => {
      isHere = false;
      for (const url of made) URL.revokeObjectURL(url);
    };
  }, [wanted]);
  if (notes.length === 0) return null;
  return html`<section class="stack" aria-labelledby="spoken"><h2 id="spoken">${t("voice.title", { n: notes.length })}</h2>
    ${notes.map(({ id, shown }) => {
      const url = urls.value[shown.fields.sha256];
      return html`<div key=${id}>${url ? html`<audio controls src=${url} aria-label=${t("voice.note_of", { n: shown.fields.seconds ?? 0 })}></audio>` : ""}
        <span class="muted">${t("voice.note_of", { n: shown.fields.seconds ?? 0 })}</span></div>`;
    })}</section>`;
}
