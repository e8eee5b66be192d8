// How far a phone's clock is off the office's, from what the phone said of itself and when the office heard that.

import { MAX_SKEW_MS } from "./restriction.js";

/**
 * Whole minutes by which a phone's clock differs from the office's; null where that is within 5 minutes or unknown.
 * @param {{device_utc?: unknown, said_at?: unknown} | null | undefined} status `device_utc` by the phone's clock,
 *   `said_at` by the office's, both ISO; the way between them, seconds, is part of the difference
 * @returns {number | null} positive where the phone is ahead
 */
export function minutesOff(status) {
  const offMs = Date.parse(String(status?.device_utc)) - Date.parse(String(status?.said_at));
  return Math.abs(offMs) > MAX_SKEW_MS ? Math.round(offMs / 60_000) : null;
}
