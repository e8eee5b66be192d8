// What forms need from a page: how the establishment writes numbers, the registers that references pick from, the clock.
import { numberFormatOf } from "../core/number_format.js";
import { useRecords, useTepal } from "../state/context.js";
import { offsetAt } from "../state/moments.js";
import { useEstablishment } from "./establishment.js";
import { recordName } from "./record-words.js";
import { isRetired } from "./registers.js";

/** @typedef {import("../forms/typed.js").Ways} Ways */

const REGISTERS = [
  "house", "bay", "bench", "lot", "product", "tank_mix", "member", "sprayer", "permit", "batch",
]; // biome-ignore format: a list of names

/** @returns {Ways} */
export function useWays() {
  const tepal = useTepal();
  const { number_format, unit_system = "metric" } = useEstablishment();
  return {
    numberFormat: numberFormatOf(number_format),
    unitSystem: unit_system,
    // the offset that the nursery's zone has at that wall time, not now: summer time may lie between
    zoneAt(local) {
      const { zone } = tepal.wall();
      return { offset_min: offsetAt(local, zone), zone };
    },
  };
}

const inOrder = new Intl.Collator(undefined, { numeric: true });
/** list -> the same in order of name: sorted once, since a form asks at each key. @type {WeakMap<object, import("../sync/port.js").RecordRow[]>} */
const sorted = new WeakMap();

/** @param {import("../sync/port.js").RecordRow[]} rows */
function inOrderOf(rows) {
  let found = sorted.get(rows);
  if (!found) {
    found = [...rows].sort((a, b) =>
      inOrder.compare(recordName(a.kind, a.shown.fields), recordName(b.kind, b.shown.fields)),
    );
    sorted.set(rows, found);
  }
  return found;
}

/**
 * The setting of a form, without its problems.
 */
export function useFormSetting() {
  const tepal = useTepal();
  const ways = useWays();
  /** @type {Record<string, import("../sync/port.js").RecordRow[]>} */
  const lists = {};
  for (const kind of REGISTERS) lists[kind] = useRecords(kind) ?? [];
  const houseName = (/** @type {any} */ id) =>
    /** @type {any} */ (lists.house.find((row) => row.id === id)?.shown.fields)?.name;
  const productName = (/** @type {any} */ id) =>
    /** @type {any} */ (lists.product.find((row) => row.id === id)?.shown.fields)?.name;
  return {
    ways,
    now: () => tepal.wall().local.slice(0, 16),
    /** @param {string} kind @returns {import("../ui/choices.js").Option[]} */
    options: (kind) =>
      inOrderOf(lists[kind] ?? [])
        .filter((row) => row.shown.state !== "void")
        .map(({ id, shown: { fields } }) => ({
          id,
          name: kind === "lot" ? recordName("lot", { ...fields, code: undefined }) : recordName(kind, fields),
          code: kind === "lot" ? String(fields.code ?? "") || undefined : undefined,
          detail:
            kind === "bench" || kind === "bay"
              ? houseName(fields.house)
              : kind === "batch"
                ? productName(fields.product)
                : undefined,
          isRetired: isRetired(fields) || fields.active === false,
        })),
  };
}
