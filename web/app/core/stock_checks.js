/**
 * Overhead water, stock, batches and partners that must not meet, before a treatment. Twin:
 * server/tepal/domain/stock_checks.py. House rules but for the pair on file: cautions that are answered with
 * a reason. How long overhead water must wait is the label's, as copied.
 * @module
 */

import { Finding, textOf } from "./errors.js";
import { labelled, shown } from "./label_teller.js";
import { momentMs } from "./moments.js";
import { quantityValue, unitOf } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */

const HOUSE = "house rule (no source)";
const LABEL = "label as copied by the user";
const OVERHEAD = ["spray", "sprench"];

/**
 * @param {string} code
 * @param {import("./errors.js").Severity} severity
 * @param {string} message
 * @param {string} source
 * @param {Readonly<Record<string, any>>} context
 */
function found(code, severity, message, source, context) {
  return new Finding(code, severity, message, "products", source, context);
}

/**
 * Return what water, stock, batches and pairs say; `situation` as in `checks`.
 * @param {JsonRecord} situation
 * @returns {ReadonlyArray<Finding>}
 */
export function stockFindings(situation) {
  return Object.freeze([
    ...waterFindings(situation),
    ...storeFindings(situation),
    ...pairFindings(situation),
  ]);
}

/**
 * Compare the next overhead watering with the wait that the labels ask for.
 * @param {JsonRecord} situation
 * @returns {Finding[]}
 */
function waterFindings(situation) {
  const application = situation.application ?? {};
  const due = situation.water_due_at ?? null;
  if (!OVERHEAD.includes(application.method)) return [];
  /** @type {Finding[]} */
  const findings = [];
  for (const [product, label] of labelled(situation)) {
    if ((product.kind || "product") !== "product") continue;
    const name = textOf(product.name);
    const wait = label.water_wait ?? null;
    if (wait === null) {
      findings.push(
        found(
          "checks.water_wait_not_on_file",
          "note",
          `${name}: how long to wait with overhead water is not on file: read the label.`,
          LABEL,
          { product: name },
        ),
      );
      continue;
    }
    if (due === null) continue;
    const ended = application.ended_at ?? null;
    const startMs = ended === null ? (situation.now_ms ?? null) : momentMs(ended);
    const hours = quantityValue(wait, "time", "water_wait") / 3600;
    if (startMs !== null && momentMs(due) - startMs < hours * 3_600_000) {
      findings.push(
        found(
          "checks.water_due",
          "caution",
          `${name}: overhead water is due before the ${hours} h are over.`,
          LABEL,
          { product: name, hours, due: textOf(due.local).slice(11, 16) },
        ),
      );
    }
  }
  return findings;
}

/**
 * What is in store, and whether the batch is out of date.
 * @param {JsonRecord} situation
 * @returns {Finding[]}
 */
function storeFindings(situation) {
  const stock = situation.stock ?? null;
  const today = textOf(situation.today);
  /** @type {Finding[]} */
  const findings = [];
  for (const [product] of labelled(situation)) {
    const name = textOf(product.name);
    const batch = situation.batches?.[product.batch ?? ""] ?? null;
    const until = batch?.expires_on ?? null;
    if (until !== null && until < today) {
      findings.push(
        found(
          "checks.batch_out_of_date",
          "caution",
          `${name}: the batch is out of date since ${until}.`,
          "batch on file",
          { product: name, batch: textOf(batch.code), until },
        ),
      );
    }
    const amount = product.amount ?? null;
    if (stock === null || amount === null) continue;
    const onHand = stock[product.product ?? ""] ?? null;
    if (onHand === null) {
      findings.push(
        found("checks.stock_not_on_file", "note", `${name}: no stock is on file.`, HOUSE, { product: name }),
      );
      continue;
    }
    const { dimension } = unitOf(amount.unit);
    if (unitOf(onHand.unit).dimension !== dimension) continue;
    if (quantityValue(amount, dimension, "amount") > quantityValue(onHand, dimension, "stock")) {
      findings.push(
        found("checks.stock_short", "caution", `${name}: there is less in store than is needed.`, HOUSE, {
          product: name,
          on_hand: shown(onHand),
          needed: shown(amount),
        }),
      );
    }
  }
  return findings;
}

/**
 * @param {JsonRecord} product
 * @returns {string[]}
 */
function partnerNames(product) {
  /** @type {JsonRecord[]} */
  const ingredients = product.ingredients ?? [];
  return [...ingredients.map((one) => textOf(one.ai)), textOf(product.name), textOf(product.product)];
}

/**
 * Partners that are on file as not to be mixed; the same rule as in the mix core.
 * @param {JsonRecord} situation
 * @returns {Finding[]}
 */
function pairFindings(situation) {
  const products = labelled(situation).map(([product]) => product);
  /** @type {Finding[]} */
  const findings = [];
  for (const [i, first] of products.entries()) {
    for (const second of products.slice(i + 1)) {
      const ones = partnerNames(first);
      const others = partnerNames(second);
      for (const pair of situation.incompatible_pairs ?? []) {
        const a = textOf(pair.a);
        const b = textOf(pair.b);
        if (a === "" || b === "") continue;
        if (!((ones.includes(a) && others.includes(b)) || (ones.includes(b) && others.includes(a)))) continue;
        const both = [textOf(first.name), textOf(second.name)]
          .sort((x, y) => (x < y ? -1 : x > y ? 1 : 0))
          .join(" + ");
        findings.push(
          found(
            "mix.incompatible_pair",
            "stop",
            `${both} are on file as not to be mixed.`,
            pair.source ?? null,
            { pair: both, reason: pair.reason ?? null },
          ),
        );
      }
    }
  }
  return findings;
}
