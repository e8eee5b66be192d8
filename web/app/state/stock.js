// Stock: what should be left of each batch, by deliveries, uses in applications and counts. Pure.
import { momentMs } from "../core/moments.js";
import { batchLeft, costOfUse } from "../core/stock.js";
import { toBase, UNITS } from "../core/units.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/**
 * @typedef {object} BatchStock
 * @property {RecordRow} row
 * @property {string} product
 * @property {"volume" | "mass" | null} dimension  What it was delivered in; null where no amount is on file.
 * @property {number | null} delivered   mL or g.
 * @property {number | null} left        mL or g; null where it can't be reckoned. Below zero: more was used than there was.
 * @property {number} n_uses
 * @property {number} n_unread           Uses whose amount can't be read in the batch's measure: left out, and said so.
 * @property {{ at: string, row: RecordRow, amount: any, cost: number | null }[]} uses
 */

/** @param {any} moment */
const msOf = (moment) => (moment?.local ? momentMs(moment) : null);

/**
 * @param {RecordRow[]} batches @param {RecordRow[]} counts @param {RecordRow[]} applications
 * @param {Record<string, Record<string, any>>} products  A product's fields by its id.
 * @returns {BatchStock[]}
 */
export function stockOf(batches, counts, applications, products) {
  const used = usesByBatch(applications);
  const counted = new Map();
  for (const row of counts) {
    const { batch } = row.shown.fields;
    if (row.shown.state !== "void" && batch) counted.set(batch, [...(counted.get(batch) ?? []), row]);
  }
  return batches
    .filter((row) => row.shown.state !== "void")
    .map((row) => stockOfBatch(row, used.get(row.id) ?? [], counted.get(row.id) ?? [], products));
}

/** @param {RecordRow[]} applications @returns {Map<string, { row: RecordRow, product: any }[]>} */
function usesByBatch(applications) {
  /** @type {Map<string, { row: RecordRow, product: any }[]>} */
  const found = new Map();
  for (const row of applications) {
    if (row.shown.state === "void") continue;
    for (const product of row.shown.fields.products ?? []) {
      if (product.batch) found.set(product.batch, [...(found.get(product.batch) ?? []), { row, product }]);
    }
  }
  return found;
}

/**
 * @param {RecordRow} row @param {{ row: RecordRow, product: any }[]} used @param {RecordRow[]} counted
 * @param {Record<string, Record<string, any>>} products @returns {BatchStock}
 */
function stockOfBatch(row, used, counted, products) {
  const { product, amount, cost } = row.shown.fields;
  const dimension = dimensionOf(amount);
  const none = { row, product, dimension, n_uses: used.length, n_unread: 0, uses: [] };
  if (dimension === null) return { ...none, delivered: null, left: null };
  const delivered = toBase(Number(amount.value), amount.unit);
  let unread = 0;
  const moves = used.flatMap((one) => {
    const base = inMeasure(one.product.amount, dimension, one.product.density ?? products[product]?.density);
    const at_ms = msOf(one.row.shown.fields.started_at);
    if (base === null || at_ms === null) {
      unread += 1;
      return [];
    }
    return [{ at_ms, amount: base, row: one.row, stored: one.product.amount }];
  });
  const counts = counted.flatMap(({ shown: { fields } }) => {
    const base = inMeasure(fields.amount, dimension, products[product]?.density);
    const at_ms = msOf(fields.counted_at);
    return base === null || at_ms === null ? [] : [{ at_ms, amount: base }];
  });
  const isReckoned = counts.length === counted.length;
  return {
    ...none,
    delivered,
    left: isReckoned ? batchLeft(delivered, moves, counts) : null,
    n_unread: unread + (counted.length - counts.length),
    uses: moves
      .map(({ at_ms, row: application, stored, amount: base }) => ({
        at: new Date(at_ms).toISOString(),
        row: application,
        amount: stored,
        cost: cost && delivered > 0 ? costOfUse(Number(cost), delivered, base) : null,
      }))
      .sort((a, b) => (a.at < b.at ? 1 : -1)),
  };
}

/** @param {any} amount @returns {"volume" | "mass" | null} */
function dimensionOf(amount) {
  const dimension = amount ? UNITS[amount.unit]?.dimension : undefined;
  return dimension === "volume" || dimension === "mass" ? dimension : null;
}

/**
 * An amount in mL or g; across measures by density (g/mL), null where there is none.
 * @param {any} amount @param {"volume" | "mass"} dimension @param {any} density
 */
function inMeasure(amount, dimension, density) {
  const own = dimensionOf(amount);
  if (own === null) return null;
  const base = toBase(Number(amount.value), amount.unit);
  if (own === dimension) return base;
  if (!density) return null;
  const gPerMl = Number(density.value); // the only unit a density is entered in
  return dimension === "mass" ? base * gPerMl : base / gPerMl;
}

/**
 * What is left of a product over its batches in use, and whether that is under the line that was set.
 * @param {Record<string, any>} product @param {BatchStock[]} batches  Of this product.
 * @returns {{ left: number | null, dimension: "volume" | "mass" | null, isLow: boolean }}
 *   left  null where a batch can't be reckoned, or batches are in different measures.
 */
export function productStock(product, batches) {
  const dimension = batches[0]?.dimension ?? null;
  const isOne = batches.every((one) => one.dimension === dimension && one.left !== null);
  const left =
    dimension !== null && isOne ? batches.reduce((sum, one) => sum + Math.max(0, one.left ?? 0), 0) : null;
  const line =
    product.low_stock && dimension ? inMeasure(product.low_stock, dimension, product.density) : null;
  return { left, dimension, isLow: left !== null && line !== null && left < line };
}
