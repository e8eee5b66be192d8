// The registers: where each kind has its page, what a record of it must have to be found again, and how a row of its list
// reads. One table for the lists, the single records and the forms.
import { html } from "../ui/html.js";
import { Named } from "../ui/stake.js";
import { t } from "../ui/words.js";

import { strengthText } from "./application-facts.js";
import { cropName, recordName, useNames } from "./record-words.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/**
 * @typedef {object} Register
 * @property {string} kind
 * @property {string} base                 Address of its list.
 * @property {import("../ui/icons.js").IconName} icon
 * @property {string[]} identity           Fields without which nobody would find the record again.
 * @property {"registers" | "admin"} guard
 * @property {string[]} fields             Shown and asked for, in this order.
 * @property {string} [listAt]             The list it stands in, where that is another's.
 */

/** @type {Record<string, Register>} */
export const REGISTERS = Object.freeze({
  house: register("house", "/houses", "house", ["name"], ["name", "code", "area", "note"]),
  bench: {
    ...register(
      "bench",
      "/benches",
      "house",
      ["name", "house"],
      ["name", "code", "house", "length", "width", "area"],
    ),
    listAt: "/houses",
  },
  lot: register(
    "lot",
    "/lots",
    "lot",
    ["code", "crop"],
    ["code", "crop", "cultivar", "crop_eppo", "stage", "n_containers", "container", "started_on", "benches"],
  ),
  product: register(
    "product",
    "/products",
    "product",
    ["name"],
    [
      "name", "kind", "registration_number", "country", "label_on", "ingredients", "physical_form", "formulation_type", "density",
      "signal_word", "rei", "double_notice", "ppe_mixing", "ppe_applying", "first_aid", "use_within", "water_ph_min", "water_ph_max",
    ], // biome-ignore format: a list of names
  ),
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
    ...register("member", "/people", "person", ["name", "role"], ["name", "role", "language", "active"]),
    guard: "admin",
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

/** @param {Register} one */
export const listOf = (one) => one.listAt ?? one.base;

/** @param {string} kind @param {Record<string, any>} fields @param {ReturnType<typeof useNames>} nameOf */
function nameInList(kind, fields, nameOf) {
  if (kind === "lot") return cropName(fields);
  if (kind === "jar_test") return jarName(fields, nameOf);
  return recordName(kind, fields);
}

/** "Stemwright SL + Halfpace SG" @param {Record<string, any>} fields @param {ReturnType<typeof useNames>} nameOf */
export const jarName = (fields, nameOf) =>
  (fields.products ?? [])
    .map((/** @type {string} */ id) => nameOf("product", id) ?? t("office.not_on_phone"))
    .join(" + ");

/**
 * A row of a list: the name with what tells it apart.
 * @param {{ kind: string, fields: Record<string, any>, detail: string }} props
 */
export function RowText({ kind, fields, detail }) {
  const name = nameInList(kind, fields, useNames());
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
