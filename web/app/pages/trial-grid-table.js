// The cells of the grid: a row per plant, moved through with the keys, filled by a paste. What is typed is the page's.
import { useSignal } from "@preact/signals";
import { useMemo, useRef } from "preact/hooks";
import { cellKey, nextCell, pasted, placed } from "../state/trial-grid.js";
import { Button } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { Kept } from "../ui/kept.js";
import { t } from "../ui/words.js";

/** @typedef {import("../state/measure.js").Stop} Stop */
/** @typedef {import("../state/measure.js").Definition} Definition */

const ROWS_AT_ONCE = 200; // 1,600 plants in one table would hold the page up with every key
const PAGE_ROWS = 10;

/**
 * @param {{ stops: Stop[], columns: Definition[], ids: string[], rows: Map<string, any>, odd: string[], mayType: boolean,
 *   textAt: (r: number, c: number) => string, marks: Map<string, string>, onCells: (cells: [number, number, string][], left?: number) => void,
 *   onBack: (isRedo: boolean) => void, onRestore: (r: number, c: number) => void, onHistory: (id: string) => void }} props
 *   marks  cell -> what was typed and how it stands: the row is drawn anew only when its own changes.
 */
export function GridTable({ stops, columns, ids, rows, odd, mayType, textAt, marks, ...acts }) {
  const table = useRef(/** @type {HTMLTableElement | null} */ (null));
  const start = useSignal(0);
  // the cells' own functions stay the same from key to key; what they call is today's
  const now = useRef(/** @type {any} */ (null));
  now.current = { stops, columns, ...acts };
  const keys = useMemo(() => keysOf(table, now, start), []);
  const last = Math.min(stops.length, start.value + ROWS_AT_ONCE);
  const pager =
    stops.length > ROWS_AT_ONCE &&
    html`<div class="row"><${Button} icon="back" isOff=${start.value === 0} onPress=${() => {
      start.value = Math.max(0, start.value - ROWS_AT_ONCE);
    }}>${t("grid.rows_before")}<//><span>${t("grid.rows", { first: start.value + 1, last, n: stops.length })}</span>
      <${Button} icon="forward" isOff=${last === stops.length} onPress=${() => {
        if (last < stops.length) start.value = last;
      }}>${t("grid.rows_after")}<//></div>`;
  return html`${pager}<div class="table-frame"><table class="grid" ref=${table}><thead><tr><th scope="col">${t("grid.plot")}</th><th scope="col">${t("grid.plant")}</th>
    ${columns.map((one) => html`<th key=${one.code} scope="col">${one.name ?? one.code}${one.unit ? `, ${one.unit}` : ""}</th>`)}<th></th></tr></thead><tbody>
    ${stops.slice(start.value, start.value + ROWS_AT_ONCE).map((stop, i) => {
      const r = start.value + i;
      const marked = columns.map((one) => marks.get(cellKey(stop, one)) ?? "").join("\u0000");
      return html`<${GridRow} key=${ids[r]} r=${r} stop=${stop} columns=${columns} fields=${rows.get(ids[r])?.shown.fields} id=${ids[r]} marked=${marked}
        isOdd=${odd.includes(stop.code)} mayType=${mayType} textAt=${textAt} marks=${marks} keys=${keys} />`;
    })}</tbody></table></div>${pager}`;
}

/** @param {any} props */
function GridRow({ r, stop, columns, fields, id, marked, isOdd, mayType, textAt, marks, keys }) {
  const draw =
    () => html`<tr class=${isOdd ? "is-odd" : ""}><th scope="row">${stop.code}</th><td>${stop.plant || "–"}</td>
      ${columns.map((/** @type {Definition} */ one, /** @type {number} */ c) => {
        const mark = marks.get(cellKey(stop, one))?.split(" ")[0] ?? "";
        return html`<td key=${one.code} class=${mark && `is-${mark}`}>${
          stop.definitions.includes(one) &&
          html`<input data-at=${`${r}:${c}`} value=${textAt(r, c)} readonly=${!mayType} autocomplete="off" aria-invalid=${mark === "wrong" ? "true" : undefined}
            aria-label=${[stop.code, stop.plant || null, one.name ?? one.code].filter(Boolean).join(", ")} onInput=${keys.typed} onKeyDown=${keys.pressed} onPaste=${keys.dropped} />`
        }</td>`;
      })}
      <td>${fields && html`<button type="button" class="grid-more" aria-label=${t("grid.history_of", { code: stop.code, plant: stop.plant || "–" })} onClick=${() => keys.history(id)}>${t("grid.history")}</button>`}</td></tr>`;
  return html`<${Kept} by=${[stop, columns, fields, marked, isOdd, mayType]} draw=${draw} />`;
}

/** @param {{current: HTMLTableElement | null}} table @param {{current: any}} now @param {import("@preact/signals").Signal<number>} start */
function keysOf(table, now, start) {
  const cell = (/** @type {{r: number, c: number}} */ { r, c }) =>
    /** @type {HTMLInputElement | null} */ (table.current?.querySelector(`[data-at="${r}:${c}"]`));
  const placeOf = (/** @type {Event} */ event) => {
    const input = /** @type {HTMLInputElement} */ (event.currentTarget);
    const [r, c] = String(input.dataset.at).split(":").map(Number);
    return { input, r, c };
  };
  /** @param {{r: number, c: number} | null} to @param {Event} event */
  const goTo = (to, event) => {
    if (!to) return;
    event.preventDefault();
    start.value = Math.floor(to.r / ROWS_AT_ONCE) * ROWS_AT_ONCE;
    const go = () => {
      cell(to)?.focus();
      cell(to)?.select();
    };
    if (cell(to)) go();
    else setTimeout(go, 50);
  };
  return {
    history: (/** @type {string} */ id) => now.current.onHistory(id),
    typed(/** @type {Event} */ event) {
      const { input, r, c } = placeOf(event);
      now.current.onCells([[r, c, input.value]]);
    },
    dropped(/** @type {ClipboardEvent} */ event) {
      const lines = pasted(event.clipboardData?.getData("text/plain") ?? "");
      if (lines.length === 1 && lines[0].length === 1) return;
      event.preventDefault();
      const { input, r, c } = placeOf(event);
      if (input.readOnly) return;
      const { stops, columns, onCells } = now.current;
      const { cells, left } = placed(lines, { r, c }, stops, columns);
      onCells(cells, left);
    },
    pressed(/** @type {KeyboardEvent} */ event) {
      const { input, r, c } = placeOf(event);
      const { stops, columns, onBack, onRestore } = now.current;
      const isCommand = event.ctrlKey || event.metaKey;
      if (isCommand && ["z", "y"].includes(event.key.toLowerCase())) {
        event.preventDefault();
        onBack(event.key.toLowerCase() === "y" || event.shiftKey);
        return;
      }
      if (event.key === "Escape") {
        onRestore(r, c);
        return;
      }
      const isAtStart = input.selectionStart === 0;
      const isAtEnd = input.selectionEnd === input.value.length;
      const step = (/** @type {number} */ down, /** @type {number} */ right) =>
        nextCell({ r, c }, down, right, stops, columns);
      const far = (/** @type {number} */ down) => {
        let to = /** @type {{r: number, c: number} | null} */ (null);
        for (let n = 0; n < PAGE_ROWS; n += 1) to = nextCell(to ?? { r, c }, down, 0, stops, columns) ?? to;
        return to;
      };
      const first = () => nextCell({ r: -1, c }, 1, 0, stops, columns);
      const last = () => nextCell({ r: stops.length, c }, -1, 0, stops, columns);
      const to = {
        ArrowDown: () => step(1, 0),
        Enter: () => step(event.shiftKey ? -1 : 1, 0),
        ArrowUp: () => step(-1, 0),
        ArrowLeft: () => (isAtStart ? step(0, -1) : null),
        ArrowRight: () => (isAtEnd ? step(0, 1) : null),
        PageDown: () => far(1),
        PageUp: () => far(-1),
        Home: () => (isCommand ? first() : null),
        End: () => (isCommand ? last() : null),
      }[event.key];
      if (to) goTo(to(), event);
    },
  };
}
