// What needs somebody today: two values side by side, entries that wait or stand apart, records that lack something, houses
// to be reopened, orders and trial work that are due, sprayers to be calibrated. Each with the way to it.

import { standingOf } from "../state/calibration.js";
import { useRecords } from "../state/context.js";
import { missingFields } from "../state/day.js";
import { isOpenQuestion, questionsOf } from "../state/held-groups.js";
import { isLate, openWork } from "../state/trial-due.js";
import { Button } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { isUndecided } from "./applied.js";
import { coreText } from "./core-words.js";
import { useEstablishment } from "./establishment.js";
import { heldReason } from "./history.js";
import { orderTitle, windowText } from "./order-words.js";
import { useNames, useValueWords } from "./record-words.js";
import { whenText } from "./restriction-words.js";
import { useSettings } from "./settings-context.js";
import { useTrialWork } from "./trial-wholeness.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {{key: string, tone: string, icon: import("../ui/icons.js").IconName, title: string, why: any, href: string, act: string}} Need */

const MOST_NAMED = 3; // the record itself names all
const LOOK_BACK_DAYS = 7; // incomplete records of the last week; older ones stand in the month

/** @param {{ board: any, orders: any[], today: string }} props */
export function NeedsYou({ board, orders, today }) {
  const needs = [
    ...useConflicts(),
    ...useHeld(),
    ...useReopen(board),
    ...useDue(orders),
    ...useTrialsDue(today),
    ...useIncomplete(today),
    ...useCalibrations(today),
  ];
  if (needs.length === 0) return html`<p class="muted">${t("decide.nothing")}</p>`;
  return html`${needs.map(
    ({ key, tone, icon, title, why, href, act }) => html`<article class=${`card need ${tone}`} key=${key}>
      <div class="spread"><b><${Icon} name=${icon} /> ${title}</b><${Button} href=${href}>${act}<//></div>
      <div class="muted">${why}</div></article>`,
  )}`;
}

/** @returns {Need[]} */
function useConflicts() {
  const words = useValueWords();
  return (useRecords("conflict") ?? []).filter(isUndecided).map((row) => {
    const { of_kind, field, current, other } = /** @type {any} */ (row.shown.fields);
    const found = words.differences(of_kind, { [field]: { was: current, to: other } });
    return {
      key: row.id,
      tone: "caution",
      icon: /** @type {const} */ ("differ"),
      title: t("day.two_values"),
      why: found.map(
        (one) =>
          html`<p class="two-values"><span>${one.label}</span><b>${one.was ?? t("office.nothing")}</b><span>${t("office.or")}</span><b>${one.to ?? t("office.nothing")}</b></p>`,
      ),
      href: "/decide",
      act: t("day.decide"),
    };
  });
}

/** @returns {Need[]} */
function useHeld() {
  const questions = questionsOf(useRecords("held") ?? []).filter(isOpenQuestion);
  return questions.map((rows) => {
    const [row] = /** @type {[import("../sync/port.js").RecordRow]} */ (rows);
    const { of_kind, outcome, reason } = /** @type {any} */ (row.shown.fields);
    return {
      key: row.id,
      tone: outcome === "quarantined" ? "stopped" : "waiting",
      icon: outcome === "quarantined" ? /** @type {const} */ ("stop") : /** @type {const} */ ("clock"),
      title: t(outcome === "quarantined" ? "day.quarantined" : "day.waits", {
        kind: of_kind ? t(`kind.${of_kind}`) : t("kind.held"),
      }),
      why: heldReason(String(reason)),
      href: "/decide",
      act: t("day.decide"),
    };
  });
}

/** @param {any} board @returns {Need[]} */
function useReopen(board) {
  const { language } = useSettings();
  if (board === null) return [];
  return board.houses.flatMap((/** @type {any} */ house) =>
    house.state.known
      .filter((/** @type {any} */ known) => known.state.code === "restricted")
      .map((/** @type {any} */ known) => {
        const until = known.state.until_ms;
        const isOver = until !== null && board.clock.nowMs >= until;
        return {
          key: known.row.key, // one that only follows has another's address
          tone: known.state.may_reopen ? "waiting" : "stopped",
          icon: "sign",
          title: isOver
            ? t("day.reopen", { house: house.name })
            : until === null
              ? t("day.rei_unknown", { house: house.name })
              : t("day.ends", {
                  house: house.name,
                  time: whenText(until, board.clock.nowMs, language.value),
                }),
          why: known.state.may_reopen
            ? t("board.may_reopen")
            : t("restriction.conditions_left", { n: known.state.unmet.length }),
          href: `/restrictions/${known.row.id}`,
          act: t("day.see"),
        };
      }),
  );
}

/** @param {any[]} orders @returns {Need[]} */
function useDue(orders) {
  const { language } = useSettings();
  const nameOf = useNames();
  return orders
    .filter(({ state }) => state === "late" || state === "partly")
    .map(({ row, state }) => ({
      key: row.id,
      tone: "caution",
      icon: /** @type {const} */ ("calendar"),
      title: t("day.order", {
        title: orderTitle(row.shown.fields, nameOf),
        state: t(`order.state.${state}`),
      }),
      why: windowText(row.shown.fields, language.value),
      href: `/orders/${row.id}`,
      act: t("day.see"),
    }));
}

/** @param {string} today @returns {Need[]} */
function useTrialsDue(today) {
  const { language } = useSettings();
  return openWork(useTrialWork(today)).map((work) => {
    const { trial, code, name, trialCode, sort, to, state } = work;
    const words = { trial: trialCode, name };
    const why = isLate(work)
      ? `day.trial_${state === "unfinished" ? "unfinished" : "over"}`
      : sort === "daily_round"
        ? "day.trial_today"
        : "day.trial_until";
    return {
      key: `${trial} ${code}`,
      tone: isLate(work) ? "caution" : "waiting",
      icon: /** @type {const} */ ("trial"),
      title: t(isLate(work) ? "day.trial_overdue" : "day.trial_due", words),
      why: t(why, { day: shortDay(to, language.value) }),
      href: `/trials/${trial}`,
      act: t("day.see"),
    };
  });
}

/** @param {string} today @returns {Need[]} */
function useIncomplete(today) {
  const establishment = useEstablishment();
  const from = new Date(Date.parse(`${today}T00:00:00Z`) - LOOK_BACK_DAYS * 86_400_000)
    .toISOString()
    .slice(0, 10);
  const recent = (useRecords("application") ?? []).filter((row) => {
    const day = row.shown.fields.started_at?.local.slice(0, 10) ?? "";
    return row.shown.state !== "void" && day >= from;
  });
  return recent.flatMap((row) => {
    const { fields, state } = row.shown;
    const isUnsigned = state === "open" && fields.ended_at;
    const missing = state === "signed" ? missingFields(fields, establishment) : [];
    if (!isUnsigned && missing.length === 0) return [];
    return [
      {
        key: row.id,
        tone: "caution",
        icon: /** @type {const} */ ("pencil"),
        title: isUnsigned ? t("day.unsigned") : t("day.incomplete", { n: missing.length }),
        why: html`<p>${[`${fields.started_at?.local.slice(0, 16).replace("T", " ")}`, fields.mix_name, fields.operator_name].filter(Boolean).join(" · ")}</p>
          ${missing.slice(0, MOST_NAMED).map((one) => html`<p key=${one.code}>${coreText(one)}</p>`)}`,
        href: isUnsigned ? `/applications/${row.id}` : `/applications/${row.id}/amend`,
        act: t("day.see"),
      },
    ];
  });
}

/** @param {string} today @returns {Need[]} */
function useCalibrations(today) {
  const calibrations = useRecords("calibration") ?? [];
  const { language } = useSettings();
  return (useRecords("sprayer") ?? [])
    .filter((row) => row.shown.state !== "void" && row.shown.fields.retired !== true)
    .flatMap((row) => {
      const { state, due_on } = standingOf(row, calibrations, today);
      if (state !== "never" && state !== "overdue") return [];
      const name = row.shown.fields.name ?? "";
      return [
        {
          key: row.id,
          tone: "caution",
          icon: /** @type {const} */ ("sprayer"),
          title: t("day.calibrate", { name }),
          why:
            state === "never"
              ? t("calibration.never", { name })
              : t("day.was_due", { day: shortDay(due_on ?? "", language.value) }),
          href: `/sprayers/${row.id}`,
          act: t("day.see"),
        },
      ];
    });
}
