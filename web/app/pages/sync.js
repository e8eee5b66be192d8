// The sync page: every entry that is only here, why, since when; what the office lacks; what this phone stores.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { MAX_SKEW_MS } from "../core/restriction.js";
import { useTepal } from "../state/context.js";
import { signInAgain, signOut } from "../state/session.js";
import { Button, GoButton } from "../ui/buttons.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { InstallAdvice, phoneKind } from "../ui/install-advice.js";
import { EmptyState, Message } from "../ui/state.js";
import { clockTime } from "../ui/when.js";
import { t } from "../ui/words.js";
import { failureText, isInstalled } from "./device.js";
import { DeviceSettings } from "./device-settings.js";
import { FilesKept } from "./label-files.js";
import { SaveUnsent, UnsentEntries } from "./unsent-entries.js";

/** @typedef {import("../sync/port.js").EntryRow} EntryRow */
/** @typedef {import("../sync/port.js").PhotoRow} PhotoRow */

/** @param {{ frame: any }} props */
export function SyncPage({ frame }) {
  const tepal = useTepal();
  const waiting = useSignal(/** @type {EntryRow[]} */ ([]));
  const photos = useSignal(/** @type {PhotoRow[]} */ ([]));
  const space = useSignal(/** @type {{ used: number, quota: number, kept: boolean } | null} */ (null));
  const { unsent, photosWaiting, phase, cause, code, missing, revoked, head, offsetMs } = tepal.sync.value;

  useEffect(() => {
    tepal.book.unsent().then((rows) => {
      waiting.value = rows;
    });
    tepal.book.photos().then((rows) => {
      photos.value = rows.filter((row) => row.state !== "stored");
    });
    spaceOf().then((found) => {
      space.value = found;
    });
  }, [unsent, photosWaiting]);

  const foot = html`<${FootAct}><${GoButton} isOff=${phase === "exchanging"} onPress=${() => tepal.book.exchangeNow()}>
    ${phase === "exchanging" ? t("sync.sending") : t("sync.send_now")}<//><//>`;
  return frame(
    foot,
    html`<${Page} title=${t("sync.title")} under=${heardText(tepal)} isReading=${true}>
      ${revoked && html`<${Message} tone="stopped" title=${t("sync.revoked")}><p>${t("sync.revoked_why")}</p><//>`}
      ${
        cause !== "idle" &&
        cause !== "exchanging" &&
        html`<${Message} tone="waiting" title=${t("sync.why_not")}><p>${whyText(cause, code)}</p>
        ${cause === "signed-out" && html`<${Button} icon="lock" onPress=${() => signInAgain(tepal)}>${t("sync.sign_in_again")}<//>`}<//>`
      }
      ${isSkewed(offsetMs) && html`<${Message} tone="caution" title=${t("sync.skew", { n: Math.round(Math.abs(offsetMs) / 60_000) })}><p>${t("sync.skew_why")}</p><//>`}
      ${
        missing.length > 0 &&
        html`<${Message} tone="stopped" title=${t("sync.missing")}>
        <p>${t("sync.missing_why", { numbers: missing.map(([from, to]) => (from === to ? `${from}` : `${from}–${to}`)).join(", ") })}</p><//>`
      }
      <h2>${t("sync.only_here", { n: unsent })}</h2>
      ${
        waiting.value.length === 0
          ? html`<${EmptyState} icon="check" title=${t("sync.nothing")} />`
          : html`<${UnsentEntries} rows=${waiting.value} />`
      }
      ${
        photos.value.length > 0 &&
        html`<h2>${t("sync.photos", { n: photos.value.length })}</h2>
        <ul class="list">${photos.value.map(
          (
            row,
          ) => html`<li key=${row.sha256} class="list-row"><span class="grows">${t(row.is_kept ? "sync.file_size" : "sync.photo_size", { kb: Math.ceil(row.size / 1024) })}</span>
          <span class="muted">${row.problem ? failureText({ code: row.problem }) : t("sync.photo_waits")}</span></li>`,
        )}</ul>`
      }
      ${waiting.value.length + photos.value.length > 0 && html`<${SaveUnsent} />`}
      <h2>${t("sync.this_phone")}</h2>
      <${Storage} space=${space.value} head=${head} />
      <${FilesKept} />
      <${InstallAdvice} kind=${phoneKind(navigator)} isInstalled=${isInstalled()} />
      <${DeviceSettings} />
      <${Button} icon="person" onPress=${() => signOut(tepal)}>${t("sync.sign_out", { name: tepal.session.value?.member?.name ?? "" })}<//>
    <//>`,
  );
}

/** @param {number | null} offsetMs @returns {offsetMs is number} */
const isSkewed = (offsetMs) => offsetMs !== null && Math.abs(offsetMs) > MAX_SKEW_MS;

/** @param {{ space: { used: number, quota: number, kept: boolean } | null, head: any }} props */
function Storage({ space, head }) {
  if (space === null) return html`<p class="muted">${t("sync.space_unknown")}</p>`;
  const mb = (/** @type {number} */ bytes) => Math.ceil(bytes / 1_048_576);
  return html`<p>${t("sync.space", { used: mb(space.used), quota: mb(space.quota) })}${" "}
      ${t(space.kept ? "sync.space_kept" : "sync.space_not_kept")}</p>
    ${head && html`<p class="muted">${t("sync.witness", { seq: head.seq, hash: head.hash.slice(0, 16) })}</p>`}`;
}

async function spaceOf() {
  const estimate = await navigator.storage?.estimate?.();
  if (!estimate?.quota) return null;
  const kept = (await navigator.storage.persisted?.()) ?? false;
  return { used: estimate.usage ?? 0, quota: estimate.quota, kept };
}

/** @param {import("../state/tepal.js").Tepal} tepal */
function heardText(tepal) {
  const at = tepal.heard.value;
  return at === null ? t("sync.never_heard") : t("sync.heard_at", { time: clockTime(Date.parse(at.server)) });
}

/** @param {string} cause @param {string | null} code */
function whyText(cause, code) {
  if (cause === "signed-out") return t("sync.why.signed_out");
  if (cause === "store-failed") return t("sync.why.store_failed");
  if (cause === "elsewhere") return t("sync.why.elsewhere");
  return failureText({ cause, code: code ?? "no_connection" });
}
