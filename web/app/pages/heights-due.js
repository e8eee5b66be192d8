// Which lots want a height this week, and which lie outside their lines: for those who pass them with the phone. Only lots
// that grow between lines are asked for.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { heightVerdict } from "../core/heights.js";
import { numberFormatOf } from "../core/number_format.js";
import { useRecords, useTepal } from "../state/context.js";
import { cm, daysBetween, heightPoints } from "../state/lot-watch.js";
import { dayAfter } from "../state/measure.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { Named } from "../ui/stake.js";
import { StateChip } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { useWrittenNumbers } from "./establishment.js";
import { linesOn } from "./lot-lines.js";
import { useSettings } from "./settings-context.js";

const EVERY_DAYS = 7; // heights are taken weekly
const LOOK_BACK_DAYS = 14; // further back a height says nothing about now
const WAIT_MS = 600; // the page is drawn first

/** @typedef {{on: string, height_cm: number} | null} Last */

export function HeightsDue() {
  const tepal = useTepal();
  const { language } = useSettings();
  const numberFormat = numberFormatOf(useWrittenNumbers());
  const today = tepal.wall().local.slice(0, 10);
  const last = useSignal(/** @type {Record<string, Last>} */ ({}));
  const lots = (useRecords("lot") ?? []).filter(
    ({ shown }) =>
      shown.state !== "void" &&
      shown.fields.growth_start_on <= today &&
      today <= shown.fields.finish_on &&
      linesOn(shown.fields, today) !== null,
  );
  const ids = lots.map(({ id }) => id).join();

  useEffect(() => {
    let isHere = true;
    const timer = setTimeout(async () => {
      /** @type {Record<string, Last>} */
      const found = {};
      const days = Array.from({ length: LOOK_BACK_DAYS + 1 }, (_, i) => dayAfter(today, i - LOOK_BACK_DAYS));
      for (const { id } of lots) {
        const rows = await tepal.book.getMany(
          "observation",
          days.map((day) => tepal.book.sharedId("lot", id, day)),
        );
        if (!isHere) return;
        const seen = rows.flatMap((row, i) =>
          row?.shown && row.shown.state !== "void" ? [{ day: days[i], fields: row.shown.fields }] : [],
        );
        found[id] = heightPoints(seen).at(-1) ?? null;
        await new Promise((resolve) => setTimeout(resolve, 0));
      }
      if (isHere) last.value = found;
    }, WAIT_MS);
    return () => {
      isHere = false;
      clearTimeout(timer);
    };
  }, [ids, today, tepal.observed.value]);

  const byCode = lots.toSorted((a, b) =>
    String(a.shown.fields.code).localeCompare(String(b.shown.fields.code)),
  );
  const rows = byCode.flatMap((row) => {
    if (!(row.id in last.value)) return [];
    const words = wordsOf(row.shown.fields, last.value[row.id]);
    return words.length > 0 ? [{ row, words }] : [];
  });
  if (rows.length === 0) return null;
  return html`<section class="stack"><h2>${t("heights.title")}</h2>
    <ul class="list">${rows.map(
      ({
        row,
        words,
      }) => html`<li key=${row.id}><a class="list-row" href=${`/lots/${row.id}/watch`}><span class="choice-text">
      <${Named} code=${String(row.shown.fields.code ?? "–")} name=${[row.shown.fields.crop, row.shown.fields.cultivar].filter(Boolean).join(" ")} />
      ${words.map(({ tone, text }) => html`<span key=${text}><${StateChip} tone=${tone} icon="ruler">${text}<//></span>`)}</span><${Icon} name="forward" /></a></li>`,
    )}</ul></section>`;

  /** @param {any} lot @param {Last} one @returns {{tone: "caution" | "waiting", text: string}[]} */
  function wordsOf(lot, one) {
    if (one === null) return [{ tone: "waiting", text: t("heights.none", { n: LOOK_BACK_DAYS }) }];
    const day = shortDay(one.on, language.value);
    /** @type {{tone: "caution" | "waiting", text: string}[]} */
    const words = [];
    const lines = linesOn(lot, one.on);
    const verdict = lines === null ? "within" : heightVerdict(one.height_cm, lines).verdict;
    if (lines !== null && verdict !== "within") {
      const line = verdict === "above" ? lines.upper_cm : lines.lower_cm;
      const beyond = cm(Math.abs(one.height_cm - line), numberFormat);
      words.push({ tone: "caution", text: t(`heights.${verdict}`, { day, beyond }) });
    }
    if (daysBetween(one.on, today) >= EVERY_DAYS)
      words.push({ tone: "waiting", text: t("heights.due", { day }) });
    return words;
  }
}
