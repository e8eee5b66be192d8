// Held entries as the questions they are: entries of one group that wait for a grower's yes are one question, and the
// server takes one answer for all of them (sync/effects.py). Pure.

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

const ASKED = new Set(["asked_for", "proposed", "needs_grower"]);

/**
 * The questions, each with its entries in the order they were made; in the order of their first entries.
 * @param {RecordRow[]} rows
 * @returns {RecordRow[][]}
 */
export function questionsOf(rows) {
  /** @type {Map<string, RecordRow[]>} */
  const found = new Map();
  for (const row of [...rows].sort(byNumber)) {
    const { of_group: group, reason, device } = row.shown.fields;
    const key = group && ASKED.has(String(reason)) ? `${device} ${group}` : row.id;
    found.set(key, [...(found.get(key) ?? []), row]);
  }
  return [...found.values()];
}

/** Whether nobody has answered; an answer that is still on this phone is one for the whole question. @param {RecordRow[]} question */
export function isOpenQuestion(question) {
  const open = question.filter((row) => (row.shown.fields.decision ?? null) === null);
  const isAnswered = question.some(
    (row) => row.shown.fields.decision != null && row.confirmed?.fields.decision == null,
  );
  return open.length > 0 && !isAnswered;
}

/** A device's entries in the order it made them: what changes a record comes after what made it.
 * @param {RecordRow} left @param {RecordRow} right */
function byNumber({ shown: { fields: left } }, { shown: { fields: right } }) {
  return String(left.device).localeCompare(String(right.device)) || (left.number ?? 0) - (right.number ?? 0);
}
