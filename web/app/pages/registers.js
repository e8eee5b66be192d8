// The registers: where each kind has its page, what a record of it must have to be found again, and how a row of its list
// reads. One table for the lists, the single records and the forms.
import { html } from "../ui/html.js";
import { Named } from "../ui/stake.js";
import { t } from "../ui/words.js";

import { strengthText } from "./application-facts.js";
import { ESTABLISHMENT_SECTIONS, LOT_SECTIONS, PRODUCT_SECTIONS } from "./form-sections.js";
import { cropName, recordName } from "./record-words.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {import("./record-words.js").NameOf} NameOf */
/**
 * @typedef {object} Register
 * @property {string} kind
 * @property {string} base                 Address of its list.
 * @property {import("../ui/icons.js").IconName} icon
 * @property {string[]} identity           Fields without which nobody would find the record again.
 * @property {"registers" | "trial_authority" | "admin"} guard
 * @property {string[]} fields             Shown and asked for, in this order.
 * @property {{ title: string, fields: string[] }[]} [sections]  Of a long form: each folds.
 * @property {string} [listAt]             The list it stands in, where that is another's.
 * @property {string} [within]             The field that names the record on whose page it stands.
 */

/** @type {Record<string, Register>} */
export const REGISTERS = Object.freeze({
  house: register(
    "house",
    "/houses",
    "house",
    ["name"],
    ["name", "code", "site", "length", "width", "area", "ventilation", "note"],
  ),
  bay: {
    ...register(
      "bay",
      "/bays",
      "house",
      ["name", "house"],
      ["name", "code", "house", "length", "width", "x", "y"],
    ),
    listAt: "/houses",
    within: "house",
  },
  bench: {
    ...register(
      "bench",
      "/benches",
      "house",
      ["name", "house"],
      ["name", "code", "house", "bay", "length", "width", "area", "x", "y"],
    ),
    listAt: "/houses",
    within: "house",
  },
  lot: sectioned(register("lot", "/lots", "lot", ["code", "crop"], []), LOT_SECTIONS),
  supplier_treatment: {
    ...register(
      "supplier_treatment",
      "/supplier-treatments",
      "lot",
      ["lot", "product_name"],
      ["lot", "product_name", "registration_number", "ingredients", "method", "applied_on", "target", "dose", "source", "note"],
    ), // biome-ignore format: a list of names
    listAt: "/lots",
    within: "lot",
  },
  product: sectioned(register("product", "/products", "product", ["name"], []), PRODUCT_SECTIONS),
  permit: {
    ...register(
      "permit",
      "/permits",
      "sign",
      ["number"],
      ["number", "sort", "products", "crops", "valid_from", "valid_to", "responsible", "crop_fate", "rei", "rei_source", "note"],
    ), // biome-ignore format: a list of names
    guard: "trial_authority",
  },
  batch: {
    ...register(
      "batch",
      "/batches",
      "product",
      ["product", "code", "amount"],
      ["product", "code", "received_on", "expires_on", "amount", "cost", "supplier", "storage", "note"],
    ),
    listAt: "/stock",
  },
  stock_count: {
    ...register(
      "stock_count",
      "/stock-counts",
      "ruler",
      ["batch", "amount", "counted_at"],
      ["batch", "counted_at", "amount", "reason"],
    ),
    listAt: "/stock",
    within: "batch",
  },
  establishment: {
    ...sectioned(register("establishment", "/establishment", "house", ["name"], []), ESTABLISHMENT_SECTIONS),
    guard: "admin",
  },
  tank_mix: register(
    "tank_mix",
    "/mixes",
    "mix",
    ["name"],
    [
      "name",
      "purpose",
      "method",
      "components",
      "volume_per_area",
      "volume_per_container",
      "extra",
      "injector_ratio",
      "injector_meaning",
    ],
  ),
  incompatible_pair: {
    ...register("incompatible_pair", "/pairs", "differ", ["a", "b"], ["a", "b", "reason", "source"]),
    listAt: "/mixes",
  },
  jar_test: {
    ...register(
      "jar_test",
      "/jar-tests",
      "mix",
      ["products", "result"],
      ["products", "result", "tested_on", "note"],
    ),
    listAt: "/mixes",
  },
  instrument: {
    ...register("instrument", "/instruments", "ruler", ["name"], ["name", "sort", "resolution", "capacity"]),
    listAt: "/mixes",
  },
  sprayer: {
    ...register(
      "sprayer",
      "/sprayers",
      "sprayer",
      ["name"],
      ["name", "sort", "capacity", "nozzle", "droplet", "calibrate_every"],
    ),
    listAt: "/mixes",
  },
  program: {
    ...register(
      "program",
      "/programs",
      "calendar",
      ["name"],
      ["name", "crop", "cultivar", "counted_from", "steps", "source", "retired"],
    ),
    listAt: "/orders",
  },
  member: {
    ...register(
      "member",
      "/people",
      "person",
      ["name", "role"],
      ["name", "role", "language", "active", "is_adult", "applicator_number"],
    ),
    guard: "admin",
  },
  certificate: {
    ...register(
      "certificate",
      "/certificates",
      "book",
      ["member", "sort"],
      ["member", "sort", "number", "issued_by", "issued_on", "expires_on", "note"],
    ),
    listAt: "/people",
    within: "member",
  },
  device: {
    ...register("device", "/phones", "phone", ["label"], ["label", "ceiling", "revoked"]),
    guard: "admin",
    listAt: "/people",
  },
});

/** @param {string} kind @param {string} base @param {any} icon @param {string[]} identity @param {string[]} fields @returns {Register} */
function register(kind, base, icon, identity, fields) {
  return { kind, base, icon, identity, fields, guard: "registers" };
}

/** @param {Register} one @param {{ title: string, fields: string[] }[]} sections @returns {Register} */
function sectioned(one, sections) {
  return { ...one, sections, fields: sections.flatMap(({ fields }) => fields) };
}

/** @param {Register} one */
const listOf = (one) => one.listAt ?? one.base;

/**
 * Where one goes back to from a record: the page of what it stands within, else its list.
 * @param {Register} one @param {Record<string, any>} fields
 * @returns {{ href: string, words: string }}
 */
export function backOf(one, fields) {
  const parent = one.within && fields[one.within];
  if (!parent || !one.within) return { href: listOf(one), words: `register.list.${one.kind}` };
  return { href: `${REGISTERS[one.within].base}/${parent}`, words: `kind.${one.within}` };
}

/** Whether a record has left use: it is hidden from lists and pickers, and shown on demand. @param {Record<string, any>} fields */
export const isRetired = (fields) =>
  fields.retired === true || (fields.phase !== undefined && fields.phase !== "growing");

/** @param {string} kind @param {Record<string, any>} fields @param {NameOf} nameOf */
function nameInList(kind, fields, nameOf) {
  if (kind === "lot") return cropName(fields);
  if (kind === "jar_test") return jarName(fields, nameOf);
  return recordName(kind, fields);
}

/** "Stemwright SL + Halfpace SG" @param {Record<string, any>} fields @param {NameOf} nameOf */
const jarName = (fields, nameOf) =>
  (fields.products ?? [])
    .map((/** @type {string} */ id) => nameOf("product", id) ?? t("office.not_on_phone"))
    .join(" + ");

/**
 * A row of a list: the name with what tells it apart.
 * @param {{ kind: string, fields: Record<string, any>, detail: string, nameOf: NameOf }} props
 */
export function RowText({ kind, fields, detail, nameOf }) {
  const name = nameInList(kind, fields, nameOf);
  const shown = name || t("office.not_on_file");
  return html`<span class="choice-text">
    ${kind === "lot" && fields.code ? html`<${Named} code=${fields.code} name=${shown} />` : html`<b>${shown}</b>`}
    ${detail && html`<span class="choice-detail">${detail}</span>`}</span>`;
}

/**
 * What stands second in a row.
 * @param {string} kind @param {Record<string, any>} fields
 * @param {ReturnType<typeof import("./record-words.js").useValueWords>} words
 */
export function detailOf(kind, fields, words) {
  const text = (/** @type {string} */ name) => words.text(kind, name, fields[name]);
  switch (kind) {
    case "lot":
      return [
        [text("n_containers"), fields.container].filter(Boolean).join(" × "),
        fields.stage,
        text("benches"),
        fields.phase && fields.phase !== "growing" ? text("phase") : "",
      ]
        .filter(Boolean)
        .join(" · ");
    case "product":
      return [
        fields.registration_number ?? t("emergency.no_registration"),
        (fields.ingredients ?? [])
          .map((/** @type {any} */ row) => `${row.ai ?? t("office.not_on_file")} ${strengthText(row, words)}`)
          .join(", "),
        fields.kind && fields.kind !== "product"
          ? text("kind")
          : `${t("register.rei")} ${text("rei") ?? t("office.rei_read_label")}`,
      ]
        .filter(Boolean)
        .join(" · ");
    case "tank_mix":
      return [
        text("method"),
        ...(fields.components ?? []).map((/** @type {any} */ row) => words.nameOf("product", row.product)),
      ]
        .filter(Boolean)
        .join(" · ");
    case "member":
      return [text("role"), fields.active === false ? t("register.not_active") : ""]
        .filter(Boolean)
        .join(" · ");
    case "instrument":
      return [
        text("sort"),
        text("capacity"),
        fields.resolution && t("register.reads", { step: text("resolution") ?? "" }),
      ]
        .filter(Boolean)
        .join(" · ");
    case "incompatible_pair":
      return [fields.reason, fields.source].filter(Boolean).join(" · ");
    case "jar_test":
      return [text("result"), text("tested_on")].filter(Boolean).join(" · ");
    case "permit":
      return [
        text("sort"),
        fields.crops,
        text("valid_to") && t("register.until", { day: text("valid_to") ?? "" }),
      ]
        .filter(Boolean)
        .join(" · ");
    case "program":
      return [
        [fields.crop, fields.cultivar].filter(Boolean).join(" "),
        t("program.n_steps", { n: (fields.steps ?? []).length }),
      ]
        .filter(Boolean)
        .join(" · ");
    case "sprayer":
      return [text("sort"), text("capacity")].filter(Boolean).join(" · ");
    default:
      return "";
  }
}
