// One restriction: who may not be where, until when, and what happens to it: ventilation, signs, people told, early
// entries, and reopening, which is an act by a named person once every condition is met. Each is an entry of its own, on
// any phone, hours later. The office judges a reopening again when it arrives.
import { useSignal } from "@preact/signals";
import { choiceLabel } from "../forms/labels.js";
import { useRecord, useRecords, useTepal } from "../state/context.js";
import { followedRow, isUncoveredBy, shorterOf } from "../state/followed.js";
import { stateOf } from "../state/restrictions.js";
import { strictRow } from "../state/strict.js";
import { Button, GoButton } from "../ui/buttons.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message, StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";
import { isUndecided } from "./applied.js";
import { useOperatorOf } from "./board.js";
import { useEstablishment } from "./establishment.js";
import { History, heldReason } from "./history.js";
import { may } from "./may.js";
import { useOnline } from "./online.js";
import { momentText, useValueWords } from "./record-words.js";
import { ACTS, ActSheet } from "./restriction-acts.js";
import { ShorterRecord } from "./restriction-shorter.js";
import { areaText, conditionsOf, restrictionText } from "./restriction-words.js";
import { useServerClock } from "./server-clock.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** @param {{ frame: any, id: string }} props */
export function RestrictionPage({ frame, id }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const row = useRecord("restriction", id);
  const conflicts = useRecords("conflict");
  const products = useRecords("product");
  const application = useRecord("application", row?.shown.fields.application ?? "");
  const online = useOnline(`/records/restriction/${id}/history`, row?.shown.revision);
  const clock = useServerClock();
  const establishment = useEstablishment();
  const words = useValueWords();
  const operatorOf = useOperatorOf();
  const open = useSignal(/** @type {string | null} */ (null));
  const failure = useSignal("");
  const isSaving = useSignal(false);
  const held = (useRecords("held") ?? []).filter((one) => one.shown.fields.of_id === id && isUndecided(one));
  const entries = (useRecords("early_entry") ?? []).filter(
    (one) => one.shown.fields.restriction === id && one.shown.state !== "void",
  );
  const back = html`<${Button} kind="quiet" icon="back" href="/board">${t("board.title")}<//>`;
  if (!row || row.shown.state === "void") {
    return frame(
      null,
      html`<${Page} title=${t("kind.restriction")} actions=${back}>
        ${row && html`<${EmptyState} icon="close" title=${t("restriction.void")} />`}
        ${row === null && html`<${EmptyState} icon="search" title=${t("restriction.not_here")} />`}<//>`,
    );
  }
  const applied = application ? [strictRow("application", application, conflicts)] : [];
  const counted = followedRow(strictRow("restriction", row, conflicts), applied, products, clock.nowMs);
  const { fields } = counted.shown;
  const known = stateOf(counted, clock, establishment);
  const isOver = Boolean(fields.reopened_at) && !known.isReopenedHere;
  const text = restrictionText(known, clock, language.value, operatorOf(row));
  const conditions = conditionsOf(known, clock, language.value);
  const member = tepal.session.value?.member;
  const mayReopen = may(tepal.session.value, "reopen") !== "no";
  const isReady = known.state.may_reopen && mayReopen && !known.isReopenedHere;
  const n = conditions.filter((one) => !one.isMet).length;

  async function reopen() {
    if (!isReady || isSaving.value || !row) return;
    isSaving.value = true;
    try {
      await tepal.save.change(row, {
        reopened_at: tepal.wall(),
        reopened_by: member.id,
        reopened_name: member.name,
      });
      failure.value = "";
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    } finally {
      isSaving.value = false;
    }
  }

  const why = !mayReopen ? t("restriction.not_you") : t("restriction.conditions_left", { n });
  const foot =
    isOver || known.isReopenedHere
      ? null
      : html`<${FootAct}>
          ${isReady && html`<p class="foot-words">${t("restriction.reopen_words", { name: member?.name ?? "", place: areaText(fields) || fields.place || "" })}</p>`}
          <${GoButton} isOff=${!isReady} onPress=${reopen}>${isReady ? t("restriction.reopen") : why}<//><//>`;
  return frame(
    foot,
    html`<${Page} title=${fields.place || t("kind.restriction")} under=${[fields.product_names, operatorOf(row)].filter(Boolean).join(" · ")} actions=${back} isReading=${true}>
      ${
        isOver
          ? html`<${Message} tone="passed" title=${t("restriction.reopened", { name: fields.reopened_name ?? "", time: momentText(fields.reopened_at, language.value) })}><p>${t("restriction.reopened_why")}</p><//>`
          : html`<${Message} tone=${text.tone} icon=${text.tone === "caution" ? "sprayer" : "stop"} title=${[text.word, ...text.lines].join(" · ")}>
              ${text.left && html`<p>${text.left}</p>`}<p>${t("today.sign_decides")}</p><//>`
      }
      ${known.isReopenedHere && html`<${Message} tone="waiting" icon="phone" title=${t("restriction.reopened_not_sent")}><p>${t("restriction.reopened_not_sent_why")}</p><//>`}
      ${
        held.length > 0 &&
        html`<${Message} tone="waiting" title=${t("restriction.held")}>${held.map((one) => html`<p key=${one.id}>${heldReason(String(one.shown.fields.reason))}</p>`)}
          <${Button} href="/decide">${t("place.decide")}<//><//>`
      }
      ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
      ${!isOver && html`<${ShorterRecord} row=${row} shorter=${shorterOf(row, application ? [application] : [], products)} isUncovered=${isUncoveredBy(row, application)} words=${words} />`}
      ${!isOver && html`<${Conditions} conditions=${conditions} />`}
      ${
        !isOver &&
        html`<section class="stack"><h2>${t("restriction.acts")}</h2><div class="act-grid">
          ${ACTS.filter(({ isOffered }) => isOffered(fields)).map(
            ({ name, icon }) =>
              html`<${Button} key=${name} icon=${icon} onPress=${() => {
                open.value = name;
              }}>${t(`restriction.act.${name}`)}<//>`,
          )}
          <${Button} icon="person" href=${`/restrictions/${id}/early-entry`}>${t("restriction.act.early_entry")}<//>
        </div></section>`
      }
      <${Log} row=${row} entries=${entries} words=${words} language=${language.value} />
      <${Facts} fields=${fields} />
      ${
        online.reply?.entries?.length > 1 &&
        html`<details class="card"><summary><b>${t("office.history")}</b></summary>
          <${History} entries=${online.reply.entries} kind="restriction" words=${words} /></details>`
      }
      ${
        open.value !== null &&
        html`<${ActSheet} act=${open.value} row=${row} onClose=${() => {
          open.value = null;
        }} />`
      }
    <//>`,
  );
}

/** @param {{ conditions: ReturnType<typeof conditionsOf> }} props */
function Conditions({ conditions }) {
  return html`<section class="stack"><h2>${t("restriction.conditions")}</h2>
    <ul class="list">${conditions.map(
      ({ name, isMet, title, detail, source }) => html`<li class="list-row condition" key=${name}>
        <span class="choice-text"><b>${title}</b><span>${detail}</span>${source && html`<span class="choice-detail">${source}</span>`}</span>
        <${StateChip} tone=${isMet ? "passed" : "stopped"}>${t(isMet ? "condition.met" : "condition.unmet")}<//></li>`,
    )}</ul></section>`;
}

/** What happened so far. @param {{ row: RecordRow, entries: RecordRow[], words: any, language: string }} props */
function Log({ row, entries, words, language }) {
  const { fields } = row.shown;
  const by = (/** @type {string | null} */ id) => (id ? (words.nameOf("member", id) ?? "") : "");
  const at = (/** @type {any} */ moment) => momentText(moment, language);
  /** @type {{at: any, text: string}[]} */
  const lines = [
    { at: fields.started_at, text: t("restriction.log.started") },
    { at: fields.ended_at, text: t("restriction.log.ended") },
    { at: fields.signs_up_at, text: t("restriction.log.signs_up", { name: by(fields.signs_up_by) }) },
    { at: fields.signs_down_at, text: t("restriction.log.signs_down", { name: by(fields.signs_down_by) }) },
    ...(fields.ventilation ?? []).map((/** @type {any} */ spell) => ({
      at: spell.began_at,
      text: [
        t(`choice.restriction.ventilation.sort.${spell.sort}`),
        spell.ended_at
          ? t("restriction.log.to", { time: spell.ended_at.local.slice(11, 16) })
          : t("restriction.log.running"),
        spell.air_exchanges ? t("restriction.log.exchanges", { n: spell.air_exchanges }) : "",
        by(spell.by),
      ]
        .filter(Boolean)
        .join(" · "),
    })),
    ...(fields.oral_notices ?? []).map((/** @type {any} */ notice) => ({
      at: notice.at,
      text: t("restriction.log.told", { who: notice.told ?? "", name: by(notice.by) }),
    })),
    {
      at: fields.measured_at,
      text: t("restriction.log.measured", {
        level: fields.measured_level ?? "",
        with: fields.measured_with ?? "",
      }),
    },
    ...entries.map(({ shown }) => ({
      at: shown.fields.began_at,
      text: t("restriction.log.entered", {
        who: shown.fields.who ?? "",
        task: choiceLabel("early_entry.task", shown.fields.task),
      }),
    })),
    { at: fields.reopened_at, text: t("restriction.log.reopened", { name: fields.reopened_name ?? "" }) },
  ];
  const happened = lines.filter((line) => line.at).sort((a, b) => a.at.local.localeCompare(b.at.local));
  return html`<section class="stack"><h2>${t("restriction.log")}</h2>
    <ol class="list">${happened.map((line, i) => html`<li class="list-row" key=${i}><span>${line.text}</span><span class="muted nowrap">${at(line.at)}</span></li>`)}</ol></section>`;
}

/** @param {{ fields: Record<string, any> }} props */
function Facts({ fields }) {
  const facts = [
    [t("field.area"), fields.area ? choiceLabel("restriction.area", fields.area) : null],
    [
      t("field.area_during"),
      fields.area_during ? choiceLabel("restriction.area_during", fields.area_during) : null,
    ],
    [
      t("field.method_class"),
      fields.method_class ? t("restriction.class", { n: fields.method_class }) : null,
    ],
  ].filter(([, value]) => value);
  return html`<section class="stack"><dl class="facts">${facts.map(([name, value]) => html`<div key=${name}><dt>${name}</dt><dd>${value}</dd></div>`)}</dl>
    <p class="muted small">${t("restriction.class_source")}</p>
    ${fields.application && html`<div><${Button} kind="quiet" icon="book" href=${`/applications/${fields.application}`}>${t("restriction.application")}<//></div>`}
    <p class="muted small">${t("restriction.clock_words")}</p></section>`;
}
