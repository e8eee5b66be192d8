// The current language's words for every component. app.js sets them; a component that calls `t` while it
// renders is rendered again when the language changes.
import { signal } from "@preact/signals";
import { Words } from "../core/words.js";

/** The catalogue in force. */
export const words = signal(new Words("en", {}));

/**
 * The words for a code.
 * A code without a message shows as itself: tests/arch/test_words.py keeps that from happening, and a page
 * in a greenhouse must not go down over a missing sentence.
 * @param {string} code
 * @param {Record<string, string | number>} [params]
 * @returns {string}
 */
export function t(code, params) {
  return words.value.has(code) ? words.value.text(code, params) : code;
}

/**
 * Whether the catalogue knows a code; for messages that other parts may or may not have words for.
 * @param {string} code
 */
export function hasWords(code) {
  return words.value.has(code);
}
