// Plots that look odd, and what a second look without the first value gave: the office compares and decides.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { decimalText } from "../core/rounding.js";
import { useRecord, useTepal } from "../state/context.js";
import { fieldOf } from "../state/measure.js";
import { againList, cellText } from "../state/trial-grid.js";
import { Button } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { missingWords } from "./cell-history.js";

const CHUNK = 100;

/** What was measured again at an assessment: the list that was sent, and the values by "plot.plant".
 * @param {string} id @param {string} code @param {import("../state/measure.js").Stop[]} stops */
export function useAgain(id, code, stops) {
  const tepal = useTepal();
  const record = useRecord("assessment", tepal.book.sharedId(id, `${code}.again`)) ?? null;
  const fields = useSignal(/** @type {Map<string, any>} */ (new Map()));
  const isMade = record !== null;
  useEffect(() => {
    let isHere = true;
    const read = async () => {
      const found = new Map();
      for (let start = 0; isMade && start < stops.length; start += CHUNK) {
        const part = stops.slice(start, start + CHUNK);
        const got = await tepal.book.getMany(
          "observation",
          part.map((stop) => tepal.book.sharedId(id, `${code}.again`, stop.plot, stop.plant)),
        );
        part.forEach((stop, i) => {
          if (got[i]?.shown)
            found.set(`${stop.plot}.${stop.plant}`, /** @type {any} */ (got[i]).shown.fields);
        });
      }
      if (isHere) fields.value = found;
    };
    read();
    return () => {
      isHere = false;
    };
  }, [id, code, stops, isMade, tepal.observed.value]);
  return {
    list: /** @type {string[]} */ (record?.shown?.fields.again_plots ?? []),
    record,
    fields: fields.value,
  };
}

/**
 * @param {{ id: string, code: string, odd: {name: string, codes: string[]}[], again: ReturnType<typeof useAgain>, codes: string[],
 *   isStillOpen: boolean, mayType: boolean }} props
 */
export function OddPlots({ id, code, odd, again, codes, isStillOpen, mayType }) {
  const tepal = useTepal();
  const failure = useSignal("");
  if (odd.length === 0 && again.list.length === 0) return null;
  const all = [...new Set(odd.flatMap((one) => one.codes))];
  const isNew = all.some((one) => !again.list.includes(one));

  async function send() {
    const list = againList(all, codes);
    const was = again.record?.shown?.fields ?? {};
    const wanted = again.record?.shown
      ? { again_plots: list }
      : { trial: id, code: `${code}.again`, again_plots: list };
    try {
      await tepal.save.all([
        tepal.save.act(
          "assessment",
          tepal.book.sharedId(id, `${code}.again`),
          again.record?.shown ? "change" : "create",
          tepal.book.changesBetween(was, wanted),
        ),
      ]);
      failure.value = "";
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
  }

  return html`<${Message} tone="caution" title=${t(odd.length > 0 ? "grid.odd" : "grid.again_sent", { n: again.list.length })}>
    ${odd.length > 0 && html`<ul class="cell-list">${odd.map((one) => html`<li key=${one.name}><b>${one.name}</b>: ${one.codes.join(", ")}</li>`)}</ul>`}
    ${odd.length > 0 && html`<p>${t(isStillOpen ? "grid.odd_again" : "grid.odd_check")}</p>`}
    ${odd.length > 0 && again.list.length > 0 && html`<p>${t("grid.again_sent", { n: again.list.length })}</p>`}
    ${isStillOpen && mayType && odd.length > 0 && isNew && html`<div><${Button} icon="phone" onPress=${send}>${t("grid.again_send")}<//></div>`}
    ${isStillOpen && again.list.length > 0 && html`<div><${Button} icon="ruler" href=${`/trials/${id}/measure/${encodeURIComponent(code)}?again=${again.list.join(",")}`}>${t("grid.again")}<//></div>`}
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    ${odd.length > 0 && html`<p class="muted small">${t("grid.odd_source")}</p>`}<//>`;
}

/**
 * First and second value beside each other; the second goes into the grid only when somebody takes it.
 * @param {{ again: ReturnType<typeof useAgain>, stops: import("../state/measure.js").Stop[], columns: import("../state/measure.js").Definition[],
 *   numberFormat: import("../core/rounding.js").NumberFormat, storedAt: (r: number, c: number) => any, mayType: boolean,
 *   onTake: (r: number, c: number, text: string) => void }} props
 */
export function MeasuredAgain({ again, stops, columns, numberFormat, storedAt, mayType, onTake }) {
  const whys = missingWords();
  const pairs = stops.flatMap((stop, r) => {
    const fields = again.fields.get(`${stop.plot}.${stop.plant}`);
    return columns.flatMap((one, c) => {
      const second = fields?.[fieldOf(one.code)];
      return second === undefined || second === null
        ? []
        : [{ stop, r, c, one, first: storedAt(r, c), second }];
    });
  });
  if (pairs.length === 0) return null;
  return html`<section class="stack"><h2>${t("grid.again_title")}</h2><p class="muted small">${t("grid.again_how")}</p>
    <div class="table-frame"><table class="table"><thead><tr><th scope="col">${t("grid.plot")}</th><th scope="col">${t("grid.plant")}</th><th scope="col">${t("grid.measurement")}</th>
      <th scope="col" class="num">${t("grid.first")}</th><th scope="col" class="num">${t("grid.second")}</th><th scope="col" class="num">${t("grid.difference")}</th><th></th></tr></thead>
    <tbody>${pairs.map(({ stop, r, c, one, first, second }) => {
      const text = cellText(second, numberFormat, whys);
      return html`<tr key=${`${r}:${c}`}><td><b>${stop.code}</b></td><td>${stop.plant || "–"}</td><td>${one.name ?? one.code}</td><td class="num">${cellText(first, numberFormat, whys) || "–"}</td><td class="num">${text}</td>
        <td class="num">${differenceText(first, second, one, numberFormat)}</td><td>${mayType && text !== cellText(first, numberFormat, whys) && html`<button type="button" class="grid-more" onClick=${() => onTake(r, c, text)}>${t("grid.take_second")}</button>`}</td></tr>`;
    })}</tbody></table></div></section>`;
}

/** @param {any} first @param {any} second @param {import("../state/measure.js").Definition} definition @param {import("../core/rounding.js").NumberFormat} numberFormat */
function differenceText(first, second, definition, { decimal }) {
  if (typeof first !== "string" || typeof second !== "string" || definition.type === "days") return "–";
  const by = Number(second) - Number(first);
  const text = decimalText(Math.abs(by), definition.decimals ?? 1).replace(".", decimal);
  return `${by > 0 ? "+" : by < 0 ? "−" : ""}${text}`;
}
