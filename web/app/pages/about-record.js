// A record named in a sentence, with the way to its page.
import { html } from "../ui/html.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { dayOf, timesOf } from "./applied.js";
import { recordName } from "./record-words.js";

/** Kind -> the page of one record. */
const PAGE_OF = /** @type {Record<string, string>} */ ({
  application: "/applications",
  house: "/houses",
  bench: "/benches",
  lot: "/lots",
  product: "/products",
  tank_mix: "/mixes",
  member: "/people",
});

/**
 * @param {string} kind @param {string} id @param {Record<string, any> | null} fields  null where this phone has none
 * @param {string} language
 * @param {boolean} [isHere]  false for one that is only proposed: it has no page yet
 */
export function aboutRecord(kind, id, fields, language, isHere = true) {
  const name = fields === null ? "" : nameOf(kind, fields, language);
  const path = PAGE_OF[kind];
  const text = html`${t(`kind.${kind}`)}${name && `: ${name}`}`;
  return path && isHere && fields !== null ? html`<a href=${`${path}/${id}`}>${text}</a>` : text;
}

/** @param {string} kind @param {Record<string, any>} fields @param {string} language */
function nameOf(kind, fields, language) {
  if (kind !== "application") return recordName(kind, fields);
  const day = dayOf(fields);
  const when = day ? `${shortDay(day, language)}, ${timesOf(fields)}` : "";
  return [when, fields.mix_name].filter(Boolean).join(", ");
}
