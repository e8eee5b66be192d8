// What pages say about an application in a line: its day and times, its places, its state.

import { html } from "../ui/html.js";
import { Named } from "../ui/stake.js";
import { StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";
import { cropName } from "./record-words.js";

/**
 * An application as a page holds it: from the office's answer, from this phone, or both.
 * @typedef {object} Applied
 * @property {string} id
 * @property {Record<string, any>} fields
 * @property {"open" | "signed" | "void"} state
 * @property {boolean} isAmended
 * @property {boolean} isUnsent      Something about it is only on this phone.
 */

/** The local day it started, `YYYY-MM-DD` or "". @param {Record<string, any>} fields */
export const dayOf = (fields) => fields.started_at?.local.slice(0, 10) ?? "";

/** "07:32–08:05" @param {Record<string, any>} fields */
export function timesOf({ started_at, ended_at }) {
  const from = started_at?.local.slice(11, 16);
  const to = ended_at?.local.slice(11, 16);
  if (!from) return t("office.no_start");
  return `${from}–${to ?? "…"}`;
}

/**
 * Its places, each once: the lot's stake with its crop, and house and bench.
 * @param {any[]} lines
 * @param {(kind: string, id: string) => any} fieldsOf  A record's fields, or undefined where this phone has none.
 * @returns {{ code: string, crop: string, places: string }[]}
 */
export function placesOf(lines, fieldsOf) {
  /** @type {Map<string, any>} */
  const found = new Map();
  for (const line of lines) {
    const lot = line.lot ? fieldsOf("lot", line.lot) : undefined;
    const bench = line.bench ? fieldsOf("bench", line.bench) : undefined;
    const houseId = line.house ?? bench?.house;
    const house = houseId ? fieldsOf("house", houseId) : undefined;
    const crop = line.crop || (lot ? cropName(lot) : "");
    const key = line.lot ?? crop;
    /** @type {{ code: string, crop: string, houses: Map<string, string[]>, other: string[] }} */
    const one = found.get(key) ?? { code: lot?.code ?? "", crop, houses: new Map(), other: [] };
    if (house)
      one.houses.set(house.name, [...new Set([...(one.houses.get(house.name) ?? []), bench?.name ?? ""])]);
    else if (bench?.name || line.place) one.other.push(bench?.name ?? line.place);
    found.set(key, one);
  }
  return [...found.values()].map(({ code, crop, houses, other }) => ({
    code,
    crop,
    places: [...[...houses].map(placeText), ...new Set(other)].join("; "),
  }));
}

/** "House 1, Bench 1, Bench 2" @param {[string, string[]]} place */
const placeText = ([house, benches]) => [house, ...benches].filter(Boolean).join(", ");

/** @param {{ place: { code: string, crop: string, places: string } }} props */
export function Place({ place }) {
  const name = place.crop || place.places;
  return html`<span class="place">
    ${place.code ? html`<${Named} code=${place.code} name=${name} />` : html`<b>${name}</b>`}
    ${place.crop && place.places && html`<span class="muted small">${place.places}</span>`}
  </span>`;
}

/**
 * The state of the record: colour, icon and word.
 * @param {{ applied: Applied, hasConflict: boolean }} props
 */
export function RecordState({ applied, hasConflict }) {
  return html`<span class="states">
    ${hasConflict && html`<${StateChip} tone="caution" icon="differ">${t("office.state.two_values")}<//>`}
    <${OwnState} applied=${applied} />
    ${applied.isUnsent && html`<${StateChip} tone="waiting" icon="phone">${t("office.state.only_here")}<//>`}
  </span>`;
}

/** @param {{ applied: Applied }} props */
function OwnState({ applied }) {
  if (applied.state === "void")
    return html`<${StateChip} tone="plain" icon="close">${t("office.state.void")}<//>`;
  if (applied.state === "open") {
    return html`<${StateChip} tone="caution" icon=${applied.fields.ended_at ? "pencil" : "clock"}>${t(applied.fields.ended_at ? "office.state.unsigned" : "office.state.running")}<//>`;
  }
  if (applied.isAmended)
    return html`<${StateChip} tone="waiting" icon="pencil">${t("office.state.amended")}<//>`;
  return html`<${StateChip} tone="passed">${t("office.state.signed")}<//>`;
}

/**
 * A row of this phone as an application.
 * @param {import("../sync/port.js").RecordRow} row
 * @param {boolean} [isAmended]  What the office said of it.
 * @returns {Applied}
 */
export function appliedOf(row, isAmended = false) {
  const isSignedThere = row.confirmed?.state === "signed";
  return {
    id: row.id,
    fields: row.shown.fields,
    state: /** @type {Applied["state"]} */ (row.shown.state),
    isAmended: isAmended || (isSignedThere && row.pending.length > 0),
    isUnsent: row.pending.length > 0,
  };
}

/**
 * The ids of records that an open conflict speaks of.
 * @param {import("../sync/port.js").RecordRow[] | null} conflicts
 */
export const inConflict = (conflicts) =>
  new Set((conflicts ?? []).filter(isUndecided).map((row) => row.shown.fields.of_id));

/** @param {import("../sync/port.js").RecordRow} row */
export const isUndecided = (row) => (row.shown.fields.decision ?? null) === null;
