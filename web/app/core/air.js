/**
 * Air and light: vapour pressure deficit (VPD) and daily light integral (DLI) from readings.
 * Twin: server/tepal/domain/air.py. Formulas of FAO Irrigation and Drainage Paper 56 (Allen et al.
 * 1998), chapter 3. `exp` differs in the last digit between languages, so the twins agree to 1e-12.
 * @module
 */

import { TepalError, textOf } from "./errors.js";
import { notNegative, within } from "./ranges.js";

// Lux per umol m-2 s-1 by light source: Thimijan & Heins 1983, as quoted in a teaching list.
/** @type {Readonly<Record<string, number>>} */
export const LUX_PER_PPFD = Object.freeze({
  sun: 54.0,
  high_pressure_sodium: 82.0,
  metal_halide: 71.0,
  cool_white: 74.0,
});

/** Light readings are missing, out of order, or of an unknown source. */
export class LightError extends TepalError {}

/**
 * Return the saturation vapour pressure in kPa (FAO-56 eq. 11), for -20 to 60 degC.
 * @param {number} temperatureC
 */
export function svpKpa(temperatureC) {
  const t = within(temperatureC, "temperature_c", -20, 60);
  return 0.6108 * Math.exp((17.27 * t) / (t + 237.3));
}

/**
 * Return the day's saturation vapour pressure (FAO-56 eq. 12): mean of both extremes.
 * @param {number} minC
 * @param {number} maxC
 */
export function meanSvpKpa(minC, maxC) {
  return (svpKpa(maxC) + svpKpa(minC)) / 2;
}

/**
 * Return the actual vapour pressure at a temperature and relative humidity.
 * @param {number} temperatureC
 * @param {number} rhPct
 */
export function vapourPressureKpa(temperatureC, rhPct) {
  return (svpKpa(temperatureC) * within(rhPct, "rh_pct", 0, 100)) / 100;
}

/**
 * Return the day's actual vapour pressure from both extremes (FAO-56 eq. 17, the best).
 * @param {number} minC
 * @param {number} maxC
 * @param {number} rhMaxPct
 * @param {number} rhMinPct
 */
export function vapourPressureDailyKpa(minC, maxC, rhMaxPct, rhMinPct) {
  const morning = (svpKpa(minC) * within(rhMaxPct, "rh_max_pct", 0, 100)) / 100;
  const noon = (svpKpa(maxC) * within(rhMinPct, "rh_min_pct", 0, 100)) / 100;
  return (morning + noon) / 2;
}

/**
 * Return the day's actual vapour pressure from the mean humidity (FAO-56 eq. 19, the worst).
 * @param {number} minC
 * @param {number} maxC
 * @param {number} rhMeanPct
 */
export function vapourPressureFromMeanRhKpa(minC, maxC, rhMeanPct) {
  return (within(rhMeanPct, "rh_mean_pct", 0, 100) / 100) * meanSvpKpa(minC, maxC);
}

/**
 * Return the vapour pressure deficit of the air in kPa.
 * @param {number} temperatureC
 * @param {number} rhPct
 */
export function vpdKpa(temperatureC, rhPct) {
  return svpKpa(temperatureC) * (1 - within(rhPct, "rh_pct", 0, 100) / 100);
}

/**
 * Return the leaf-to-air deficit in kPa; below zero water condenses on the leaf.
 * @param {number} leafC
 * @param {number} airC
 * @param {number} rhPct
 */
export function leafVpdKpa(leafC, airC, rhPct) {
  return svpKpa(leafC) - (within(rhPct, "rh_pct", 0, 100) / 100) * svpKpa(airC);
}

/**
 * Return mol m-2 d-1 of a constant lamp: PPFD x hours x 0.0036; for sunlight sum readings.
 * @param {number} ppfdUmol
 * @param {number} hours
 */
export function dliMol(ppfdUmol, hours) {
  const flux = within(ppfdUmol, "ppfd_umol", 0, 5000);
  return flux * within(hours, "hours", 0, 24) * 0.0036;
}

/**
 * Return mol m-2 over readings of one day, by the trapezoid rule. Throws `LightError`
 * (`light.readings_missing`, `light.readings_not_in_order`).
 * @param {ReadonlyArray<readonly [number, number]>} readings seconds since midnight and PPFD in
 *   umol m-2 s-1, two or more, by time
 */
export function dliFromReadingsMol(readings) {
  if (readings.length < 2) {
    throw new LightError("light.readings_missing", "A light sum needs two readings or more.");
  }
  let total = 0;
  /** @type {[number, number] | null} */
  let previous = null;
  for (const reading of readings) {
    const seconds = within(reading[0], "seconds", 0, 86400);
    const flux = within(reading[1], "ppfd_umol", 0, 5000);
    if (previous !== null) {
      if (seconds <= previous[0]) {
        throw new LightError("light.readings_not_in_order", "Light readings must be in order of time.");
      }
      total += ((seconds - previous[0]) * (flux + previous[1])) / 2;
    }
    previous = [seconds, flux];
  }
  return total / 1000000;
}

/**
 * Return umol m-2 s-1 from lux for a light source of LUX_PER_PPFD. Throws `LightError`
 * (`light.source_unknown`).
 * @param {number} lux
 * @param {string} lightSource
 */
export function ppfdFromLux(lux, lightSource) {
  if (!Object.hasOwn(LUX_PER_PPFD, lightSource)) {
    throw new LightError("light.source_unknown", `${lightSource} is no light source with a known factor.`, {
      light_source: textOf(lightSource),
    });
  }
  return notNegative(lux, "lux") / LUX_PER_PPFD[lightSource];
}
