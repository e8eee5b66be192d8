// A house drawn to scale, with its bays, its benches and the lots on them. Each bench is a link. Works without signal: it is
// drawn from what this phone holds.
import { useRecords } from "../state/context.js";
import { metres, planOf } from "../state/house-plan.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { t } from "../ui/words.js";
import { useWide } from "./online.js";
import { recordName, useValueWords } from "./record-words.js";
import { isRetired } from "./registers.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {{ x: number, y: number, width: number, height: number }} Box */

const ROOM = { phone: { width: 350, height: 620 }, office: { width: 860, height: 460 } }; // px that the drawing may take
const LEAST_PX = { width: 44, height: 26 }; // a bench smaller than this carries no words
const PX_PER_LETTER = 7.4; // of the 12 px text face, a little more than the mean

const inOrder = new Intl.Collator(undefined, { numeric: true });

/** The lots that stand on benches now: bench -> lots. @param {RecordRow[]} lots */
export function lotsByBench(lots) {
  /** @type {Map<string, RecordRow[]>} */
  const found = new Map();
  for (const lot of lots) {
    if (lot.shown.state === "void" || isRetired(lot.shown.fields)) continue;
    for (const bench of lot.shown.fields.benches ?? []) found.set(bench, [...(found.get(bench) ?? []), lot]);
  }
  return found;
}

/** @param {{ house: RecordRow }} props */
export function HousePlan({ house }) {
  const isWide = useWide();
  const words = useValueWords();
  const mine = (/** @type {RecordRow[] | null} */ rows) =>
    (rows ?? [])
      .filter(
        ({ shown }) => shown.fields.house === house.id && shown.state !== "void" && !isRetired(shown.fields),
      )
      .sort((a, b) => inOrder.compare(recordName(a.kind, a.shown.fields), recordName(b.kind, b.shown.fields)))
      .map(({ id, shown }) => ({ id, fields: shown.fields }));
  const bays = mine(useRecords("bay"));
  const benches = mine(useRecords("bench"));
  const lots = lotsByBench(useRecords("lot") ?? []);
  const { fields } = house.shown;
  if (benches.length === 0 && (metres(fields.length) === null || metres(fields.width) === null)) {
    return html`<p class="muted">${t("house_plan.nothing")}</p>`;
  }
  const plan = planOf(fields, bays, benches);
  // the long side lies across the office's screen and down the phone's
  const turn = isWide ? plan.length >= plan.width : plan.width > plan.length;
  const room = isWide ? ROOM.office : ROOM.phone;
  const [across, down] = turn ? [plan.length, plan.width] : [plan.width, plan.length];
  const scale = Math.min(room.width / across, room.height / down);
  /** @param {{x: number, y: number, width: number, length: number}} one */
  const boxOf = (one) =>
    turn
      ? { x: one.y * scale, y: one.x * scale, width: one.length * scale, height: one.width * scale }
      : { x: one.x * scale, y: one.y * scale, width: one.width * scale, height: one.length * scale };
  const [w, h] = [across * scale, down * scale];
  const nLoose = plan.benches.filter((one) => !one.isPlaced).length;
  const nUnsized = plan.benches.filter((one) => !one.isSized).length;
  const size = [words.text("house", "length", fields.length), words.text("house", "width", fields.width)];
  return html`<section class="stack plan">
    <svg class="plan-svg" viewBox=${`-2 -2 ${w + 4} ${h + 4}`} style=${`max-width:${Math.ceil(w + 4)}px`} role="group" aria-label=${t("house_plan.of", { house: recordName("house", fields) })}>
      <rect class=${`plan-house${plan.isOutlineAssumed ? " is-assumed" : ""}`} x="0" y="0" width=${w} height=${h} />
      <${Door} turn=${turn} width=${w} height=${h} />
      ${plan.bays.map((bay) => {
        const box = boxOf(bay);
        const name = nameOf(bays, bay.id, "bay");
        const at = freeCorner(box, name, plan.benches.map(boxOf));
        return html`<g key=${bay.id}><rect class="plan-bay" ...${box} />${at && html`<text class="plan-bay-name" ...${at}>${name}</text>`}</g>`;
      })}
      ${plan.benches.map(
        (bench) => html`<${Bench} key=${bench.id} box=${boxOf(bench)} bench=${bench} turn=${turn}
          fields=${benches.find((one) => one.id === bench.id)?.fields ?? {}} lots=${lots.get(bench.id) ?? []} />`,
      )}
    </svg>
    <ul class="plan-notes muted small">
      <li>${size.every(Boolean) ? t("house_plan.size", { length: size[0] ?? "", width: size[1] ?? "" }) : t("house_plan.no_size")}${" "}${t("house_plan.door")}</li>
      ${nLoose > 0 && html`<li><${Icon} name="note" />${t("house_plan.loose", { n: nLoose })}</li>`}
      ${nUnsized > 0 && html`<li><${Icon} name="note" />${t("house_plan.unsized", { n: nUnsized })}</li>`}
      ${size.every(Boolean) && plan.isOutlineAssumed && html`<li class="missing"><${Icon} name="caution" />${t("house_plan.beyond")}</li>`}
      ${[...lots.values()].some((some) => some.length > 1) && html`<li>${t("house_plan.shares")}</li>`}
    </ul></section>`;
}

/** @param {{id: string, fields: Record<string, any>}[]} rows @param {string} id @param {string} kind */
const nameOf = (rows, id, kind) => recordName(kind, rows.find((one) => one.id === id)?.fields ?? {});

const LINE_PX = 15;

/** Where a bay's name is covered by no bench: a corner of the bay, or nowhere: the list below names it.
 * @param {Box} box @param {string} name @param {Box[]} benches */
function freeCorner(box, name, benches) {
  const width = name.length * PX_PER_LETTER + 6;
  if (width > box.width) return null;
  const across = [box.x + 6, box.x + box.width - width];
  const down = [box.y + box.height - 6, box.y + LINE_PX];
  return (
    down
      .flatMap((y) => across.map((x) => ({ x, y })))
      .find(({ x, y }) =>
        benches.every(
          (one) =>
            x + width < one.x || x > one.x + one.width || y < one.y || y - LINE_PX > one.y + one.height,
        ),
      ) ?? null
  );
}

/** The door wall, where x and y are counted from. @param {{ turn: boolean, width: number, height: number }} props */
function Door({ turn, width, height }) {
  const wide = Math.min(40, (turn ? height : width) / 3);
  const [cx, cy] = turn ? [0, height / 2] : [width / 2, 0];
  return turn
    ? html`<line class="plan-door" x1="0" x2="0" y1=${cy - wide / 2} y2=${cy + wide / 2} />`
    : html`<line class="plan-door" x1=${cx - wide / 2} x2=${cx + wide / 2} y1="0" y2="0" />`;
}

/**
 * One bench with its lots, in equal shares along it, since no record says where on it each stands.
 * @param {{ box: {x: number, y: number, width: number, height: number}, bench: import("../state/house-plan.js").PlanBench,
 *   turn: boolean, fields: Record<string, any>, lots: RecordRow[] }} props
 */
function Bench({ box, bench, fields, lots }) {
  const name = recordName("bench", fields) || t("office.not_on_file");
  const codes = lots.map((lot) => String(lot.shown.fields.code ?? ""));
  const isLying = box.width >= box.height;
  const share = (isLying ? box.width : box.height) / Math.max(1, lots.length);
  const label = [name, codes.join(", ")].filter(Boolean).join(": ");
  const room = Math.floor(box.width / PX_PER_LETTER);
  const lines = linesThatFit(
    [name, ...codes],
    [String(fields.code ?? ""), ...codes],
    room,
    Math.floor(box.height / 15),
  );
  return html`<a href=${`/benches/${bench.id}`} aria-label=${label} class="plan-link"><title>${label}</title>
    <rect class=${`plan-bench${bench.isSized ? "" : " is-assumed"}${bench.isPlaced ? "" : " is-loose"}`} rx="3" ...${box} />
    ${lots.map(
      (lot, at) =>
        html`<rect key=${lot.id} class="plan-lot" rx="2" x=${box.x + 2 + (isLying ? at * share : 0)} y=${box.y + 2 + (isLying ? 0 : at * share)}
          width=${Math.max(1, (isLying ? share : box.width) - 4)} height=${Math.max(1, (isLying ? box.height : share) - 4)} />`,
    )}
    ${
      box.width >= LEAST_PX.width || box.height >= LEAST_PX.height
        ? lines.map(
            (line, at) =>
              html`<text key=${at} class=${at === 0 ? "plan-name" : "plan-code"} x=${box.x + box.width / 2} y=${box.y + box.height / 2 + 4 + (at - (lines.length - 1) / 2) * 15}>${line} </text>`,
          )
        : null
    }</a>`;
}

/**
 * The words that fit on a bench: name and codes, else the short code, else nothing: the list below names all.
 * @param {string[]} full @param {string[]} short @param {number} letters @param {number} lines
 */
function linesThatFit(full, short, letters, lines) {
  const fits = (/** @type {string[]} */ words) =>
    words.every((word) => word.length <= letters) && words.length <= lines;
  if (fits(full)) return full;
  const few = short.filter(Boolean);
  if (fits(few)) return few;
  if (fits(full.slice(0, 1))) return full.slice(0, 1);
  return few.length > 0 && fits(few.slice(0, 1)) ? few.slice(0, 1) : [];
}
