// Our own icons, drawn on a 24 x 24 grid with one line weight, as inline SVG: they take the colour of the text beside
// them, and the sun theme makes their lines heavier. An icon is decoration unless it is given a label.
import { html } from "./html.js";

/** name -> path data; each is stroked, never filled. */
const PATHS = {
  check: "M5 12.5l4.5 4.5L19 7.5",
  close: "M6 6l12 12M18 6L6 18",
  plus: "M12 5v14M5 12h14",
  back: "M15 5l-7 7 7 7",
  forward: "M9 5l7 7-7 7",
  down: "M5 9l7 7 7-7",
  sync: "M19 8.5A8 8 0 0 0 5 9M5 4.5V9h4.5M5 15.5A8 8 0 0 0 19 15M19 19.5V15h-4.5",
  offline:
    "M4 4l16 16M8.5 13.5a5 5 0 0 1 5-1.2M5 10a9.5 9.5 0 0 1 4-2.4M13 7.1a9.5 9.5 0 0 1 6 2.9M12 18h.01",
  caution: "M12 4L2.8 19.5h18.4zM12 10v4.5M12 17.2v.01",
  stop: "M8.2 3h7.6L21 8.2v7.6L15.8 21H8.2L3 15.8V8.2zM7.5 12h9",
  note: "M12 3.5a8.5 8.5 0 1 1 0 17 8.5 8.5 0 0 1 0-17zM12 11v5M12 7.8v.01",
  help: "M9 9.2a3 3 0 1 1 4.2 2.8c-.8.4-1.2 1-1.2 2M12 17.2v.01M12 3.5a8.5 8.5 0 1 1 0 17 8.5 8.5 0 0 1 0-17z",
  emergency: "M9.5 4h5v5.5H20v5h-5.5V20h-5v-5.5H4v-5h5.5z",
  clock: "M12 3.5a8.5 8.5 0 1 1 0 17 8.5 8.5 0 0 1 0-17zM12 7.5V12l3 2.5",
  calendar: "M4.5 6h15v14h-15zM4.5 10h15M8.5 3.5v4M15.5 3.5v4",
  house: "M4 20V10l8-6 8 6v10zM9.5 20v-6h5v6",
  lot: "M12 21v-8M12 13c0-4 2.5-6.5 7-6.5 0 4.5-2.5 7-7 6.5zM12 15.5c0-3.5-2-5.5-6-5.5 0 4 2 6 6 5.5z",
  trial: "M5 4h14v9l-7 7-7-7z",
  drop: "M12 3.5c3.5 4.5 6 7.5 6 11a6 6 0 0 1-12 0c0-3.5 2.5-6.5 6-11z",
  sprayer: "M7 9h6v11.5H7zM8.5 9V5.5h3V9M11.5 6.5H16M18.5 4.5v.01M20.5 6.5v.01M18.5 8.5v.01",
  product: "M8 3.5h8v3.5l1.5 2V20.5h-11V9L8 7zM6.5 12.5h11M6.5 17h11",
  mix: "M9.5 3.5h5M10.5 3.5V9l-5 9.5c-.6 1 .1 2 1.2 2h10.6c1.1 0 1.8-1 1.2-2L13.5 9V3.5M7.5 15h9",
  glove:
    "M8 20.5v-4L5.5 12c-.6-1.2 1-2.2 1.9-1.1L8.5 12V5.5a1.3 1.3 0 0 1 2.6 0V4.3a1.3 1.3 0 0 1 2.6 0v1.2a1.3 1.3 0 0 1 2.6 0v2a1.2 1.2 0 0 1 2.4 0v6l-1.7 3.5v3.5z",
  person: "M12 4a4 4 0 1 1 0 8 4 4 0 0 1 0-8zM4.5 20.5c.6-4 3.5-6 7.5-6s6.9 2 7.5 6",
  phone: "M7 3h10v18H7zM10.5 18h3",
  camera: "M4 7.5h4l1.5-2.5h5L16 7.5h4v12H4zM12 10a3.3 3.3 0 1 1 0 6.6 3.3 3.3 0 0 1 0-6.6z",
  search: "M10.5 4a6.5 6.5 0 1 1 0 13 6.5 6.5 0 0 1 0-13zM15.5 15.5L20.5 20.5",
  print: "M7 9V3.5h10V9M7 17H4V9h16v8h-3M7 14h10v6.5H7z",
  book: "M5 4.5h9a3 3 0 0 1 3 3v13H8a3 3 0 0 1-3-3zM5 17.5a3 3 0 0 1 3-3h9M19.5 7v13.5",
  list: "M9 6h11M9 12h11M9 18h11M4.5 6v.01M4.5 12v.01M4.5 18v.01",
  pencil: "M4 20l1-4.5L16.5 4l3.5 3.5L8.5 19zM14 6.5l3.5 3.5",
  erase: "M9 6h11v12H9L3.5 12zM12 9.5l5 5M17 9.5l-5 5",
  undo: "M8 5L4 9l4 4M4 9h10a5.5 5.5 0 0 1 0 11h-4",
  sun: "M12 8a4 4 0 1 1 0 8 4 4 0 0 1 0-8zM12 2.5v2M12 19.5v2M2.5 12h2M19.5 12h2M5.3 5.3l1.4 1.4M17.3 17.3l1.4 1.4M18.7 5.3l-1.4 1.4M6.7 17.3l-1.4 1.4",
  moon: "M19.5 14.5A8 8 0 0 1 9.5 4.5a8 8 0 1 0 10 10z",
  lock: "M6 10.5h12v10H6zM8.5 10.5V7.5a3.5 3.5 0 0 1 7 0v3M12 14.5v2",
  share: "M12 14.5V3.5M8 7l4-4 4 4M7 10.5H5v10h14v-10h-2",
  more: "M5 12v.01M12 12v.01M19 12v.01",
  differ: "M4 8h12l-3-3.5M20 16H8l3 3.5",
  chart: "M4 4v16h16M8 15.5l3.5-4.5 3 2.5L19.5 7",
  ruler: "M3.5 8.5h17v7h-17zM7.5 8.5V12M11.5 8.5v2.5M15.5 8.5V12",
  air: "M3.5 9.5h11a2.5 2.5 0 1 0-2.4-3.2M3.5 13.5h15a2.5 2.5 0 1 1-2.4 3.2M3.5 17.5h8",
  sign: "M5 4.5h14v9H5zM12 13.5V21M8.5 9h7",
};

/** @typedef {keyof typeof PATHS} IconName */

/**
 * One icon.
 * @param {{ name: IconName, label?: string }} props  `label` is read aloud; without it the icon is hidden from readers.
 */
export function Icon({ name, label }) {
  return html`<svg class="ico" viewBox="0 0 24 24" role=${label ? "img" : undefined} aria-label=${label} aria-hidden=${label ? undefined : "true"}>
    <path d=${PATHS[name]} />
  </svg>`;
}

/** The names of all icons, for the gallery. */
export const ICON_NAMES = /** @type {IconName[]} */ (Object.keys(PATHS));

/** Tepal's mark: two tepals, one leaf green and one violet, that overlap. Decoration beside the name. */
export function Mark() {
  return html`<svg viewBox="0 0 48 48" width="32" height="32" aria-hidden="true">
    <path fill="#2f7a47" d="M24 45C9 38 4 22 15 3 29 11 34 28 24 45z" />
    <path fill="#7440b0" d="M24 45C39 38 44 22 33 3 19 11 14 28 24 45z" />
    <path fill="#371760" d="M24 10.92C30.59 19.85 31.4 32.43 24 45 16.6 32.43 17.41 19.85 24 10.92z" />
  </svg>`;
}
