// Spray orders in words.
import { t } from "../ui/words.js";

/** What an order is called. @param {Record<string, any>} fields */
export const orderTitle = (fields) => fields.title || t("kind.spray_order");
