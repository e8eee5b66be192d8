// What pages ask of the device they run on, and the words for a request that failed.
import { hasWords, t } from "../ui/words.js";

/** Whether the app runs from the home screen or its own window. */
export const isInstalled = () =>
  matchMedia("(display-mode: standalone)").matches || /** @type {any} */ (navigator).standalone === true;

/** A first name for this device, to be changed in the office. */
export function nameOfDevice() {
  const agent = navigator.userAgent;
  if (/iPhone/.test(agent)) return "iPhone";
  if (/iPad/.test(agent)) return "iPad";
  if (/Android/.test(agent)) return "Android";
  return t("device.office");
}

/**
 * Why a request failed, what is allowed and what to do, in words.
 * @param {{ cause?: string, code: string, body?: any }} failed
 */
export function failureText(failed) {
  const code = `error.${failed.code}`;
  if (hasWords(code)) return t(code, failed.body?.fields ?? {});
  return t(failed.cause === "offline" ? "error.no_connection" : "error.other", { code: failed.code });
}
