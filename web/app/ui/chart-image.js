// A chart as a PNG, painted from the same marks that the page shows, on white with the inks of paper: for a slide or a
// letter. Works offline; the words of the chart stand above it, its note below.

/** Pixels per point: a chart of a phone's width comes out 1,000 pixels wide. */
const SCALE = 4;
const PAD = 12;
const TITLE = 11;
const NOTE = 8.5;
const LEADING = 1.35;

/**
 * @param {{ title: string, note: string, inks: Record<string, string>, drawing: { width: number, height: number, marks: import("./chart.js").Mark[] } }} chart
 * @param {string} family  Fonts, as CSS names them.
 * @returns {Promise<Blob>}
 */
export async function chartPng(chart, family) {
  await document.fonts.ready;
  const canvas = document.createElement("canvas");
  const context = canvas.getContext("2d");
  if (!context) throw new Error("canvas");
  const { width, height, marks } = chart.drawing;
  const font = (/** @type {number} */ size, isStrong = false) =>
    `${isStrong ? 700 : 400} ${size}px ${family}`;
  context.font = font(TITLE, true);
  const title = wrapped(chart.title, (text) => context.measureText(text).width, width);
  context.font = font(NOTE);
  const note = chart.note ? wrapped(chart.note, (text) => context.measureText(text).width, width) : [];
  const top = PAD + title.length * TITLE * LEADING + 4;
  const bottom = note.length > 0 ? note.length * NOTE * LEADING + 6 : 0;
  canvas.width = Math.ceil((width + 2 * PAD) * SCALE);
  canvas.height = Math.ceil((top + height + bottom + PAD) * SCALE);
  context.scale(SCALE, SCALE);
  context.fillStyle = chart.inks.paper;
  context.fillRect(0, 0, width + 2 * PAD, top + height + bottom + PAD);
  context.fillStyle = chart.inks.ink;
  context.font = font(TITLE, true);
  title.forEach((line, i) => {
    context.fillText(line, PAD, PAD + (i + 0.8) * TITLE * LEADING);
  });
  context.font = font(NOTE);
  note.forEach((line, i) => {
    context.fillText(line, PAD, top + height + 6 + (i + 0.8) * NOTE * LEADING);
  });
  context.translate(PAD, top);
  for (const mark of marks) paint(context, mark, chart.inks, font);
  return new Promise((resolve, reject) => {
    canvas.toBlob((blob) => (blob ? resolve(blob) : reject(new Error("canvas"))), "image/png");
  });
}

/**
 * @param {CanvasRenderingContext2D} context @param {import("./chart.js").Mark} mark @param {Record<string, string>} inks
 * @param {(size: number, isStrong?: boolean) => string} font
 */
function paint(context, mark, inks, font) {
  const ink = inks[mark.ink];
  const [x, y] = mark.points[0];
  context.save();
  if (mark.kind === "text") {
    context.font = font(mark.size, mark.face !== "text");
    context.fillStyle = ink;
    context.textAlign = mark.anchor === "middle" ? "center" : mark.anchor;
    context.translate(x, y);
    if (mark.turned) context.rotate(-Math.PI / 2);
    context.fillText(mark.text, 0, 0);
    context.restore();
    return;
  }
  context.beginPath();
  if (mark.kind === "circle") context.arc(x, y, mark.radius, 0, 2 * Math.PI);
  else {
    context.moveTo(x, y);
    for (const point of mark.points.slice(1)) context.lineTo(...point);
    if (mark.kind === "shape") context.closePath();
  }
  if (mark.kind !== "line" && mark.fill !== "none") {
    context.fillStyle = mark.fill === "ink" ? ink : inks.paper;
    context.fill();
  }
  if (mark.width > 0) {
    context.strokeStyle = ink;
    context.lineWidth = mark.width;
    context.setLineDash(mark.dash);
    context.stroke();
  }
  context.restore();
}

/**
 * A text in lines no wider than there is room; a word that is wider stands alone.
 * @param {string} text @param {(text: string) => number} widthOf @param {number} room @returns {string[]}
 */
export function wrapped(text, widthOf, room) {
  /** @type {string[]} */
  const lines = [];
  for (const word of text.split(/ +/)) {
    const longer = lines.length > 0 ? `${lines[lines.length - 1]} ${word}` : word;
    if (lines.length > 0 && widthOf(longer) <= room) lines[lines.length - 1] = longer;
    else lines.push(word);
  }
  return lines;
}

/**
 * A table of final text as CSV (RFC 4180); what a spreadsheet would run as a formula is quoted.
 * @param {{ heads: string[], rows: string[][] }} table
 */
export function tableCsv({ heads, rows }) {
  const field = (/** @type {string} */ text) => {
    const safe = /^[=@\t]|^[+-](?![\d.])/.test(text) ? `'${text}` : text;
    return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
  };
  return `\ufeff${[heads, ...rows].map((row) => row.map(field).join(",")).join("\r\n")}\r\n`;
}

/** Hands a file to the browser to keep. @param {Blob} blob @param {string} name */
export function keepFile(blob, name) {
  const url = URL.createObjectURL(blob);
  const link = document.createElement("a");
  link.href = url;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}
