// The rows of a register's list: in order, searched by what stands in them. Made once a list of records and kept, since a
// register is opened again and again and has thousands of rows; what stands below a name is made when it is first asked for.
import { plain } from "../ui/choices.js";
import { recordName } from "./record-words.js";
import { detailOf, isRetired } from "./registers.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {ReturnType<typeof import("./record-words.js").useValueWords>} ValueWords */

/** A row. One class with a getter on it: 5,000 literals with a getter each take five times as long. */
class ListRow {
  /** @type {string | null} */
  #detail = null;

  /** @param {string} kind @param {RecordRow} row @param {ValueWords} words */
  constructor(kind, row, words) {
    const fields = row.shown.fields;
    this.kind = kind;
    this.id = row.id;
    this.fields = fields;
    this.name = recordName(kind, fields);
    this.key = sortKey(this.name);
    this.isRetired = isRetired(fields);
    this.words = words;
  }

  get detail() {
    this.#detail ??= detailOf(this.kind, this.fields, this.words);
    return this.#detail;
  }
}

/** @typedef {{ words: ValueWords, all: ListRow[], inUse: ListRow[] }} Rows */

/** A list of records -> its rows, in the words of one language. @type {WeakMap<RecordRow[], Rows>} */
const made = new WeakMap();

/**
 * The rows of a list by name: all of them, and those still in use. The same ones until records or words change.
 * @param {string} kind @param {RecordRow[]} records @param {ValueWords} words
 * @returns {Rows}
 */
export function rowsOf(kind, records, words) {
  const kept = made.get(records);
  if (kept?.words === words) return kept;
  const all = records.filter((row) => row.shown.state !== "void").map((row) => new ListRow(kind, row, words));
  all.sort((a, b) => (a.key < b.key ? -1 : a.key > b.key ? 1 : 0));
  const rows = { words, all, inUse: all.filter((row) => !row.isRetired) };
  made.set(records, rows);
  return rows;
}

/** Numbers by their size, accents and case left out: a comparison of 5,000 names in the language's own way takes ten times
 * as long. @param {string} name */
const sortKey = (name) => plain(name).replace(/[0-9]+/g, (digits) => digits.padStart(12, "0"));
