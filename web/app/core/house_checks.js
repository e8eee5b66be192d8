/**
 * The place, the person, the sprayer, the PPE and the air before a treatment. Twin:
 * server/tepal/domain/house_checks.py. Only a restricted area bars, and only who is no trained handler; the
 * rest are house rules: cautions that are answered with a reason (common practice, no source).
 * @module
 */

import { entryFindings } from "./entry.js";
import { Finding, textOf } from "./errors.js";
import { labelled, shown } from "./label_teller.js";
import { dayNumber } from "./moments.js";
import { placeState } from "./restriction.js";
import { quantityValue } from "./units.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */

// Common practice, no source: a certificate that runs out within a month is worth a word.
export const SOON_DAYS = 30;

const HOUSE = "house rule (no source)";
const HANDLERS = ["certified_applicator", "noncertified_applicator", "handler_training"];
const CERTIFIED = ["certified_applicator", "noncertified_applicator"];
const CALIBRATED = ["spray", "sprench"];

/**
 * @param {string} code
 * @param {string} message
 * @param {string} field
 * @param {string} source
 * @param {Readonly<Record<string, any>>} [context]
 */
function caution(code, message, field, source, context = {}) {
  return new Finding(code, "caution", message, field, source, context);
}

/**
 * @param {string} code
 * @param {string} message
 * @param {string} field
 * @param {string} source
 * @param {Readonly<Record<string, any>>} [context]
 */
function note(code, message, field, source, context = {}) {
  return new Finding(code, "note", message, field, source, context);
}

/**
 * Return what place, person, sprayer, PPE and air say; `situation` as in `checks`.
 * @param {JsonRecord} situation
 * @returns {ReadonlyArray<Finding>}
 */
export function houseFindings(situation) {
  return Object.freeze([
    ...placeFindings(situation),
    ...personFindings(situation),
    ...sprayerFindings(situation),
    ...ppeFindings(situation),
    ...airFindings(situation),
  ]);
}

/**
 * @param {JsonRecord} certificate
 * @param {string} today
 */
function isValid(certificate, today) {
  const until = certificate.expires_on ?? null;
  return until === null || today <= until;
}

/**
 * @param {JsonRecord} situation
 * @returns {JsonRecord[]}
 */
function certificatesOf(situation) {
  return situation.certificates ?? [];
}

/** @param {ReadonlyArray<string>} days */
function latest(days) {
  let last = days[0];
  for (const day of days) if (day > last) last = day;
  return last;
}

/**
 * @param {JsonRecord} situation
 * @returns {ReadonlyArray<Finding>}
 */
function placeFindings(situation) {
  const now = situation.now_ms ?? null;
  if (now === null) return [];
  const state = placeState(
    situation.restrictions ?? [],
    now,
    situation.heard_ms ?? null,
    situation.skew_ms ?? null,
    situation.establishment?.ventilation_parts_add === true,
  );
  const today = textOf(situation.today);
  const isHandler = certificatesOf(situation).some(
    (one) => HANDLERS.includes(one.sort) && isValid(one, today),
  );
  return entryFindings(
    { code: state.code },
    { is_handler: isHandler, is_adult: situation.operator?.is_adult },
  );
}

/**
 * Certificates and training: a restricted-use product asks for a certified applicator.
 * @param {JsonRecord} situation
 * @returns {Finding[]}
 */
function personFindings(situation) {
  if ((situation.operator ?? null) === null) return [];
  const today = textOf(situation.today);
  const isRestricted = labelled(situation).some(
    ([product, label]) => product.restricted_use === true || label.restricted_use === true,
  );
  const wanted = isRestricted ? CERTIFIED : HANDLERS;
  const held = certificatesOf(situation).filter((one) => wanted.includes(one.sort));
  const valid = held.filter((one) => isValid(one, today));
  /** @type {Finding[]} */
  const findings = [];
  if (valid.length > 0) {
    const ends = valid.map((one) => textOf(one.expires_on));
    const last = latest(ends);
    if (!ends.includes("") && dayNumber(last) - dayNumber(today) <= SOON_DAYS) {
      findings.push(
        note("checks.certificate_runs_out", "The certificate or training runs out soon.", "operator", HOUSE, {
          until: last,
        }),
      );
    }
    const isSupervised = valid.some((one) => one.sort === "certified_applicator");
    if (isRestricted && !isSupervised && !situation.application?.certified_applicator) {
      findings.push(
        caution(
          "checks.supervisor_missing",
          "A restricted-use product needs a certified applicator who supervises.",
          "certified_applicator",
          "40 CFR 171.303(b)(7)",
        ),
      );
    }
    return findings;
  }
  if (held.length > 0) {
    return [
      caution(
        "checks.certificate_expired",
        "The certificate or training on file is out of date.",
        "operator",
        HOUSE,
        { until: latest(held.map((one) => textOf(one.expires_on))) },
      ),
    ];
  }
  if (isRestricted) {
    return [
      caution(
        "checks.certificate_not_on_file",
        "A restricted-use product needs a certificate; none is on file.",
        "operator",
        "40 CFR 171.303(b)(7)",
      ),
    ];
  }
  return [
    caution(
      "checks.training_not_on_file",
      "No handler training is on file for this person.",
      "operator",
      "40 CFR 170.405(b), 170.505",
    ),
  ];
}

/**
 * @param {JsonRecord} situation
 * @returns {Finding[]}
 */
function sprayerFindings(situation) {
  if (!CALIBRATED.includes(situation.application?.method)) return [];
  const sprayer = situation.sprayer ?? null;
  if (sprayer === null) {
    return [note("checks.sprayer_not_named", "No sprayer is named.", "sprayer", HOUSE)];
  }
  const name = textOf(sprayer.name);
  /** @type {JsonRecord[]} */
  const calibrations = situation.calibrations ?? [];
  const days = calibrations.filter((one) => one.measured_on).map((one) => textOf(one.measured_on));
  if (days.length === 0) {
    return [
      caution("checks.sprayer_not_calibrated", `${name} was never calibrated.`, "sprayer", HOUSE, {
        sprayer: name,
      }),
    ];
  }
  const every = sprayer.calibrate_every ?? null;
  if (every === null) {
    return [
      note(
        "checks.calibration_term_not_on_file",
        `How often ${name} is calibrated is not set.`,
        "sprayer",
        HOUSE,
        { sprayer: name },
      ),
    ];
  }
  const most = quantityValue(every, "time", "calibrate_every") / 86_400;
  const age = dayNumber(situation.today) - dayNumber(latest(days));
  if (age <= most) return [];
  return [
    caution(
      "checks.calibration_old",
      `${name} was calibrated ${age} days ago; set are ${most}.`,
      "sprayer",
      HOUSE,
      { sprayer: name, age, most },
    ),
  ];
}

/**
 * PPE not ticked; `step` is mixing, spraying or done, and says what must be by now.
 * @param {JsonRecord} situation
 * @returns {Finding[]}
 */
function ppeFindings(situation) {
  const step = situation.step ?? null;
  const acts = step === null || step === "mixing" ? ["mixing"] : ["mixing", "applying"];
  /** @type {Finding[]} */
  const findings = [];
  for (const act of acts) {
    const field = `ppe_${act}_worn`;
    for (const [product, label] of labelled(situation)) {
      if (label[`ppe_${act}`] || product[`ppe_${act}`]) continue;
      const name = textOf(product.name);
      findings.push(
        note(
          "checks.ppe_not_on_file",
          `${name}: the PPE for ${act} is not on file: read the label.`,
          field,
          "label as copied by the user",
          { product: name },
        ),
      );
    }
    if (situation.application?.[field] !== true) {
      findings.push(caution("checks.ppe_not_ticked", `The PPE for ${act} is not ticked.`, field, HOUSE));
    }
  }
  return findings;
}

/**
 * The air window that the establishment set; where it set none, nothing is said.
 * @param {JsonRecord} situation
 * @returns {Finding[]}
 */
function airFindings(situation) {
  const establishment = situation.establishment ?? {};
  /** @type {Finding[]} */
  const findings = [];
  for (const [field, dimension] of [
    ["air_temperature", "temperature"],
    ["air_humidity", "fraction"],
  ]) {
    const low = establishment[`${field}_min`] ?? null;
    const high = establishment[`${field}_max`] ?? null;
    if (low === null && high === null) continue;
    const measured = situation.application?.[field] ?? null;
    if (measured === null) {
      findings.push(caution(`checks.${field}_not_measured`, "It was not measured.", field, HOUSE));
      continue;
    }
    const value = quantityValue(measured, dimension, field);
    const isLow = low !== null && value < quantityValue(low, dimension, field);
    const isHigh = high !== null && value > quantityValue(high, dimension, field);
    if (isLow || isHigh) {
      findings.push(
        caution(`checks.${field}_outside`, "It is outside the window of the house.", field, HOUSE, {
          value: shown(measured),
          low: shown(low),
          high: shown(high),
        }),
      );
    }
  }
  return findings;
}
