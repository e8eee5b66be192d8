// The words for fields and choices. A field has words of its own (`field.calibration.method`) only where the general ones
// (`field.method`) would not say what is meant.
import { hasWords, t } from "../ui/words.js";

/**
 * @param {string} words  Kind and path of names, "product.ingredients.strength".
 * @returns {string}
 */
export function fieldLabel(words) {
  const own = `field.${words}`;
  return hasWords(own) ? t(own) : t(`field.${lastOf(words)}`);
}

/**
 * @param {string} words  Kind and path of names, "tank_mix.method".
 * @param {string} value  One of the field's choices.
 * @returns {string}
 */
export function choiceLabel(words, value) {
  const own = `choice.${words}.${value}`;
  return hasWords(own) ? t(own) : t(`choice.${lastOf(words)}.${value}`);
}

/** @param {string} words */
const lastOf = (words) => words.slice(words.lastIndexOf(".") + 1);
