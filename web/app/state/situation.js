// The situation that the checks look at, from what this phone holds: core/checks.js judges it, offline. Pure. Twin:
// server/tepal/services/later_checks.py, which builds it again from the whole book when the application arrives.
import { followedRows } from "./followed.js";
import { touching } from "./restrictions.js";
import { strictRows } from "./strict.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** @param {RecordRow[] | null | undefined} rows */
const live = (rows) => (rows ?? []).filter((row) => row.shown.state !== "void");
/** @param {RecordRow[]} rows */
const byId = (rows) => Object.fromEntries(rows.map((row) => [row.id, row.shown.fields]));
/** @param {RecordRow[]} rows */
const fieldsOf = (rows) => rows.map((row) => row.shown.fields);

/**
 * @param {object} job
 * @param {Record<string, any>} job.application       Fields as planned.
 * @param {Record<string, RecordRow[] | null>} job.rows  With `conflict`: until one is decided the stricter value counts.
 * @param {string | null} job.member                  Who applies.
 * @param {string | null} job.permit
 * @param {any} job.waterDueAt                        Next overhead watering, or null.
 * @param {Record<string, any>} job.establishment
 * @param {import("./restrictions.js").Clock} job.clock
 * @param {string} job.today
 * @param {Record<string, {value: string, unit: string}> | null} [job.stock]  What should be left, by product; null: not kept.
 */
export function situationOf({
  application,
  rows,
  member,
  permit,
  waterDueAt,
  establishment,
  clock,
  today,
  stock,
}) {
  const places = application.lines.map((/** @type {any} */ line) => ({
    house: line.house,
    bench: line.bench,
  }));
  const strict = (/** @type {string} */ kind) => live(strictRows(kind, rows[kind], rows.conflict ?? null));
  const operator = live(rows.member).find((row) => row.id === member);
  const sprayer = live(rows.sprayer).find((row) => row.id === application.sprayer);
  return {
    today,
    now_ms: clock.nowMs,
    heard_ms: clock.heardMs,
    skew_ms: clock.skewMs,
    step: "mixing",
    // whether the PPE is worn is asked at its own step, above the button it belongs to
    application: { ...application, ppe_mixing_worn: true },
    products: byId(strict("product")),
    lots: byId(strict("lot")),
    applications: fieldsOf(strict("application")),
    supplier_treatments: fieldsOf(strict("supplier_treatment")),
    restrictions: fieldsOf(
      touching(
        followedRows(strict("restriction"), strict("application"), strict("product"), clock.nowMs),
        places,
      ),
    ),
    operator: operator?.shown.fields ?? null,
    certificates: fieldsOf(live(rows.certificate).filter((row) => row.shown.fields.member === member)),
    permit: permit ? (live(rows.permit).find((row) => row.id === permit)?.shown.fields ?? null) : null,
    sprayer: sprayer?.shown.fields ?? null,
    calibrations: fieldsOf(live(rows.calibration).filter((row) => row.shown.fields.sprayer === sprayer?.id)),
    batches: byId(live(rows.batch)),
    stock: stock ?? null,
    water_due_at: waterDueAt,
    incompatible_pairs: fieldsOf(live(rows.incompatible_pair)),
    establishment,
  };
}
