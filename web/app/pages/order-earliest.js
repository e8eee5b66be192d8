// The earliest day that label and supplier leave for what an order plans, said in words.
import { useRecord, useRecords } from "../state/context.js";
import { earliestNext } from "../state/orders.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { useSettings } from "./settings-context.js";

/** @param {{ fields: Record<string, any> }} props */
export function Earliest({ fields }) {
  const found = useEarliest(fields);
  return found.map(
    ({ tone, title, why }) => html`<${Message} key=${title} tone=${tone} title=${title}><p>${why}</p><//>`,
  );
}

/**
 * When the labels let an order be at the earliest, and whose label is silent.
 * @param {Record<string, any>} fields
 */
function useEarliest(fields) {
  const { language } = useSettings();
  const products = useRecords("product") ?? [];
  const lots = useRecords("lot") ?? [];
  const mix = useRecord("tank_mix", fields.tank_mix ?? "") ?? null;
  const applications = useRecords("application") ?? [];
  const treatments = useRecords("supplier_treatment") ?? [];
  const ids = new Set((fields.lines ?? []).map((/** @type {any} */ line) => line.lot).filter(Boolean));
  const chosen = lots.filter((row) => ids.has(row.id));
  if (mix === null || chosen.length === 0) return [];
  const found = earliestNext({ mix, products, lots: chosen, applications, treatments });
  const planned = fields.window_from;
  /** @type {{tone: "caution" | "waiting" | "passed", title: string, why: string}[]} */
  const told = [];
  if (found.day !== null) {
    const isEarly = planned && planned < found.day;
    told.push({
      tone: isEarly ? "caution" : "waiting",
      title: t(isEarly ? "order.too_early" : "order.earliest", { day: shortDay(found.day, language.value) }),
      why: t("order.earliest_why", {
        product: found.product,
        last: shortDay(found.last ?? "", language.value),
      }),
    });
  }
  if (found.silent.length > 0) {
    told.push({
      tone: "waiting",
      title: t("order.interval_unknown", { products: found.silent.join(", ") }),
      why: t("apply.label_is_law"),
    });
  }
  return told;
}
