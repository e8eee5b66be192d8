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

/**
 * The records that held entries would make, by "kind/id": what a lot that was only proposed is called. `isAsked`: a grower is
 * asked; else it is held back for another reason.
 * @param {RecordRow[]} rows
 * @returns {Record<string, { fields: Record<string, any>, isAsked: boolean }>}
 */
export function recordsHeld(rows) {
  /** @type {ReturnType<typeof recordsHeld>} */
  const found = {};
  for (const { shown } of rows) {
    const { of_kind: kind, of_id: id, reason, decision, text } = shown.fields;
    if ((decision ?? null) !== null || !kind || !id) continue;
    const key = `${kind}/${id}`;
    found[key] = {
      fields: { ...fieldsIn(text), ...found[key]?.fields }, // the first entry made it
      isAsked: ASKED.has(String(reason)),
    };
  }
  return found;
}

/** What an entry's text would set; nothing where the text is no entry, or too long to travel. @param {unknown} text */
function fieldsIn(text) {
  try {
    const changes = JSON.parse(String(text)).changes ?? {};
    return Object.fromEntries(Object.entries(changes).map(([name, change]) => [name, change.to]));
  } catch {
    return {};
  }
}
