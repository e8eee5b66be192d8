// What the screen shows: the record as the server last told it, with entries that the server has
// not yet shown us laid over it. Pure.

/** @typedef {import("./port.js").Confirmed} Confirmed */
/** @typedef {import("./port.js").EntryRow} EntryRow */

/**
 * @param {Confirmed | null} confirmed
 * @param {EntryRow[]} pending in number order
 * @param {string | null} signedField the field whose presence makes the record signed
 * @returns {Confirmed | null} null where there is nothing to show
 */
export function overlay(confirmed, pending, signedField) {
  let shown = confirmed;
  for (const entry of pending) shown = layOver(shown, entry, signedField);
  return shown;
}

/** @param {Confirmed | null} base @param {EntryRow} entry @param {string | null} signedField */
function layOver(base, entry, signedField) {
  if (entry.action === "request" || entry.action === "propose") return base;
  const from = base ?? {
    revision: 0,
    state: "open",
    form_version: 1,
    author: entry.member,
    fields: {},
  };
  if (entry.action === "void") return { ...from, state: "void" };
  const fields = { ...from.fields };
  for (const [name, change] of Object.entries(entry.changes)) {
    if (change.to === null) delete fields[name];
    else fields[name] = change.to;
  }
  const signed = signedField !== null && fields[signedField] !== undefined;
  const state = from.state === "void" ? "void" : signed ? "signed" : "open";
  return { ...from, fields, state };
}

/**
 * Whether two JSON values are equal (as the server's merge sees it).
 * @param {any} left @param {any} right @returns {boolean}
 */
export function same(left, right) {
  if (left === right) return true;
  if (typeof left !== "object" || typeof right !== "object" || !left || !right) return false;
  if (Array.isArray(left) !== Array.isArray(right)) return false;
  const keys = Object.keys(left);
  return (
    keys.length === Object.keys(right).length &&
    keys.every((key) => Object.hasOwn(right, key) && same(left[key], right[key]))
  );
}

/**
 * What changed between the record a person saw and the values the person wants.
 * @param {Record<string, any>} seen @param {Record<string, any>} wanted
 * @returns {Record<string, import("./port.js").Change>}
 */
export function changesBetween(seen, wanted) {
  /** @type {Record<string, import("./port.js").Change>} */
  const changes = {};
  for (const [name, value] of Object.entries(wanted)) {
    const was = seen[name] ?? null;
    const to = value ?? null;
    if (!same(was, to)) changes[name] = { was, to };
  }
  return changes;
}
