// One application: all that is on record, per line and per product, its photos, what waits to be decided about it, and its
// history. Replaced values stay readable, struck through, beside the new ones.
import { useState } from "preact/hooks";
import { useRecord, useRecords, useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { dayName } from "../ui/when.js";
import { t } from "../ui/words.js";
import { Checked } from "./application-checks.js";
import { ApplicationFacts } from "./application-facts.js";
import { VoidSheet } from "./application-void.js";
import { appliedOf, dayOf, isUndecided, RecordState, timesOf } from "./applied.js";
import { failureText } from "./device.js";
import { History, heldReason } from "./history.js";
import { may } from "./may.js";
import { useOnline } from "./online.js";
import { Photos } from "./photos.js";
import { useValueWords } from "./record-words.js";
import { useSettings } from "./settings-context.js";
import { ApplicationCost } from "./stock-parts.js";
import { TreatedPlots } from "./trial-treat.js";
import { VoiceNotes } from "./voice-note.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** @param {{ frame: any, id: string }} props */
export function ApplicationPage({ frame, id }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const row = useRecord("application", id);
  const words = useValueWords();
  const online = useOnline(`/records/application/${id}/history`, row?.shown.revision);
  const [isVoiding, setVoiding] = useState(false);
  const shown = shownOf(row, online.reply?.record);
  const about = useAbout(id);

  if (shown === null) {
    const isReading = row === undefined || online.isAsking;
    return frame(
      null,
      html`<${Page} title=${t("kind.application")} actions=${html`<${Back} />`}>
        ${
          isReading
            ? html`<p class="muted" role="status">${t("office.asking")}</p>`
            : html`<${EmptyState} icon="search" title=${t("office.no_such_application")}><p>${online.failed ? failureText(online.failed) : ""}</p><//>`
        }<//>`,
    );
  }

  const { fields } = shown;
  const entries = online.reply?.entries ?? [];
  const former = withUnsent(online.reply?.former ?? {}, row, same(tepal));
  const isAmended = Object.keys(former).length > 0 && shown.state !== "open";
  const day = dayOf(fields);
  return frame(
    null,
    html`<${Page} title=${day ? dayName(Date.parse(`${day}T12:00:00Z`), language.value, "UTC") : t("office.no_day")}
      under=${[day.slice(0, 4), timesOf(fields), fields.mix_name].filter(Boolean).join(" · ")} actions=${html`<${Back} />`}>
      <${RecordState} applied=${{ ...shown, isAmended }} hasConflict=${about.conflicts.length > 0} />
      ${
        about.conflicts.length > 0 &&
        html`<${Message} tone="caution" icon="differ" title=${t("office.conflict_open", { n: about.conflicts.length })}>
          <${Rivals} conflicts=${about.conflicts} words=${words} />
          <${Button} href="/decide">${t("place.decide")}<//><//>`
      }
      ${
        about.held.length > 0 &&
        html`<${Message} tone="waiting" title=${t("office.held_about", { n: about.held.length })}>
          ${about.held.map((one) => html`<p key=${one.id}>${heldReason(String(one.shown.fields.reason))}</p>`)}
          <${Button} href="/decide">${t("place.decide")}<//><//>`
      }
      ${shown.state === "void" && html`<${Message} tone="plain" icon="close" title=${t("office.is_void")}><p>${t("office.is_void_why")}</p><//>`}
      <div class="page-columns">
        <div class="stack-5">
          <${ApplicationFacts} fields=${fields} former=${former} words=${words} />
          ${row && html`<${ApplicationCost} application=${row} />`}
          ${row && html`<${TreatedPlots} row=${row} />`}
          <${Checked} id=${id} fields=${fields} revision=${row?.shown.revision} />
          <${Photos} ofId=${id} /><${VoiceNotes} ofId=${id} />
          ${shown.state !== "void" && row && html`<${Acts} row=${row} onVoid=${() => setVoiding(true)} />`}
        </div>
        <section class="stack" aria-labelledby="history">
          <h2 id="history">${t("office.history")}</h2>
          ${online.isAsking && html`<p class="muted" role="status">${t("office.asking")}</p>`}
          ${
            online.failed &&
            html`<${Message} tone="waiting" icon="offline" title=${t("office.no_history")} live=${true}><p>${failureText(online.failed)}</p>
              <${Button} icon="sync" onPress=${online.again}>${t("office.ask_again")}<//><//>`
          }
          <${History} entries=${entries} kind="application" words=${words} />
        </section>
      </div>
      ${isVoiding && row && html`<${VoidSheet} row=${row} onClose=${() => setVoiding(false)} />`}
    <//>`,
  );
}

const Back = () =>
  html`<${Button} kind="quiet" icon="back" href="/applications">${t("place.applications")}<//>`;

/** Amend and void, and what happens to them under this person's role. @param {{ row: RecordRow, onVoid: () => void }} props */
function Acts({ row, onVoid }) {
  const { session } = useTepal();
  const isOwn = row.shown.author === session.value?.member?.id;
  const word = may(session.value, isOwn ? "amend_own" : "amend_other");
  const isOpen = row.shown.state === "open";
  return html`<section class="stack acts no-print">
    ${word === "ask" && !isOpen && html`<p class="muted">${t("office.request_why")}</p>`}
    ${word === "no" && html`<p class="muted">${t("office.read_only")}</p>`}
    ${
      word !== "no" &&
      html`<div class="row"><${Button} icon="pencil" href=${`/applications/${row.id}/amend`}>${t(isOpen ? "office.change_do" : word === "ask" ? "office.request_do" : "office.amend_do")}<//>
      <${Button} kind="danger" icon="close" onPress=${onVoid}>${t(word === "ask" && !isOpen ? "office.request_void_do" : "office.void_do")}<//></div>`
    }
  </section>`;
}

/** @param {{ conflicts: RecordRow[], words: any }} props */
function Rivals({ conflicts, words }) {
  return html`${conflicts.map((row) => {
    const { field, current, other } = /** @type {any} */ (row.shown.fields);
    return html`<p key=${row.id}>${words
      .differences("application", { [field]: { was: current, to: other } })
      .map(
        (/** @type {any} */ one) =>
          html`<span class="rival">${one.label}: <b>${one.was ?? t("office.nothing")}</b> ${t("office.or")} <b>${one.to ?? t("office.nothing")}</b></span>`,
      )}</p>`;
  })}`;
}

/** Open conflicts and held entries about a record. @param {string} id */
function useAbout(id) {
  const open = (/** @type {RecordRow[] | null} */ rows) =>
    (rows ?? []).filter((row) => row.shown.fields.of_id === id && isUndecided(row));
  return { conflicts: open(useRecords("conflict")), held: open(useRecords("held")) };
}

/**
 * This phone's row where it has one (it holds what is not sent yet), else the office's record.
 * @param {RecordRow | null | undefined} row @param {any} record
 * @returns {import("./applied.js").Applied | null}
 */
function shownOf(row, record) {
  if (row) return appliedOf(row);
  return record ? { ...record, isAmended: false, isUnsent: false } : null;
}

/**
 * Former values by the office, and those that this phone's unsent entries replace.
 * @param {Record<string, any[]>} told @param {RecordRow | null | undefined} row
 * @param {(left: any, right: any) => boolean} equal
 */
function withUnsent(told, row, equal) {
  const former = { ...told };
  for (const [name, old] of Object.entries(row?.confirmed?.fields ?? {})) {
    if (!equal(old, row?.shown.fields[name] ?? null)) former[name] = [...(told[name] ?? []), old];
  }
  return former;
}

/** Whether two stored values are the same. @param {import("../state/tepal.js").Tepal} tepal */
const same = (tepal) => (/** @type {any} */ left, /** @type {any} */ right) =>
  Object.keys(tepal.book.changesBetween({ value: left }, { value: right })).length === 0;
