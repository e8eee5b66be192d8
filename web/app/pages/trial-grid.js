// All values of an assessment, a row per plant: typed over, pasted, moved through with the keys. Nothing is saved until
// asked for, and nothing typed is lost; a value that was there stays readable in its history.
import { useSignal } from "@preact/signals";
import { useEffect, useMemo, useRef } from "preact/hooks";
import { useLocation } from "preact-iso";
import { numberFormatOf } from "../core/number_format.js";
import { useDraft, useRecord, useTepal } from "../state/context.js";
import { definitionsOf, dueOf, fieldOf, plannedOf, questionAbout, stopsOf } from "../state/measure.js";
import { cellKey, cellText, cellValue, oddPlots } from "../state/trial-grid.js";
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
import { MeasuredAgain, OddPlots, useAgain } from "./trial-grid-again.js";
import { GridTable } from "./trial-grid-table.js";
import { RefSelect } from "./trial-plan-what.js";

/** What stands in a cell that was typed over, and what stood there then.
 * @typedef {{text: string, was: string}} Typed */

const CHUNK = 200;
const MOST_STEPS = 100; // that can be taken back
const SHOWN = 4; // cells that a message names

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
  const columns = useMemo(() => definitionsOf(trial, planned), [trial, planned]);
  const rows = useSignal(/** @type {Map<string, any> | null} */ (null));
  const draft = useDraft(`grid/${id}/${code}`, {
    typed: /** @type {Record<string, Typed>} */ ({}),
    reason: "",
  });
  const failure = useSignal("");
  const nLeft = useSignal(0); // of a paste: what found no place
  const historyOf = useSignal(/** @type {string | null} */ (null));
  const steps = useRef({
    back: /** @type {Record<string, Typed>[]} */ ([]),
    forth: /** @type {Record<string, Typed>[]} */ ([]),
    lastKey: "",
  });
  const again = useAgain(id, code, stops);
  const mayType = may(tepal.session.value, "registers") === "yes";

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

  const { typed, reason } = draft.value;
  const whys = missingWords();
  const storedAt = (/** @type {number} */ r, /** @type {number} */ c) =>
    rows.value?.get(ids[r])?.shown.fields[fieldOf(columns[c].code)];
  const storedText = (/** @type {number} */ r, /** @type {number} */ c) =>
    cellText(storedAt(r, c), numberFormat, whys);
  const textAt = (/** @type {number} */ r, /** @type {number} */ c) =>
    typed[cellKey(stops[r], columns[c])]?.text ?? storedText(r, c);

  /** @param {Record<string, Typed>} next @param {string} key  of the cell that is typed in: its letters are one step */
  function step(next, key) {
    const { back, lastKey } = steps.current;
    if (key === "" || key !== lastKey) back.push(draft.value.typed);
    if (back.length > MOST_STEPS) back.shift();
    steps.current.forth = [];
    steps.current.lastKey = key;
    failure.value = "";
    draft.merge({ typed: next });
  }
  /** @param {[number, number, string][]} cells @param {number} [left] */
  function put(cells, left = 0) {
    nLeft.value = left;
    const next = { ...typed };
    for (const [r, c, text] of cells) {
      const key = cellKey(stops[r], columns[c]);
      const was = typed[key]?.was ?? storedText(r, c);
      if (text === storedText(r, c)) delete next[key];
      else next[key] = { text, was };
    }
    step(next, cells.length === 1 && left === 0 ? cellKey(stops[cells[0][0]], columns[cells[0][1]]) : "");
  }
  /** @param {boolean} isRedo */
  function goBack(isRedo) {
    const [from, to] = isRedo
      ? [steps.current.forth, steps.current.back]
      : [steps.current.back, steps.current.forth];
    const next = from.pop();
    if (!next) return;
    to.push(draft.value.typed);
    steps.current.lastKey = "";
    nLeft.value = 0;
    failure.value = "";
    draft.merge({ typed: next });
  }

  const placeOf = useMemo(
    () =>
      new Map(
        stops.flatMap((stop, r) =>
          stop.definitions.map((one) => [cellKey(stop, one), { r, c: columns.indexOf(one) }]),
        ),
      ),
    [stops, columns],
  );
  const changes = Object.entries(typed)
    .flatMap(([key, cell]) => {
      const at = placeOf.get(key);
      if (!at || cell.text === storedText(at.r, at.c)) return [];
      const one = columns[at.c];
      const read = cellValue(cell.text, one, numberFormat, whys);
      const value = "value" in read && typeof read.value === "string" ? read.value : null;
      const ask =
        value === null || one.type === "days"
          ? null
          : questionAbout(one, value, { earlier: null, numberFormat });
      return [{ ...at, ...cell, read, ask, isMoved: cell.was !== storedText(at.r, at.c) }];
    })
    .sort((a, b) => a.r - b.r || a.c - b.c);
  const wrong = changes.filter((one) => "problem" in one.read);
  const asked = changes.filter((one) => one.ask !== null);
  const moved = changes.filter((one) => one.isMoved);
  const replaces = changes.some((one) => (storedAt(one.r, one.c) ?? null) !== null);
  const marks = new Map(
    changes.map((one) => {
      const mark = "problem" in one.read ? "wrong" : one.ask || one.isMoved ? "asked" : "typed";
      return [cellKey(stops[one.r], columns[one.c]), `${mark} ${one.text}`];
    }),
  );
  const nameOf = (/** @type {{r: number, c: number}} */ { r, c }) =>
    [stops[r].code, stops[r].plant || null, columns[c].name ?? columns[c].code].filter(Boolean).join(" · ");
  const some = (/** @type {string[]} */ list) =>
    html`<ul class="cell-list">${list.slice(0, SHOWN).map((one) => html`<li key=${one}>${one}</li>`)}${list.length > SHOWN && html`<li>${t("grid.and_more", { n: list.length - SHOWN })}</li>`}</ul>`;

  async function save() {
    if (wrong.length > 0 || changes.length === 0) return;
    if (replaces && reason.trim() === "") {
      failure.value = t("grid.reason_first");
      return;
    }
    const byRow = new Map();
    for (const one of changes)
      byRow.set(one.r, {
        ...byRow.get(one.r),
        [fieldOf(columns[one.c].code)]: /** @type {any} */ (one.read).value,
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
        reason.trim() || null,
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
      await draft.together({ typed: {}, reason: "" }, (keep) => tepal.save.all(acts, { keep }));
      steps.current = { back: [], forth: [], lastKey: "" };
      nLeft.value = 0;
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
  }

  const today = tepal.wall().local.slice(0, 10);
  const due = planned ? dueOf(trial, planned) : null;
  const isStillOpen = due !== null && today <= due.to;
  // whoever holds a phone measures again, and must not know which plots are meant
  const isBlind = !useWide() && isStillOpen;
  // looked for when values come, not with every key: of 400 plots it is slow
  const odd = useMemo(() => {
    const place = new Map(stops.map((stop, r) => [stop, r]));
    const fieldsAt = (/** @type {any} */ stop) => rows.value?.get(ids[place.get(stop) ?? -1])?.shown.fields;
    return columns
      .map((one) => ({ name: one.name ?? one.code, codes: rows.value ? oddPlots(stops, fieldsAt, one) : [] }))
      .filter((one) => one.codes.length > 0);
  }, [rows.value, stops, columns]);
  const oddCodes = useMemo(() => [...new Set(odd.flatMap((one) => one.codes))], [odd]);
  // a plot without a value would tell who measures again that it is no second look
  const codes = useMemo(
    () => [...new Set(stops.filter((_, r) => rows.value?.has(ids[r])).map((stop) => stop.code))],
    [stops, rows.value],
  );
  const first = wrong[0];
  const problem = /** @type {any} */ (first?.read)?.problem ?? "";
  return frame(
    changes.length > 0 && mayType
      ? html`<${FootAct}>
          ${asked.length > 0 && html`<${Message} tone="caution" title=${t("grid.asked", { n: asked.length })}>${some(asked.map((one) => `${nameOf(one)}: ${t(`measure.ask.${one.ask?.code}`, one.ask?.params)}`))}<//>`}
          ${moved.length > 0 && html`<${Message} tone="caution" title=${t("grid.moved", { n: moved.length })}>${some(moved.map((one) => t("grid.moved_cell", { cell: nameOf(one), now: storedText(one.r, one.c) || t("office.nothing"), typed: one.text })))}<//>`}
          ${
            replaces &&
            html`<${TextField} label=${t("grid.reason")} hint=${t("grid.reason_hint")} value=${reason} maxLength=${300} onValue=${(
              /** @type {string} */ value,
            ) => {
              draft.merge({ reason: value });
              failure.value = "";
            }} />`
          }
          ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
          <div class="row"><${Button} icon="undo" isOff=${steps.current.back.length === 0} onPress=${() => goBack(false)}>${t("grid.undo")}<//>
            <${Button} icon="close" onPress=${() => step({}, "")}>${t("grid.drop", { n: changes.length })}<//>
            <div class="grows"><${GoButton} isOff=${wrong.length > 0} onPress=${save}>${first ? t(`grid.problem.${problem}`, { code: stops[first.r].code, value: first.text }) : t("grid.save", { n: changes.length })}<//></div></div><//>`
      : null,
    html`<${Page} title=${t("trial.values")} under=${trial.title ?? ""} actions=${back}>
      ${pick}
      ${!isBlind && html`<${OddPlots} id=${id} code=${code} odd=${odd} again=${again} codes=${codes} isStillOpen=${isStillOpen} mayType=${mayType} />`}
      ${
        rows.value !== null &&
        !isBlind &&
        html`<${MeasuredAgain} again=${again} stops=${stops} columns=${columns} numberFormat=${numberFormat} storedAt=${storedAt} mayType=${mayType}
          onTake=${(/** @type {number} */ r, /** @type {number} */ c, /** @type {string} */ text) => put([[r, c, text]])} />`
      }
      <p class="muted small">${t("grid.how")}</p>
      ${nLeft.value > 0 && html`<${Message} tone="caution" title=${t("grid.left", { n: nLeft.value })} live=${true} />`}
      ${
        rows.value === null || !draft.ready
          ? html`<p role="status">${t("apply.reading")}</p>`
          : html`<${GridTable} stops=${stops} columns=${columns} ids=${ids} rows=${rows.value} odd=${isBlind ? [] : oddCodes} mayType=${mayType} textAt=${textAt} marks=${marks}
              onCells=${put} onBack=${goBack} onRestore=${(/** @type {number} */ r, /** @type {number} */ c) => put([[r, c, storedText(r, c)]])}
              onHistory=${(/** @type {string} */ one) => {
                historyOf.value = one;
              }} />`
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
