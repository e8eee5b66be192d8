// A problem of a field in words: what was wrong, the value with its unit, what is allowed, what to do.
import { UNITS } from "../core/units.js";
import { t } from "../ui/words.js";

/** @typedef {import("./checks.js").Problem} Problem */

const NO_BOUND = 1e9; // the registry's way to say that there is no upper bound

/**
 * @param {Problem} problem
 * @returns {string}
 */
export function problemText({ code, params }) {
  const unit = typeof params.unit === "string" ? (UNITS[params.unit]?.symbol ?? params.unit) : "";
  const spoken = { ...params, unit: unit === "" ? "" : `\u00a0${unit}` };
  if (code === "out_of_range" && Number(params.max) >= NO_BOUND) return t("form.below_least", spoken);
  return t(`form.${code}`, spoken);
}
