// Spray orders in words: what an order is called, where, when, how it stands.
import { useRecords, useTepal } from "../state/context.js";
import { orderStanding } from "../state/orders.js";
import { html } from "../ui/html.js";
import { StateChip } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {import("../state/orders.js").OrderState} OrderState */

/** What an order is called. @param {Record<string, any>} fields @param {(kind: string, id: string) => string | null} [nameOf] */
export const orderTitle = (fields, nameOf) =>
  fields.title || (fields.tank_mix && nameOf?.("tank_mix", fields.tank_mix)) || t("kind.spray_order");

/** @type {Record<OrderState, [import("../ui/state.js").Tone, import("../ui/icons.js").IconName]>} */
const LOOK = {
  late: ["stopped", "clock"],
  due: ["caution", "calendar"],
  planned: ["waiting", "calendar"],
  running: ["caution", "sprayer"],
  partly: ["caution", "pencil"],
  done: ["passed", "check"],
  skipped: ["plain", "close"],
  cancelled: ["plain", "close"],
};

/** @param {{ state: OrderState }} props */
export function OrderState({ state }) {
  const [tone, icon] = LOOK[state];
  return html`<${StateChip} tone=${tone} icon=${icon}>${t(`order.state.${state}`)}<//>`;
}

/** "12 Nov – 14 Nov 2026, 06:00–11:00" @param {Record<string, any>} fields @param {string} language */
export function windowText(fields, language) {
  const { window_from: from, window_to: to, from_time: early, to_time: late } = fields;
  const day = (/** @type {string} */ one) => shortDay(one, language);
  const days =
    from && to && from !== to
      ? t("order.from_to", { from: day(from), to: day(to) })
      : from || to
        ? day(from ?? to)
        : t("order.any_day");
  const times =
    early && late
      ? `${early}–${late}`
      : early
        ? t("order.after", { time: early })
        : late
          ? t("order.before", { time: late })
          : "";
  return [days, times].filter(Boolean).join(", ");
}

/** Where, in a line: places that are treated, and how many are left. @param {Record<string, any>} fields
 * @param {(kind: string, id: string) => string | null} nameOf */
export function placesText(fields, nameOf) {
  const lines = fields.lines ?? [];
  const treated = lines.filter((/** @type {any} */ line) => !line.untreated);
  const names = treated.map((/** @type {any} */ line) =>
    [line.lot && nameOf("lot", line.lot), line.bench && nameOf("bench", line.bench)]
      .filter(Boolean)
      .join(", "),
  );
  const left = lines.length - treated.length;
  return [[...new Set(names)].filter(Boolean).join("; "), left > 0 ? t("order.n_untreated", { n: left }) : ""]
    .filter(Boolean)
    .join(" · ");
}

/** All orders with how they stand today; null while reading. */
export function useOrders() {
  const tepal = useTepal();
  const orders = useRecords("spray_order");
  const outcomes = useRecords("order_outcome");
  const applications = useRecords("application");
  if (orders === null || outcomes === null || applications === null) return null;
  const today = tepal.wall().local.slice(0, 10);
  return orders
    .filter((row) => row.shown.state !== "void")
    .map((row) => ({ row, ...orderStanding(row, outcomes, applications, today) }));
}
