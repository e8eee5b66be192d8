// Read a label: with the camera held over it, or from a photo where the browser gives no live picture.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";

const LOOK_MS = 200; // between two looks at the camera's picture

/** @param {{ onCode: (text: string) => void }} props */
export function ScanCode({ onCode }) {
  const tepal = useTepal();
  const isOn = useSignal(false);
  const problem = useSignal("");
  const video = useRef(/** @type {HTMLVideoElement | null} */ (null));

  useEffect(() => {
    if (!isOn.value) return;
    let isHere = true;
    /** @type {MediaStream | null} */
    let stream = null;
    const look = async () => {
      const element = video.current;
      if (!isHere || !element) return;
      const text = element.videoWidth > 0 ? await tepal.book.readCode(element) : null;
      if (!isHere) return;
      if (text !== null) onCode(text);
      else setTimeout(look, LOOK_MS);
    };
    const start = async () => {
      try {
        stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
        if (!isHere || !video.current) return stop();
        video.current.srcObject = stream;
        await video.current.play();
        look();
      } catch {
        isOn.value = false;
        problem.value = t("scan.no_camera");
      }
      return undefined;
    };
    const stop = () => {
      for (const track of stream?.getTracks() ?? []) track.stop();
    };
    start();
    return () => {
      isHere = false;
      stop();
    };
  }, [isOn.value]);

  /** @param {Event} event */
  async function fromPhoto(event) {
    const input = /** @type {HTMLInputElement} */ (event.currentTarget);
    const file = input.files?.[0];
    input.value = "";
    if (!file) return;
    const text = await tepal.book.readCode(file).catch(() => null);
    problem.value = text === null ? t("scan.nothing") : "";
    if (text !== null) onCode(text);
  }

  return html`<div class="stack">
    <div class="row">
      <${Button} icon="camera" onPress=${() => {
        problem.value = "";
        isOn.value = !isOn.value;
      }}>${t(isOn.value ? "scan.stop" : "scan.start")}<//>
      <label class="btn photo-button"><span>${t("scan.from_photo")}</span>
        <input class="visually-hidden" type="file" accept="image/jpeg,image/png" onChange=${fromPhoto} /></label>
    </div>
    ${isOn.value && html`<video class="scan" ref=${video} muted playsinline aria-label=${t("scan.hold")}></video><p class="muted small">${t("scan.hold")}</p>`}
    ${problem.value && html`<${Message} tone="caution" title=${problem.value} live=${true} />`}
  </div>`;
}
