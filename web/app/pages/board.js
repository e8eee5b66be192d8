// The board: every house with what this device knows of its restrictions. For a phone, the office and a tablet on the wall.
// Server time; it ages by itself, and says when the office was last heard. Open without a person: it lets nobody in.
import { useRecords, useTepal } from "../state/context.js";
import { followedRows } from "../state/followed.js";
import { houseState } from "../state/restrictions.js";
import { strictRows } from "../state/strict.js";
import { Page } from "../ui/frame.js";
import { Houses, HouseTile } from "../ui/house-tile.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { EmptyState, StateChip } from "../ui/state.js";
import { clockTime, dayName } from "../ui/when.js";
import { t } from "../ui/words.js";
import { useEstablishment } from "./establishment.js";
import { heardText, houseText, restrictionText } from "./restriction-words.js";
import { useServerClock } from "./server-clock.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** The houses with their states; null while reading. */
export function useBoard() {
  const clock = useServerClock();
  const establishment = useEstablishment();
  const houses = useRecords("house");
  const conflicts = useRecords("conflict");
  const restrictions = followedRows(
    strictRows("restriction", useRecords("restriction"), conflicts),
    strictRows("application", useRecords("application"), conflicts),
    useRecords("product"),
    clock.nowMs,
  );
  const operatorOf = useOperatorOf();
  if (houses === null || restrictions === null) return null;
  const live = houses
    .filter((row) => row.shown.state !== "void" && row.shown.fields.retired !== true)
    .sort((a, b) => nameOf(a).localeCompare(nameOf(b), undefined, { numeric: true }));
  const known = new Set(houses.map((row) => row.id));
  // a restriction of a house that this phone does not have must not vanish
  const elsewhere = restrictions.filter((row) => !known.has(row.shown.fields.house ?? ""));
  const strays = [...new Set(elsewhere.map((row) => row.shown.fields.house ?? null))]
    .map((id) => ({ row: null, state: houseState(restrictions, id, clock, establishment), name: "" }))
    .filter(({ state }) => state.known.length > 0)
    .map((one) => ({ ...one, name: one.state.known[0].row.shown.fields.place ?? t("board.other_place") }));
  return {
    clock,
    operatorOf,
    houses: [
      ...live.map((row) => ({
        row: /** @type {RecordRow | null} */ (row),
        name: nameOf(row),
        state: houseState(restrictions, row.id, clock, establishment),
      })),
      ...strays,
    ],
  };
}

/** @param {RecordRow} row */
const nameOf = (row) => row.shown.fields.name ?? row.shown.fields.code ?? "";

/** Who applies, by the application of a restriction. */
export function useOperatorOf() {
  const applications = useRecords("application") ?? [];
  return (/** @type {RecordRow} */ restriction) =>
    applications.find((row) => row.id === restriction.shown.fields.application)?.shown.fields.operator_name ??
    "";
}

/** The tiles alone, as Today shows them. */
export function BoardTiles() {
  const { language } = useSettings();
  const board = useBoard();
  if (board === null) return null;
  return html`<${Houses}>${board.houses.map(({ row, name, state }) => {
    const text = houseText(state, board.clock, language.value, board.operatorOf, name);
    const href = state.known.length === 1 ? `/restrictions/${state.known[0].row.id}` : "/board";
    return html`<a class="house-link" key=${row?.id ?? name} href=${href}>
      <${HouseTile} name=${name} tone=${text.tone} state=${text.word} lines=${[...text.lines, text.left].filter(Boolean)} isStale=${state.isStale} /></a>`;
  })}<//>`;
}

/** @param {{ frame: any }} props */
export function BoardPage({ frame }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const board = useBoard();
  const member = tepal.session.value?.member;
  if (board === null) return frame(null, html`<${Page} title=${t("board.title")} />`);
  return frame(
    null,
    html`<${Page} title=${t("board.title")}
      under=${t("board.under", { day: dayName(board.clock.nowMs, language.value), time: clockTime(board.clock.nowMs) })}>
      ${board.houses.length === 0 && html`<${EmptyState} icon="house" title=${t("today.no_houses")} />`}
      <div class="board">${board.houses.map(
        ({ row, name, state }) =>
          html`<${HouseCard} key=${row?.id ?? name} name=${name} state=${state} board=${board} isSignedIn=${Boolean(member)} />`,
      )}</div>
      <p class="board-sign"><${Icon} name="sign" /><b>${t("today.sign_decides")}</b></p>
    <//>`,
  );
}

/** @param {{ name: string, state: import("../state/restrictions.js").HouseState, board: any, isSignedIn: boolean }} props */
function HouseCard({ name, state, board, isSignedIn }) {
  const { language } = useSettings();
  const heard = heardText(board.clock);
  const isNone = state.known.length === 0;
  const isUnknown = state.code === "unknown";
  return html`<article class=${`card board-house ${toneOf(state)}${state.isStale ? " is-stale" : ""}`}>
    <h2>${name}</h2>
    ${
      isNone &&
      html`<p class="board-word"><${Icon} name=${isUnknown ? "clock" : "note"} /><span>${t(isUnknown ? "board.unknown" : "board.none_on_file")}</span></p>
        <p>${heard}</p>${isUnknown && html`<p>${t("board.unknown_why")}</p>`}`
    }
    ${state.known.map((known) => {
      const text = restrictionText(known, board.clock, language.value, board.operatorOf(known.row), name);
      const { product_names: products } = known.row.shown.fields;
      const inside = html`<span class="board-word"><${Icon} name=${text.tone === "caution" ? "sprayer" : "stop"} /><span>${text.word}</span></span>
        ${text.lines.map((line) => html`<span class="board-line">${line}</span>`)}
        ${text.left && html`<span class="board-left">${text.left}</span>`}
        ${products && html`<span class="muted">${products}</span>`}
        ${text.tone === "stopped" && known.state.may_reopen && html`<span><${StateChip} tone="waiting" icon="check">${t("board.may_reopen")}<//></span>`}`;
      return isSignedIn
        ? html`<a class="board-one" key=${known.row.id} href=${`/restrictions/${known.row.id}`}>${inside}</a>`
        : html`<div class="board-one" key=${known.row.id}>${inside}</div>`;
    })}
    ${!isNone && html`<p class="muted small">${state.isStale ? t("board.stale", { heard }) : heard}</p>`}
  </article>`;
}

/** @param {import("../state/restrictions.js").HouseState} state */
function toneOf(state) {
  if (state.code === "being_sprayed") return "caution";
  if (state.code === "restricted") return "stopped";
  return state.code === "unknown" ? "waiting" : "passed";
}
