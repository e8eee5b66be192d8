// Every device with when it was last heard, what waits on it, its version and its storage: who may be working without signal.
import { useTepal } from "../state/context.js";
import { html } from "../ui/html.js";
import { Message, StateChip } from "../ui/state.js";
import { clockTime, shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { failureText } from "./device.js";
import { useOnline } from "./online.js";
import { ClockOff } from "./people.js";
import { useServerClock } from "./server-clock.js";
import { useSettings } from "./settings-context.js";

const STALE_MS = 30 * 60_000; // heard over 30 minutes ago is stale

export function DayPhones() {
  const tepal = useTepal();
  const { language } = useSettings();
  const { nowMs } = useServerClock();
  const online = useOnline("/phones", tepal.sync.value.heardAt);
  if (online.isAsking) return html`<p class="muted" role="status">${t("office.asking")}</p>`;
  if (online.reply === null)
    return html`<${Message} tone="waiting" icon="offline" title=${t("people.phones_offline")}><p>${failureText(online.failed)}</p><//>`;
  const phones = online.reply.phones.filter((/** @type {any} */ one) => !one.revoked && !one.is_server);
  const newest = phones.map((/** @type {any} */ one) => one.status?.release).filter(Boolean);
  const own = document.querySelector('meta[name="tepal-release"]')?.getAttribute("content") ?? "";
  return html`<div class="table-frame"><table class="table"><thead><tr><th>${t("kind.device")}</th><th>${t("day.heard")}</th><th class="num">${t("day.unsent")}</th>
      <th>${t("day.version")}</th><th>${t("day.storage")}</th></tr></thead>
    <tbody>${phones.map((/** @type {any} */ one) => {
      const at = one.heard_at ? Date.parse(one.heard_at) : null;
      const isStale = at === null || nowMs - at > STALE_MS;
      const heard =
        at === null
          ? t("people.never_heard")
          : nowMs - at < 20 * 3_600_000
            ? clockTime(at)
            : `${shortDay(one.heard_at.slice(0, 10), language.value)} ${clockTime(at)}`;
      const release = String(one.status?.release ?? "");
      return html`<tr key=${one.id}><td><b>${one.label || t("office.some_device")}</b><${ClockOff} status=${one.status} />${one.beyond.length > 0 && html` <${StateChip} tone="stopped">${t("people.missing", { n: one.ack + 1 })}<//>`}</td>
        <td><${StateChip} tone=${isStale ? "waiting" : "passed"}>${heard}<//></td>
        <td class="num">${one.status?.unsent ?? "–"}</td>
        <td>${release ? html`<span class="nowrap">${release.slice(0, 8)}</span>` : "–"}${release && own && newest.length > 0 && release !== own ? html` <${StateChip} tone="caution">${t("day.other_version")}<//>` : ""}</td>
        <td class="nowrap">${storageText(one.status)}</td></tr>`;
    })}</tbody></table></div>`;
}

/** "12 of 800 MB" @param {any} status */
function storageText(status) {
  if (!status?.quota_bytes) return "–";
  const mb = (/** @type {number} */ bytes) => Math.ceil(bytes / 1_048_576);
  return t("day.mb_of", { used: mb(status.stored_bytes ?? 0), quota: mb(status.quota_bytes) });
}
