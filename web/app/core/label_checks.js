/**
 * What the labels say about an application: crop, site, method, mix, ceilings, season, interval. Twin:
 * server/tepal/domain/label_checks.py. Hard stops are the label's ceilings, a crop, site or country not on
 * it, its minimum interval and what it forbids to mix; a trial authority on file that names the product
 * turns them into cautions. What a label does not say is "not on file: read the label". The label is the
 * law; a limit never comes from here.
 * @module
 */

import { appliedDoses } from "./applied.js";
import { Finding, textOf } from "./errors.js";
import { aisOf, compare, isPermitValid, LabelTeller, labelled, valuesOf } from "./label_teller.js";
import { fitOf, limitOf } from "./label_uses.js";
import { historyFindings } from "./season_checks.js";

/** @typedef {Readonly<Record<string, any>>} JsonRecord */
/** @typedef {import("./applied.js").AppliedDose} AppliedDose */
/** @typedef {import("./label_uses.js").Fit} Fit */

const FIELDS = [
  ["max_concentration", "per_l", "checks.concentration_above_label"],
  ["max_dose_area", "per_m2", "checks.dose_above_label"],
  ["max_dose_container", "per_container", "checks.dose_above_label"],
];

/**
 * Return what is to be said about the trial authority that the application names.
 * @param {JsonRecord} situation
 * @returns {ReadonlyArray<Finding>}
 */
export function permitFindings(situation) {
  const permit = situation.permit ?? null;
  if (permit === null) return Object.freeze([]);
  const context = { permit: textOf(permit.number) };
  const source = "permit on file";
  if (!isPermitValid(permit, situation)) {
    return Object.freeze([
      new Finding(
        "checks.permit_not_valid",
        "caution",
        "The permit is not valid today: it opens nothing.",
        "permit",
        source,
        context,
      ),
    ]);
  }
  return Object.freeze([
    new Finding(
      "checks.permit_crop_fate",
      "caution",
      "Under a permit: what becomes of the crop is laid down.",
      "permit",
      source,
      { ...context, crop_fate: textOf(permit.crop_fate) },
    ),
  ]);
}

/**
 * Return what the labels of an application's products say; `situation` as in `checks`.
 * @param {JsonRecord} situation
 * @returns {ReadonlyArray<Finding>}
 */
export function labelFindings(situation) {
  const application = situation.application ?? {};
  const doses = appliedDoses(application);
  const findings = [...permitFindings(situation)];
  const pairs = labelled(situation);
  const products = pairs.map(([product]) => product);
  for (const [number, [product, label]] of pairs.entries()) {
    if (product.kind !== "product" && product.kind !== "adjuvant") continue;
    const teller = new LabelTeller(product, label, situation);
    if (Object.keys(label).length === 0) {
      teller.say("checks.label_not_on_file", "note", "its label is not on file: read the label.", "products");
    } else {
      sayCountry(teller, situation);
      sayMixing(teller, number, products);
      if (product.kind === "product") {
        sayPlain(teller);
        for (const [lineNumber, line] of (application.lines ?? []).entries()) {
          sayLine(teller, situation, lineNumber, line, doses);
        }
      }
    }
    findings.push(...teller.findings);
  }
  return Object.freeze(findings);
}

/**
 * @param {LabelTeller} teller
 * @param {JsonRecord} situation
 */
function sayCountry(teller, situation) {
  const establishment = situation.establishment ?? {};
  for (const field of ["country", "region"]) {
    const label = textOf(teller.label[field]).trim().toUpperCase();
    const here = textOf(establishment[field]).trim().toUpperCase();
    if (label === "") {
      if (field === "country") {
        teller.say(
          "checks.country_not_on_file",
          "note",
          "the country of its label is not on file: read the label.",
          "products",
        );
      }
    } else if (here !== "" && label.replace(/^US-/, "") !== here.replace(/^US-/, "")) {
      // free text, such as a country's name in full, is for a person to compare
      const isCode = field === "country" && label.length === 2 && here.length === 2;
      teller.say(
        "checks.other_country",
        isCode ? "stop" : "caution",
        `its label is for ${label}, not for ${here}.`,
        "products",
        { label, here },
      );
    }
  }
}

/**
 * Compare the partners in the tank with what the label says about mixing and adjuvants.
 * @param {LabelTeller} teller
 * @param {number} number
 * @param {ReadonlyArray<JsonRecord>} products
 */
function sayMixing(teller, number, products) {
  if (teller.product.kind !== "product") return;
  const others = products.filter((_, i) => i !== number);
  const partners = others.filter((one) => one.kind === "product");
  const hasAdjuvant = others.some((one) => one.kind === "adjuvant");
  const mixing = teller.label.tank_mixing ?? null;
  if (partners.length > 0) {
    if (mixing === "forbidden") {
      teller.say("checks.mix_forbidden", "stop", "its label forbids tank mixes.", "products");
    } else if (mixing === null) {
      teller.say(
        "checks.mix_not_on_file",
        "note",
        "whether it may be mixed is not on file: read the label.",
        "products",
      );
    } else if (mixing === "listed_only") {
      const listed = textOf(teller.label.tank_mix_partners).toLowerCase();
      for (const one of partners) {
        const name = textOf(one.name).trim().toLowerCase();
        if ([name, ...aisOf(one)].some((word) => word !== "" && listed.includes(word))) continue;
        teller.say(
          "checks.mix_not_listed",
          "caution",
          `${name} is not among the partners on file.`,
          "products",
          { place: textOf(one.name) },
        );
      }
    }
  }
  const adjuvants = teller.label.adjuvants ?? null;
  if (hasAdjuvant && adjuvants === "forbidden") {
    teller.say("checks.adjuvant_forbidden", "stop", "its label forbids adjuvants.", "products");
  } else if (hasAdjuvant && adjuvants === null) {
    teller.say(
      "checks.adjuvant_not_on_file",
      "note",
      "whether an adjuvant may be added is not on file: read the label.",
      "products",
    );
  } else if (!hasAdjuvant && adjuvants === "required") {
    teller.say("checks.adjuvant_required", "caution", "its label asks for an adjuvant.", "products");
  }
}

/**
 * What concerns the product wherever it goes.
 * @param {LabelTeller} teller
 */
function sayPlain(teller) {
  if ((teller.label.rei ?? null) === null) {
    teller.say(
      "checks.rei_not_on_file",
      "caution",
      "its REI is not on file: nobody can be told when to enter.",
      "products",
    );
  }
  if (teller.label.hours_limited === true) {
    teller.say(
      "checks.hours_limited",
      "caution",
      "its label limits the hours of use: read the label.",
      "started_at",
    );
  }
}

/**
 * @param {LabelTeller} teller
 * @param {JsonRecord} situation
 * @param {number} number
 * @param {JsonRecord} line
 * @param {ReadonlyArray<Readonly<AppliedDose>>} doses
 */
function sayLine(teller, situation, number, line, doses) {
  const { application } = situation;
  const place = textOf(line.place);
  const lot = situation.lots?.[line.lot ?? ""] ?? {};
  const crop = {
    crop: textOf(lot.crop) || textOf(line.crop),
    crop_eppo: textOf(line.crop_eppo) || textOf(lot.crop_eppo),
  };
  const fit = fitOf(teller.label, crop, application.site ?? null, application.method ?? null);
  sayFit(teller, fit, crop, application);
  if (fit.uses.length === 0) return;
  const product = teller.product.product ?? null;
  const mine = doses.filter(
    (dose) => dose.line === number && dose.product === product && dose.name === teller.name,
  );
  sayCeilings(teller, fit, mine, place);
  if ((line.lot ?? null) !== null) historyFindings(teller, fit, mine, situation, line);
  sayStage(teller, fit, line, lot);
}

/** @type {Readonly<Record<string, string>>} */
const FIT_FIELDS = { crop: "lines", site: "site", method: "method" };

/**
 * @param {LabelTeller} teller
 * @param {Readonly<Fit>} fit
 * @param {JsonRecord} crop
 * @param {JsonRecord} application
 */
function sayFit(teller, fit, crop, application) {
  if (fit.without === "uses_not_on_file") {
    teller.say(
      "checks.uses_not_on_file",
      "note",
      "no crop, site or ceiling is on file: read the label.",
      "products",
    );
  } else if (fit.without === "crop") {
    teller.say("checks.crop_not_on_label", "stop", `${crop.crop} is not among the crops on file.`, "lines", {
      place: crop.crop,
    });
  } else if (fit.without === "site") {
    const site = textOf(application.site);
    teller.say("checks.site_not_on_label", "stop", `${site} is not among the sites on file.`, "site", {
      site,
    });
  } else if (fit.without === "method") {
    teller.say("checks.method_not_on_label", "caution", "the method is not among those on file.", "method", {
      method: textOf(application.method),
    });
  }
  for (const field of fit.unknown) {
    teller.say(
      `checks.${field}_not_on_file`,
      "note",
      `the ${field}s of this use are not on file: read the label.`,
      FIT_FIELDS[field],
    );
  }
}

/**
 * @param {LabelTeller} teller
 * @param {Readonly<Fit>} fit
 * @param {ReadonlyArray<Readonly<AppliedDose>>} doses
 * @param {string} place
 */
function sayCeilings(teller, fit, doses, place) {
  let nOnFile = 0;
  for (const [field, per, code] of FIELDS) {
    const limit = limitOf(fit.uses, field, per);
    if (limit === null) continue;
    nOnFile += 1;
    compare(teller, limit, code, valuesOf(limit, doses), place);
  }
  if (nOnFile === 0) {
    teller.say("checks.ceiling_not_on_file", "note", "no ceiling is on file: read the label.", "products");
  }
}

/**
 * @param {LabelTeller} teller
 * @param {Readonly<Fit>} fit
 * @param {JsonRecord} line
 * @param {JsonRecord} lot
 */
function sayStage(teller, fit, line, lot) {
  const place = textOf(line.place);
  const ranges = fit.uses
    .map((use) => [use.bbch_from ?? null, use.bbch_to ?? null])
    .filter(([first, last]) => first !== null || last !== null);
  if (ranges.length === 0) {
    const stage = fit.uses.map((use) => textOf(use.stage)).find((words) => words !== "") ?? "";
    if (teller.label.stage_limited === false) return;
    if (stage !== "" || teller.label.stage_limited === true) {
      teller.say(
        "checks.stage_to_compare",
        "caution",
        "its label limits the use to growth stages: compare.",
        "lines",
        { stage },
      );
    } else {
      teller.say(
        "checks.stage_not_on_file",
        "note",
        "whether its label limits the growth stage is not on file: read the label.",
        "lines",
      );
    }
    return;
  }
  const bbch = line.bbch ?? lot.bbch ?? null;
  const low = Math.min(...ranges.map(([first]) => first ?? 0));
  const high = Math.max(...ranges.map(([, last]) => last ?? 99));
  if (bbch === null) {
    teller.say(
      "checks.stage_unknown",
      "caution",
      `its label allows BBCH ${low} to ${high}; the lot's stage is not on record.`,
      "lines",
      { place, low, high },
    );
  } else if (
    !ranges.some(([first, last]) => (first === null || bbch >= first) && (last === null || bbch <= last))
  ) {
    teller.say(
      "checks.stage_outside_label",
      "caution",
      `BBCH ${bbch} is outside the label's ${low} to ${high}.`,
      "lines",
      { place, bbch, low, high },
    );
  }
}
