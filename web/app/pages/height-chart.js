// Heights of a lot as points between its two lines. The page says in words what the picture shows.
import { formatNumber } from "../core/rounding.js";
import { scaleOf } from "../state/lot-watch.js";
import { dayAfter } from "../state/measure.js";
import { html } from "../ui/html.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { linesOn } from "./lot-lines.js";
import { useSettings } from "./settings-context.js";

const SIZE = { width: 320, height: 170 };
const LEFT = 34;
const STEPS = 40;

/** @param {{ lot: any, points: {on: string, height_cm: number}[], today: string, applied: string | null, numberFormat: any }} props */
export function HeightChart({ lot, points, today, applied, numberFormat }) {
  const { language } = useSettings();
  const first = [lot.growth_start_on, points[0]?.on].filter(Boolean).sort()[0] ?? today;
  const last = [lot.finish_on, points.at(-1)?.on, today].filter(Boolean).sort().at(-1) ?? today;
  const days = [first, last > first ? last : dayAfter(first, 1)];
  const span = Math.round((Date.parse(days[1]) - Date.parse(days[0])) / 86_400_000);
  const curve = Array.from({ length: STEPS + 1 }, (_, i) => dayAfter(days[0], Math.round((span * i) / STEPS)))
    .map((day) => ({ day, lines: linesOn(lot, day) }))
    .filter((one) => one.lines !== null);
  const most = Math.max(
    1,
    ...points.map((one) => one.height_cm),
    ...curve.map((one) => /** @type {any} */ (one.lines).upper_cm),
  );
  const { top, x, y } = scaleOf(days, most, SIZE);
  const path = (/** @type {string} */ name) =>
    curve
      .map(
        ({ day, lines }, i) =>
          `${i === 0 ? "M" : "L"}${x(day).toString().slice(0, 7)} ${y(/** @type {any} */ (lines)[name])
            .toString()
            .slice(0, 7)}`,
      )
      .join("");
  const ticks = [0, top / 2, top];
  const hasLines = curve.length > 1;
  /** Beside its line, where the heights are not: up on the left, down on the right. @param {string} day */
  const treatedText = (day) =>
    x(day) > SIZE.width / 2
      ? html`<text class="chart-text" x=${x(day) - 3} y=${SIZE.height - 6} text-anchor="end">${t("watch.treated")}</text>`
      : html`<text class="chart-text" x=${x(day) + 3} y="10">${t("watch.treated")}</text>`;
  return html`<figure class="height-chart"><svg viewBox=${`0 0 ${SIZE.width + LEFT + 8} ${SIZE.height + 34}`} role="img" aria-label=${t("watch.chart", { n: points.length })}>
    <g transform=${`translate(${LEFT} 10)`}>
      ${ticks.map((tick) => html`<g key=${tick}><line class="chart-grid" x1="0" x2=${SIZE.width} y1=${y(tick)} y2=${y(tick)} /><text class="chart-text" x="-6" y=${y(tick) + 4} text-anchor="end">${formatNumber(tick, tick % 1 === 0 ? 0 : 1, numberFormat)}</text></g>`)}
      ${
        hasLines &&
        html`<path class="chart-band" d=${`${path("upper_cm")}${curve
          .toReversed()
          .map(({ day, lines }) => `L${x(day)} ${y(/** @type {any} */ (lines).lower_cm)}`)
          .join("")}Z`} />`
      }
      ${hasLines && html`<path class="chart-line" d=${path("upper_cm")} /><path class="chart-line" d=${path("lower_cm")} />`}
      ${applied && applied >= days[0] && html`<line class="chart-applied" x1=${x(applied)} x2=${x(applied)} y1="0" y2=${SIZE.height} />${treatedText(applied)}`}
      ${points.length > 1 && html`<path class="chart-seen" d=${points.map((one, i) => `${i === 0 ? "M" : "L"}${x(one.on)} ${y(one.height_cm)}`).join("")} />`}
      ${points.map((one) => html`<circle key=${one.on} class="chart-dot" cx=${x(one.on)} cy=${y(one.height_cm)} r="3.5" />`)}
      <text class="chart-text" x="0" y=${SIZE.height + 18}>${shortDay(days[0], language.value)}</text>
      <text class="chart-text" x=${SIZE.width} y=${SIZE.height + 18} text-anchor="end">${shortDay(days[1], language.value)}</text>
    </g></svg><figcaption class="muted small">${t(hasLines ? "watch.legend" : "watch.legend_plain")}</figcaption></figure>`;
}
