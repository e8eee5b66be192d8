// Restrictions as rules must read them where this phone already knows better: an application or a label was changed here and
// the office, which writes the restriction's own entry, has not been heard yet. For rules only. Pure.
import { addedRestrictions, followedFields, isUncovered, shorterFields } from "../core/followed.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/**
 * @param {RecordRow} row  A restriction.
 * @param {RecordRow[] | null | undefined} applications @param {RecordRow[] | null | undefined} products
 */
function known(row, applications, products) {
  const id = row.shown.fields.application;
  const application = id ? (applications ?? []).find((one) => one.id === id) : undefined;
  if (!application || application.shown.state === "void" || row.shown.state === "void") return null;
  const used = new Set(
    (application.shown.fields.products ?? []).map((/** @type {any} */ one) => one.product),
  );
  const register = (products ?? []).filter((one) => used.has(one.id) && one.shown.state !== "void");
  return {
    application: application.shown.fields,
    products: Object.fromEntries(register.map((one) => [one.id, one.shown.fields])),
  };
}

/** A value that can't be read changes nothing. @param {() => Record<string, any>} work */
function readable(work) {
  try {
    return work();
  } catch {
    return {};
  }
}

/**
 * @param {RecordRow} row @param {RecordRow[] | null | undefined} applications
 * @param {RecordRow[] | null | undefined} products @param {number} nowMs  Server time.
 * @returns {RecordRow}  The same row where nothing became stricter.
 */
export function followedRow(row, applications, products, nowMs) {
  const now = known(row, applications, products);
  if (now === null) return row;
  const changes = readable(() => followedFields(row.shown.fields, now.application, now.products, nowMs));
  if (Object.keys(changes).length === 0) return row;
  return { ...row, shown: { ...row.shown, fields: { ...row.shown.fields, ...changes } } };
}

/**
 * @template {RecordRow[] | null | undefined} Rows
 * @param {Rows} rows @param {RecordRow[] | null | undefined} applications
 * @param {RecordRow[] | null | undefined} products @param {number} nowMs
 * @returns {Rows}
 */
export function followedRows(rows, applications, products, nowMs) {
  if (!rows) return rows;
  return /** @type {Rows} */ ([
    ...rows.map((row) => followedRow(row, applications, products, nowMs)),
    ...(applications ?? []).flatMap((one) => addedRows(one, rows, products, nowMs)),
  ]);
}

/**
 * Restrictions of houses that an amendment made here adds: the office writes them, and has not been heard since. They have
 * the address of the application's first one. @param {RecordRow} application @param {RecordRow[]} rows
 * @param {RecordRow[] | null | undefined} products @param {number} nowMs @returns {RecordRow[]}
 */
function addedRows(application, rows, products, nowMs) {
  if (application.pending.length === 0 || application.shown.state === "void") return [];
  const own = rows.filter((row) => row.shown.fields.application === application.id);
  if (own.length === 0) return [];
  const [like] = own;
  const register = Object.fromEntries((products ?? []).map((one) => [one.id, one.shown.fields]));
  /** @type {Record<string, any>[]} */
  let found = [];
  try {
    const all = own.map((row) => row.shown.fields);
    found = addedRestrictions(all, application.shown.fields, register, nowMs);
  } catch {} // a value that can't be read changes nothing
  return found.map((fields) => ({
    ...like,
    key: `${like.key}+${fields.house ?? ""}`,
    confirmed: null,
    shown: { ...like.shown, state: "open", fields },
  }));
}

/** Whether the application, as it is now, names no place of the restriction's house. @param {RecordRow} row
 * @param {RecordRow | null | undefined} application */
export const isUncoveredBy = (row, application) =>
  Boolean(application) &&
  application?.shown.state !== "void" &&
  isUncovered(row.shown.fields, application?.shown.fields ?? {});

/**
 * What record and register now state shorter than the restriction: it counts once a grower took it over.
 * @param {RecordRow} row @param {RecordRow[] | null | undefined} applications
 * @param {RecordRow[] | null | undefined} products
 */
export function shorterOf(row, applications, products) {
  const now = known(row, applications, products);
  if (now === null) return {};
  return readable(() => shorterFields(row.shown.fields, now.application, now.products));
}
