// A house drawn to scale: where its bays and benches lie, in metres, from the lengths that were entered. What was not
// entered is arranged tidily and marked as such: a drawing must not pass for a measurement. Pure.
import { toBase } from "../core/units.js";

/** @typedef {{ id: string, fields: Record<string, any> }} Placed */
/**
 * A rectangle of the plan; x from the left wall, y from the door wall, metres.
 * @typedef {object} PlanBench
 * @property {string} id
 * @property {number} x
 * @property {number} y
 * @property {number} width   Across the house.
 * @property {number} length  Along the house.
 * @property {boolean} isPlaced   Its position was entered.
 * @property {boolean} isSized    Its length and width were entered.
 *
 * @typedef {object} HousePlanLayout
 * @property {number} width
 * @property {number} length
 * @property {boolean} isOutlineAssumed  The house's length or width is not on file: drawn round what stands in it.
 * @property {{ id: string, x: number, y: number, width: number, length: number }[]} bays  Those with a position and a size.
 * @property {PlanBench[]} benches
 */

const AISLE_M = 0.6; // of a tidy arrangement only; common practice, no source
const NO_SIZE = { width: 1.5, length: 6 }; // of a bench whose size is not on file: drawn dashed

/** Metres of a stored length, or null. @param {any} stored */
export const metres = (stored) => (stored ? toBase(Number(stored.value), stored.unit) : null);

/**
 * @param {Record<string, any>} house @param {Placed[]} bays @param {Placed[]} benches  In the order they are to stand in.
 * @returns {HousePlanLayout}
 */
export function planOf(house, bays, benches) {
  const [width, length] = [metres(house.width), metres(house.length)];
  const drawnBays = bays.flatMap(({ id, fields }) => {
    const [x, y, w, l] = [fields.x, fields.y, fields.width, fields.length].map(metres);
    return x === null || y === null || w === null || l === null ? [] : [{ id, x, y, width: w, length: l }];
  });
  const placed = benches.flatMap((bench) => placedBench(bench, width, length));
  const loose = benches.filter(({ id }) => !placed.some((one) => one.id === id));
  const all = [...placed, ...tidy(loose, placed, width ?? 12)];
  const reach = [...all, ...drawnBays];
  const across = Math.max(0, ...reach.map((one) => one.x + one.width));
  const along = Math.max(0, ...reach.map((one) => one.y + one.length));
  return {
    width: Math.max(width ?? across + AISLE_M, across),
    length: Math.max(length ?? along + AISLE_M, along),
    isOutlineAssumed: width === null || length === null || across > width || along > length,
    bays: drawnBays,
    benches: benches.map(({ id }) => /** @type {PlanBench} */ (all.find((one) => one.id === id))),
  };
}

/** @param {Placed} bench */
function sizeOf({ fields }) {
  const [width, length] = [metres(fields.width), metres(fields.length)];
  return {
    width: width ?? NO_SIZE.width,
    length: length ?? NO_SIZE.length,
    isSized: width !== null && length !== null,
  };
}

/**
 * A bench stands along the house unless it only fits across it.
 * @param {Placed} bench @param {number | null} houseWidth @param {number | null} houseLength
 * @returns {PlanBench[]}
 */
function placedBench(bench, houseWidth, houseLength) {
  const [x, y] = [metres(bench.fields.x), metres(bench.fields.y)];
  if (x === null || y === null) return [];
  const { width, length, isSized } = sizeOf(bench);
  const fitsAlong = houseLength === null || y + length <= houseLength;
  const fitsAcross = houseWidth !== null && x + length <= houseWidth;
  const isTurned = !fitsAlong && fitsAcross;
  const [w, l] = isTurned ? [length, width] : [width, length];
  return [{ id: bench.id, x, y, width: w, length: l, isPlaced: true, isSized }];
}

/**
 * Benches without a position, side by side in rows, beyond those that have one.
 * @param {Placed[]} loose @param {PlanBench[]} placed @param {number} houseWidth
 * @returns {PlanBench[]}
 */
function tidy(loose, placed, houseWidth) {
  let y = Math.max(0, ...placed.map((one) => one.y + one.length)) + AISLE_M;
  let x = AISLE_M;
  let deepest = 0;
  return loose.map((bench) => {
    const { width, length, isSized } = sizeOf(bench);
    if (x > AISLE_M && x + width + AISLE_M > houseWidth) {
      x = AISLE_M;
      y += deepest + AISLE_M;
      deepest = 0;
    }
    const found = { id: bench.id, x, y, width, length, isPlaced: false, isSized };
    x += width + AISLE_M;
    deepest = Math.max(deepest, length);
    return found;
  });
}
