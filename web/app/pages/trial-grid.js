// All values of an assessment, a row per plant: typed over, pasted, moved through with the arrow keys. Nothing is saved
// until asked for; a value that was there stays readable in its history.
import { useSignal } from "@preact/signals";
import { useEffect, useMemo, useRef } from "preact/hooks";
import { useLocation } from "preact-iso";
import { numberFormatOf } from "../core/number_format.js";
import { useRecord, useTepal } from "../state/context.js";
import { definitionsOf, dueOf, fieldOf, plannedOf, stopsOf } from "../state/measure.js";
import { againList, cellText, cellValue, oddPlots, pasted } from "../state/trial-grid.js";
import { Button, GoButton } from "../ui/buttons.js";
import { TextField } from "../ui/fields.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Sheet } from "../ui/sheet.js";
import { EmptyState, Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { CellHistory, missingWords } from "./cell-history.js";
import { useWrittenNumbers } from "./establishment.js";
import { may } from "./may.js";
import { useWide } from "./online.js";
import { RefSelect } from "./trial-plan-what.js";

const CHUNK = 200;

/** @param {{ frame: any, id: string, query: Record<string, string> }} props */
export function TrialGridPage({ frame, id, query }) {
  const trial = useRecord("trial", id);
  const { route } = useLocation();
  const back = html`<${Button} kind="quiet" icon="back" href=${`/trials/${id}`}>${trial?.shown.fields.code ?? t("kind.trial")}<//>`;
  if (!trial) {
    return frame(
      null,
      html`<${Page} title=${t("trial.values")} actions=${back}>${trial === null && html`<${EmptyState} icon="trial" title=${t("trial.not_here")} />`}<//>`,
    );
  }
  const all = trial.shown.fields.assessments ?? [];
  const code = query.at ?? all[0]?.code ?? "";
  const pick = html`<${RefSelect} label=${t("grid.assessment")} value=${code} options=${all.map((/** @type {any} */ one) => ({ value: one.code, label: one.name ?? one.code }))}
    onValue=${(/** @type {string} */ value) => route(`/trials/${id}/values?at=${encodeURIComponent(value)}`)} />`;
  return html`<${Grid} key=${code} frame=${frame} id=${id} trial=${trial.shown.fields} code=${code} back=${back} pick=${pick} />`;
}

/** @param {{ frame: any, id: string, trial: any, code: string, back: any, pick: any }} props */
function Grid({ frame, id, trial, code, back, pick }) {
  const tepal = useTepal();
  const numberFormat = numberFormatOf(useWrittenNumbers());
  const planned = plannedOf(trial, code);
  const stops = useMemo(() => (planned ? stopsOf(trial, planned) : []), [trial, planned]);
  const ids = useMemo(
    () => stops.map((stop) => tepal.book.sharedId(id, code, stop.plot, stop.plant)),
    [stops],
  );
  const placeOf = useMemo(() => new Map(stops.map((stop, place) => [stop, place])), [stops]);
  const columns = useMemo(() => definitionsOf(trial, planned), [trial, planned]);
  const rows = useSignal(/** @type {Map<string, any> | null} */ (null));
  const typed = useSignal(/** @type {Map<string, string>} */ (new Map()));
  const reason = useSignal("");
  const failure = useSignal("");
  const historyOf = useSignal(/** @type {string | null} */ (null));
  const table = useRef(/** @type {HTMLTableElement | null} */ (null));
  const word = may(tepal.session.value, "registers");

  useEffect(() => {
    let isHere = true;
    const read = async () => {
      const found = new Map();
      for (let start = 0; start < ids.length; start += CHUNK) {
        const got = await tepal.book.getMany("observation", ids.slice(start, start + CHUNK));
        for (const row of got) if (row?.shown) found.set(row.id, row);
      }
      if (isHere) rows.value = found;
    };
    read();
    return () => {
      isHere = false;
    };
  }, [ids, tepal.observed.value]);

  const fieldsAt = (/** @type {any} */ stop) => rows.value?.get(ids[placeOf.get(stop) ?? -1])?.shown.fields;
  const storedAt = (/** @type {number} */ r, /** @type {number} */ c) =>
    rows.value?.get(ids[r])?.shown.fields[fieldOf(columns[c].code)];
  const whys = missingWords();
  const textAt = (/** @type {number} */ r, /** @type {number} */ c) =>
    typed.value.get(`${r}:${c}`) ?? cellText(storedAt(r, c), numberFormat, whys);
  /** @param {[number, number, string][]} cells */
  const put = (cells) => {
    const next = new Map(typed.peek());
    for (const [r, c, text] of cells) {
      if (r >= stops.length || c >= columns.length) continue;
      if (text === cellText(storedAt(r, c), numberFormat, whys)) next.delete(`${r}:${c}`);
      else next.set(`${r}:${c}`, text);
    }
    typed.value = next;
    failure.value = "";
  };
  const changes = [...typed.value].map(([key, text]) => {
    const [r, c] = key.split(":").map(Number);
    return { r, c, text, ...cellValue(text, columns[c], numberFormat, whys) };
  });
  const wrong = changes.filter((one) => "problem" in one);
  const problem = /** @type {any} */ (wrong[0])?.problem ?? "";
  const replaces = changes.some((one) => storedAt(one.r, one.c) !== undefined);

  async function save() {
    if (wrong.length > 0 || changes.length === 0) return;
    if (replaces && reason.value.trim() === "") {
      failure.value = t("grid.reason_first");
      return;
    }
    const byRow = new Map();
    for (const one of changes)
      byRow.set(one.r, {
        ...byRow.get(one.r),
        [fieldOf(columns[one.c].code)]: /** @type {any} */ (one).value,
      });
    const acts = [...byRow].map(([r, values]) => {
      const old = rows.value?.get(ids[r]);
      const stop = stops[r];
      const wanted = old
        ? values
        : { trial: id, assessment: code, plot: stop.plot, plant: stop.plant, ...values };
      return tepal.save.act(
        "observation",
        ids[r],
        old ? "change" : "create",
        tepal.book.changesBetween(old?.shown.fields ?? {}, wanted),
        reason.value.trim() || null,
      );
    });
    try {
      const assessment = tepal.book.sharedId(id, code);
      if (!(await tepal.book.get("assessment", assessment))?.shown)
        acts.unshift(
          tepal.save.act(
            "assessment",
            assessment,
            "create",
            tepal.book.changesBetween({}, { trial: id, code }),
          ),
        );
      await tepal.save.all(acts);
      typed.value = new Map();
      reason.value = "";
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
  }

  /** @param {KeyboardEvent} event @param {number} r @param {number} c */
  function moved(event, r, c) {
    const input = /** @type {HTMLInputElement} */ (event.currentTarget);
    const atStart = input.selectionStart === 0;
    const atEnd = input.selectionEnd === input.value.length;
    const to = /** @type {Record<string, [number, number] | undefined>} */ ({
      ArrowDown: [r + 1, c],
      Enter: [r + 1, c],
      ArrowUp: [r - 1, c],
      ArrowLeft: atStart ? [r, c - 1] : undefined,
      ArrowRight: atEnd ? [r, c + 1] : undefined,
    })[event.key];
    if (!to) return;
    const next = /** @type {HTMLInputElement | null} */ (
      table.current?.querySelector(`[data-at="${to[0]}:${to[1]}"]`)
    );
    if (!next) return;
    event.preventDefault();
    next.focus();
    next.select();
  }

  /** @param {ClipboardEvent} event @param {number} r @param {number} c */
  function dropped(event, r, c) {
    const lines = pasted(event.clipboardData?.getData("text/plain") ?? "");
    if (lines.length === 1 && lines[0].length === 1) return;
    event.preventDefault();
    put(
      lines.flatMap((cells, i) =>
        cells.map((text, j) => /** @type {[number, number, string]} */ ([r + i, c + j, text.trim()])),
      ),
    );
  }

  const today = tepal.wall().local.slice(0, 10);
  const due = planned ? dueOf(trial, planned) : null;
  const isStillOpen = due !== null && today <= due.to;
  const isWide = useWide();
  // looked for when values come, not with every key: of 400 plots it is slow
  const odd = useMemo(
    () => (rows.value ? [...new Set(columns.flatMap((one) => oddPlots(stops, fieldsAt, one)))] : []),
    [rows.value, stops, columns],
  );
  // whoever holds the phone measures again, and must not know which are meant
  const isBlind = isStillOpen && !isWide;
  const codes = [...new Set(stops.map((stop) => stop.code))];
  return frame(
    changes.length > 0 && word === "yes"
      ? html`<${FootAct}>
          ${
            replaces &&
            html`<${TextField} label=${t("grid.reason")} hint=${t("grid.reason_hint")} value=${reason.value} maxLength=${300} onValue=${(
              /** @type {string} */ value,
            ) => {
              reason.value = value;
              failure.value = "";
            }} />`
          }
          ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
          <${GoButton} isOff=${wrong.length > 0} onPress=${save}>${wrong.length > 0 ? t(`grid.problem.${problem}`, { code: stops[wrong[0].r].code, value: wrong[0].text }) : t("grid.save", { n: changes.length })}<//><//>`
      : null,
    html`<${Page} title=${t("trial.values")} under=${trial.title ?? ""} actions=${back}>
      ${pick}
      ${
        odd.length > 0 &&
        html`<${Message} tone="caution" title=${isBlind ? t("grid.odd_blind", { n: odd.length }) : t("grid.odd", { codes: odd.join(", ") })}>
        <p>${isBlind ? t("grid.odd_blind_again", { n: againList(odd, codes).length }) : t(isStillOpen ? "grid.odd_again" : "grid.odd_check")}</p>
        ${isStillOpen && html`<${Button} icon="ruler" href=${`/trials/${id}/measure/${encodeURIComponent(code)}?again=${againList(odd, codes).join(",")}`}>${t("grid.again")}<//>`}
        <p class="muted small">${t("grid.odd_source")}</p><//>`
      }
      <p class="muted small">${t("grid.how")}</p>
      ${
        rows.value === null
          ? html`<p role="status">${t("apply.reading")}</p>`
          : html`<div class="table-frame"><table class="grid" ref=${table}><thead><tr><th>${t("grid.plot")}</th><th>${t("grid.plant")}</th>
        ${columns.map((one) => html`<th key=${one.code}>${one.name}${one.unit ? `, ${one.unit}` : ""}</th>`)}<th></th></tr></thead><tbody>
        ${stops.map(
          (
            stop,
            r,
          ) => html`<tr key=${ids[r]} class=${odd.includes(stop.code) && !isBlind ? "is-odd" : ""}><th>${stop.code}</th><td>${stop.plant || "–"}</td>
          ${columns.map((one, c) => {
            const isOf = stop.definitions.includes(one);
            const isTyped = typed.value.has(`${r}:${c}`);
            const isWrong = wrong.some((w) => w.r === r && w.c === c);
            return html`<td key=${one.code} class=${isWrong ? "is-wrong" : isTyped ? "is-typed" : ""}>${
              isOf
                ? html`<input data-at=${`${r}:${c}`} value=${textAt(r, c)} readonly=${word !== "yes"} autocomplete="off" aria-label=${`${stop.code}, ${stop.plant}, ${one.name}`}
                onInput=${(/** @type {any} */ event) => put([[r, c, event.currentTarget.value]])} onKeyDown=${(/** @type {any} */ event) => moved(event, r, c)} onPaste=${(/** @type {any} */ event) => dropped(event, r, c)} />`
                : ""
            }</td>`;
          })}
          <td>${
            rows.value?.has(ids[r]) &&
            html`<button type="button" class="grid-more" onClick=${() => {
              historyOf.value = ids[r];
            }}>${t("grid.history")}</button>`
          }</td></tr>`,
        )}</tbody></table></div>`
      }
      ${
        historyOf.value &&
        html`<${Sheet} title=${t("grid.history")} onClose=${() => {
          historyOf.value = null;
        }}><${CellHistory} id=${historyOf.value} trial=${trial} /><//>`
      }
    <//>`,
  );
}
