// What the heights of a lot say: one plain sentence, how it grew since the look before, and how it grew before and after
// the last application. Each says from which days it speaks.
import { heightVerdict } from "../core/heights.js";
import { cm, daysBetween, growthAround, latestGrowth } from "../state/lot-watch.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { linesOn } from "./lot-lines.js";
import { useSettings } from "./settings-context.js";

const TONES = /** @type {const} */ ({ below: "caution", within: "passed", above: "caution" });
const FRESH_DAYS = 7; // heights are taken weekly; an older one says little about today

/** @param {{ lot: any, points: {on: string, height_cm: number}[], applied: {on: string, name: string, before: string | null} | null, today: string, numberFormat: any }} props */
export function LotGrowth({ lot, points, applied, today, numberFormat }) {
  const { language } = useSettings();
  const last = points.at(-1);
  if (!last) return html`<${Message} tone="plain" title=${t("watch.no_height")} />`;
  const day = (/** @type {string} */ on) => shortDay(on, language.value);
  const lines = linesOn(lot, last.on);
  const words = { day: day(last.on), height: cm(last.height_cm, numberFormat) };
  const since = daysBetween(last.on, today);
  const old = since > FRESH_DAYS && html`<p class="strong">${t("watch.old", { n: since })}</p>`;
  return html`${
    lines === null
      ? html`<${Message} tone="plain" title=${t("watch.no_lines", words)}>${old}<p>${t("watch.no_lines_why")}</p><//>`
      : verdictOf(lines)
  }${applied && html`<p class="said">${aroundWords(applied)}</p>`}`;

  /** @param {any} on */
  function verdictOf(on) {
    const growth = latestGrowth(points, (one) => linesOn(lot, one));
    const asked = growth?.wanted_cm_per_d ?? null;
    const found = heightVerdict(
      last?.height_cm ?? 0,
      asked === null ? on : { ...on, cm_per_d: asked },
      asked === null ? null : (growth?.cm_per_d ?? null),
    );
    const line = found.verdict === "above" ? on.upper_cm : on.lower_cm;
    const beyond = cm(Math.abs((last?.height_cm ?? 0) - line), numberFormat);
    const title = t(`watch.verdict.${found.verdict}`, {
      ...words,
      beyond,
      wanted: cm(on.wanted_cm, numberFormat),
    });
    return html`<${Message} tone=${TONES[/** @type {keyof typeof TONES} */ (found.verdict)]} title=${title}>${old}
      ${growth && found.trend !== "unknown" && html`<p>${t(`watch.trend.${found.trend}`, { from: day(growth.from), to: day(growth.to) })}</p>`}<p class="muted small">${t("watch.source")}</p><//>`;
  }

  /** @param {{on: string, name: string, before: string | null}} act */
  function aroundWords(act) {
    const { before, after } = growthAround(points, act);
    const about = { mix: act.name, day: day(act.on) };
    const perWeek = (/** @type {number} */ rate) => cm(rate * 7, numberFormat);
    if (after.cm_per_d === null) return t("watch.too_early", { ...about, n: after.n });
    if (before.cm_per_d === null) {
      return t("watch.applied_after", { ...about, after: perWeek(after.cm_per_d), n_after: after.n });
    }
    return t("watch.applied", {
      ...about,
      before: perWeek(before.cm_per_d),
      n_before: before.n,
      after: perWeek(after.cm_per_d),
      n_after: after.n,
    });
  }
}
