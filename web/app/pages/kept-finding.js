// A finding as it was kept with a record: its code, what it is about and the answer; its sentence from the catalogue.
import { hasWords, t } from "../ui/words.js";

/** A kept finding: of its parameters only what it is about was kept. @param {any} one */
export function keptText(one) {
  const code = `finding.${one.code}`;
  if (!hasWords(code)) return [one.code, one.about].filter(Boolean).join(" · ");
  const text = t(code, keptParams(one.about ?? ""));
  return one.about && !text.includes(one.about) ? `${text} (${one.about})` : text;
}

/** Parameters for a sentence: what it is about by any of its names, the others as an ellipsis. @param {string} about
 * @returns {any} */
function keptParams(about) {
  const standIn = (/** @type {string | symbol} */ name) =>
    ["product", "place", "sprayer", "pair"].includes(String(name)) && about ? about : "…";
  return new Proxy(
    {},
    {
      get: (_, name) => standIn(name),
      getOwnPropertyDescriptor: (_, name) => ({ configurable: true, enumerable: true, value: standIn(name) }),
    },
  );
}
