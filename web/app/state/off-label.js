// What of a planned trial a label on file does not allow: a crop that it does not name, a concentration above its highest.
// It speaks only of what is on file and can be compared; the checks before mixing look at the rest (core/label_checks.js). Pure.
import { fitOf, limitOf } from "../core/label_uses.js";
import { quantityValue, unitOf } from "../core/units.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {{value: string, unit: string}} Amount */
/**
 * @typedef {{number: number, product: string} & (
 *   {code: "crop", crop: string} | {code: "concentration", target: Amount, limit: Amount})} OffLabel
 */

/**
 * @param {{treatments: any[], lots?: string[] | null}} trial
 * @param {{lot: RecordRow[] | null, tank_mix: RecordRow[] | null, product: RecordRow[] | null}} rows
 * @returns {OffLabel[]}  In the order of the treatments; each said once.
 */
export function offLabel(trial, rows) {
  const fields = (/** @type {RecordRow[] | null} */ list, /** @type {string | null} */ id) =>
    (list ?? []).find((row) => row.id === id && row.shown.state !== "void")?.shown.fields;
  const lots = (trial.lots ?? []).flatMap((id) => fields(rows.lot, id) ?? []);
  /** @type {Record<string, any>[]} */
  const crops = [...new Map(lots.map((lot) => [`${lot.crop} ${lot.crop_eppo}`, lot])).values()];
  /** @type {Map<string, OffLabel>} */
  const found = new Map();
  for (const [at, treatment] of trial.treatments.entries()) {
    const mix = fields(rows.tank_mix, treatment.tank_mix ?? null);
    if (!mix) continue;
    for (const component of mix.components ?? []) {
      const product = fields(rows.product, component.product);
      if (!product || component.is_reference || product.kind !== "product") continue;
      for (const crop of crops.length > 0 ? crops : [{}]) {
        const one = { number: at + 1, product: String(product.name ?? "") };
        const fit = fitOf(product, crop, null, mix.method ?? null);
        const above = aboveLabel(component, fit.uses);
        const said =
          fit.without === "crop" && crop.crop
            ? { ...one, code: /** @type {const} */ ("crop"), crop: crop.crop }
            : above && { ...one, code: /** @type {const} */ ("concentration"), ...above };
        if (said) found.set(JSON.stringify(said), said);
      }
    }
  }
  return [...found.values()];
}

/** A target in mg of active ingredient per litre above what all fitting uses state in the same; null where it is not, or
 * where the two can't be compared. @param {any} component @param {readonly any[]} uses */
function aboveLabel({ target, target_of, target_expressed_as }, uses) {
  if (!target || target_of === "product" || target_expressed_as) return null;
  if (unitOf(target.unit).dimension !== "mass_concentration") return null;
  const limit = limitOf(uses, "max_concentration", "per_l");
  if (limit === null || !limit.is_readable || !limit.is_ai || limit.per !== "per_l" || limit.unit !== "mg")
    return null;
  return quantityValue(target, "mass_concentration", "target") > limit.value
    ? { target, limit: /** @type {Amount} */ (limit.stated) }
    : null;
}
