// The line on top of every page: what is only on this phone, and when the office was last heard.
import { html } from "./html.js";
import { Icon } from "./icons.js";
import { t } from "./words.js";

const HOUR_MS = 3_600_000;

/**
 * Tone, icon and words of the line. Exported for tests.
 * @param {SyncState} sync
 * @param {number} nowMs
 * @returns {{ tone: "passed" | "waiting" | "caution" | "stopped", icon: import("./icons.js").IconName, code: string }}
 */
function lineFor(sync, nowMs) {
  if (sync.phase === "error") return { tone: "stopped", icon: "stop", code: "sync.line.error" };
  if (sync.conflicts > 0) return { tone: "caution", icon: "differ", code: "sync.line.conflicts" };
  if (sync.unsent > 0) {
    const ageMs = sync.oldestUnsentAt === null ? 0 : nowMs - sync.oldestUnsentAt;
    // sync.md: 24 h warns, 72 h insists
    if (ageMs >= 72 * HOUR_MS) return { tone: "stopped", icon: "caution", code: "sync.line.old" };
    if (ageMs >= 24 * HOUR_MS) return { tone: "caution", icon: "caution", code: "sync.line.old" };
    if (sync.phase === "exchanging") return { tone: "waiting", icon: "sync", code: "sync.line.sending" };
    return {
      tone: "waiting",
      icon: sync.phase === "offline" ? "offline" : "sync",
      code: "sync.line.waiting",
    };
  }
  // before the first exchange nothing is known of the office, so nothing is said of it
  if (sync.heardAt === null) return { tone: "waiting", icon: "sync", code: "sync.never_heard" };
  if (sync.phase === "offline") return { tone: "waiting", icon: "offline", code: "sync.line.offline" };
  return { tone: "passed", icon: "check", code: "sync.line.saved" };
}

/**
 * @typedef {object} SyncState
 * @property {"idle" | "exchanging" | "offline" | "error"} phase
 * @property {number} unsent                   Entries that are only on this phone.
 * @property {number | null} oldestUnsentAt    Device time in ms of the oldest of them.
 * @property {string | null} [heardAt]         Server time of the last exchange; null before the first.
 * @property {number} conflicts                Pairs of values that a person must decide on.
 */

/**
 * The line, a link to the sync page.
 * @param {{ sync: SyncState, nowMs: number, heard: string, href?: string }} props
 *   heard  Time of day of the last exchange, or the words for "never".
 */
export function SyncLine({ sync, nowMs, heard, href = "/sync" }) {
  const { tone, icon, code } = lineFor(sync, nowMs);
  const ageHours = sync.oldestUnsentAt === null ? 0 : Math.floor((nowMs - sync.oldestUnsentAt) / HOUR_MS);
  const params = { n: sync.unsent, heard, conflicts: sync.conflicts, hours: ageHours };
  return html`<a class=${`syncline ${tone}`} href=${href}>
    <${Icon} name=${icon} /><span class="grows" role="status">${t(code, params)}</span>
  </a>`;
}
