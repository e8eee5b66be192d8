// What came in since midnight, by person and phone: who has handed in, and which applications came with it.
import { useTepal } from "../state/context.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { clockTime } from "../ui/when.js";
import { t } from "../ui/words.js";
import { failureText } from "./device.js";
import { useOnline } from "./online.js";

const MOST = 4; // more stand under "applied today" and in the applications

export function DayArrivals() {
  const tepal = useTepal();
  const online = useOnline("/arrivals", tepal.sync.value.heardAt);
  if (online.isAsking) return html`<p class="muted" role="status">${t("office.asking")}</p>`;
  if (online.reply === null)
    return html`<${Message} tone="waiting" icon="offline" title=${t("arrivals.offline")}><p>${failureText(online.failed)}</p><//>`;
  const { rows } = online.reply;
  if (rows.length === 0) return html`<p class="muted">${t("arrivals.none")}</p>`;
  return html`<div class="table-frame"><table class="table"><thead><tr><th>${t("arrivals.person")}</th><th>${t("kind.device")}</th>
      <th class="num">${t("arrivals.entries")}</th><th>${t("place.applications")}</th><th>${t("arrivals.last")}</th></tr></thead>
    <tbody>${rows.map(
      (/** @type {any} */ row) => html`<tr key=${`${row.member} ${row.device}`}>
        <td><b>${row.member_name || t("arrivals.nobody")}</b></td>
        <td><a class="cell-link is-one-of-many" href=${`/phones/${row.device}`}>${row.device_label || t("office.some_device")}</a></td>
        <td class="num">${row.entries}</td>
        <td><${Begun} rows=${row.applications} /></td>
        <td class="nowrap">${clockTime(Date.parse(row.last_at))}</td></tr>`,
    )}</tbody></table></div>`;
}

/** @param {{ rows: any[] }} props */
function Begun({ rows }) {
  if (rows.length === 0) return html`<span class="muted">–</span>`;
  return html`<div class="stack-1">${rows
    .slice(0, MOST)
    .map(
      (one) =>
        html`<a class="cell-link is-one-of-many" key=${one.id} href=${`/applications/${one.id}`}>${[one.started_at?.local.slice(11, 16), one.mix_name].filter(Boolean).join(" ") || t("kind.application")}</a>`,
    )}
    ${rows.length > MOST && html`<a class="cell-link is-one-of-many" href="/applications">${t("arrivals.more", { n: rows.length - MOST })}</a>`}</div>`;
}
