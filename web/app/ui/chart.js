// A chart as the server laid it out: marks with roles for inks, drawn here with this screen's own inks. The words of its
// alternative text come with it; a table with the same numbers stands beside every chart.
import { html } from "./html.js";

/**
 * @typedef {object} Mark
 * @property {"line" | "shape" | "circle" | "text"} kind
 * @property {[number, number][]} points
 * @property {string} ink
 * @property {number} width
 * @property {number[]} dash
 * @property {"none" | "ink" | "paper"} fill
 * @property {number} radius
 * @property {string} text
 * @property {number} size
 * @property {"start" | "middle" | "end"} anchor
 * @property {string} face
 * @property {boolean} turned
 */

/** A bench of many columns keeps its size and is moved sideways. */
const WIDE = 320;

/** @param {{ chart: { title: string, alt: string, note: string, drawing: { width: number, height: number, marks: Mark[] } } }} props */
export function Chart({ chart }) {
  const { width, height, marks } = chart.drawing;
  return html`<figure class="chart"><figcaption>${chart.title}</figcaption>
    <svg viewBox=${`0 0 ${width} ${height}`} width=${width > WIDE ? width * 1.4 : undefined} class=${width > WIDE ? "is-wide" : undefined}
      role="img" aria-label=${chart.alt}>${marks.map(drawn)}</svg>
    ${chart.note && html`<p class="muted small">${chart.note}</p>`}</figure>`;
}

/** @param {Mark} mark */
function drawn(mark) {
  const [x, y] = mark.points[0];
  if (mark.kind === "text") {
    return html`<text x=${x} y=${y} font-size=${mark.size} text-anchor=${mark.anchor}
      class=${`t-${mark.ink}${mark.face === "text" ? "" : " is-strong"}`} transform=${mark.turned ? `rotate(-90 ${x} ${y})` : undefined}>${mark.text}</text>`;
  }
  const look = {
    class: `c-${mark.ink} f-${mark.fill}`,
    "stroke-width": mark.width,
    "stroke-dasharray": mark.dash.length > 0 ? mark.dash.join(" ") : undefined,
  };
  if (mark.kind === "circle") return html`<circle cx=${x} cy=${y} r=${mark.radius} ...${look} />`;
  const points = mark.points.map((point) => point.join(",")).join(" ");
  return mark.kind === "shape"
    ? html`<polygon points=${points} ...${look} />`
    : html`<polyline points=${points} ...${look} />`;
}

/**
 * The small picture of a result: a dot with its interval per treatment, filled where it excludes no difference.
 * @param {{ rows: { value: number | null, lower: number | null, upper: number | null, filled: boolean }[] }} props
 */
export function SmallPicture({ rows }) {
  const known = rows.flatMap((row) => [row.value, row.lower, row.upper]).filter((x) => x !== null);
  if (known.length === 0) return null;
  const low = Math.min(...known);
  const high = Math.max(...known);
  /** @param {number} x */
  const at = (x) => 6 + ((x - low) / (high - low || 1)) * 108;
  return html`<svg class="small-picture" viewBox=${`0 0 120 ${rows.length * 9 + 4}`} aria-hidden="true">
    ${rows.map((row, i) => {
      const y = i * 9 + 6.5;
      if (row.value === null) return null;
      return html`<line class="c-ink" stroke-width="1.4" x1=${at(row.lower ?? low)} x2=${at(row.upper ?? high)} y1=${y} y2=${y} />
        <circle class=${`c-ink ${row.filled ? "f-ink" : "f-paper"}`} stroke-width="1.3" cx=${at(row.value)} cy=${y} r="2.7" />`;
    })}</svg>`;
}
