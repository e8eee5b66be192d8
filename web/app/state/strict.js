// Records as rules must read them: where two people gave one field different values and nobody has decided, the stricter
// value counts for restriction, interval and ceiling. For rules only; screens show both values. Pure.
import { stricterFields } from "../core/stricter.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/**
 * @param {string} kind
 * @param {RecordRow} row
 * @param {RecordRow[] | null} conflicts  All that this phone has, of any kind.
 * @returns {RecordRow}  The same row where no conflict on it is open.
 */
export function strictRow(kind, row, conflicts) {
  const own = (conflicts ?? [])
    .filter((one) => one.shown.state !== "void" && one.shown.fields.of_id === row.id)
    .map((one) => one.shown.fields);
  if (own.length === 0) return row;
  return { ...row, shown: { ...row.shown, fields: stricterFields(kind, row.shown.fields, own) } };
}

/**
 * @template {RecordRow[] | null | undefined} Rows
 * @param {string} kind @param {Rows} rows @param {RecordRow[] | null} conflicts
 * @returns {Rows}
 */
export function strictRows(kind, rows, conflicts) {
  if (!rows || !conflicts || conflicts.length === 0) return rows;
  return /** @type {Rows} */ (rows.map((row) => strictRow(kind, row, conflicts)));
}
