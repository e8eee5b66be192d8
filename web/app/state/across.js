// Which of the questions that past trials answered a mix on these lots would ask again. Pure.

/**
 * @typedef {{ key: string, crop: string, crop_key: string, crop_names: string[], dose: string, facts: string,
 *   measurement: string, comparator: string, is_primary: boolean, is_untreated: boolean, state: string, short: string,
 *   n: number, n_elsewhere: number, mixes: Record<string, number> }} Question
 * @typedef {{ id: string, code: string, title: string, elsewhere: string, why?: string }} Named
 */

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/**
 * The questions that a mix on these lots would ask again: one for each crop, against untreated and the primary response
 * where there is a choice. A mix that was changed since the office answered fits none.
 * @param {Question[]} questions @param {RecordRow | null} mix @param {RecordRow[]} lots
 */
export function questionsBefore(questions, mix, lots) {
  if (mix === null) return [];
  const crops = lots.map(({ shown: { fields } }) => ({
    eppo: String(fields.crop_eppo ?? "")
      .trim()
      .toUpperCase(),
    name: plain(fields.crop),
  }));
  /** @type {Map<string, Question>} */
  const found = new Map();
  for (const one of questions) {
    if (one.mixes[mix.id] !== mix.shown.revision || one.n === 0) continue;
    if (!crops.some(({ eppo, name }) => eppo === one.crop_key || one.crop_names.includes(name))) continue;
    const held = found.get(one.crop_key);
    if (!held || rank(one) > rank(held)) found.set(one.crop_key, one);
  }
  return [...found.values()];
}

/** @param {Question} one */
const rank = (one) => (one.is_untreated ? 1000 : 0) + (one.is_primary ? 100 : 0) + Math.min(one.n, 99);

/** A crop's name as the office compares it. @param {unknown} text */
const plain = (text) =>
  String(text ?? "")
    .toLowerCase()
    .split(/\s+/)
    .filter(Boolean)
    .join(" ");
