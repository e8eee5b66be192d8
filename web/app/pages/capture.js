// Whether a record may be started here: capture does not begin where the storage cannot last, and says why.
import { signal } from "@preact/signals";
import { html } from "../ui/html.js";
import { InstallAdvice, mustInstallFirst, phoneKind } from "../ui/install-advice.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { isInstalled } from "./device.js";

const LEAST_FREE_BYTES = 100 * 1024 * 1024; // sync.md: under 100 MB free, capture does not start

/** @type {import("@preact/signals").Signal<"unknown" | "good" | "no_write" | "full">} */
const storage = signal("unknown");
let isProbing = false;

/** Probe once: a write that is read back, and the room that is left. @param {import("../state/tepal.js").Tepal} tepal */
async function probe(tepal) {
  if (isProbing) return;
  isProbing = true;
  try {
    const mark = String(tepal.nowMs());
    await tepal.book.setMeta({ probe: mark });
    if ((await tepal.book.meta("probe")) !== mark) throw new Error("not read back");
    const estimate = await navigator.storage?.estimate?.();
    const free = estimate?.quota === undefined ? null : estimate.quota - (estimate.usage ?? 0);
    storage.value = free !== null && free < LEAST_FREE_BYTES ? "full" : "good";
  } catch {
    storage.value = "no_write";
  }
}

/**
 * Null where capture may start; else what to show instead.
 * @param {import("../state/tepal.js").Tepal} tepal
 */
export function mayCapture(tepal) {
  if (storage.value === "unknown") probe(tepal);
  const kind = phoneKind(navigator);
  if (mustInstallFirst(kind, isInstalled())) {
    return html`<${InstallAdvice} kind=${kind} isInstalled=${false} />`;
  }
  if (storage.value === "no_write" || storage.value === "full") {
    return html`<${Message} tone="stopped" title=${t(`capture.${storage.value}`)}><p>${t(`capture.${storage.value}_why`)}</p><//>`;
  }
  return null;
}
