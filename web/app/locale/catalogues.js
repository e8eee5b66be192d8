// Which catalogue files make up a language, and how they are read. A part is `<part>.<language>.json`, flat:
// code -> message; no code stands in two parts. A new part is one line here per language.
import { Words } from "../core/words.js";

/** @type {Record<string, URL[]>} */
const PARTS = {
  en: [
    new URL("./app.en.json", import.meta.url),
    new URL("./forms.en.json", import.meta.url),
    new URL("./office.en.json", import.meta.url),
    new URL("./pages.en.json", import.meta.url),
    new URL("./mix.en.json", import.meta.url),
    new URL("./checks.en.json", import.meta.url),
    new URL("./mix_pages.en.json", import.meta.url),
    new URL("./registers.en.json", import.meta.url),
    new URL("./trials.en.json", import.meta.url),
    new URL("./analysis.en.json", import.meta.url),
    new URL("./trial_stages.en.json", import.meta.url),
    new URL("./trial_day.en.json", import.meta.url),
    new URL("./across.en.json", import.meta.url),
    new URL("./day.en.json", import.meta.url),
    new URL("./print.en.json", import.meta.url),
    new URL("./help.en.json", import.meta.url),
    new URL("./files.en.json", import.meta.url),
  ],
  es: [
    new URL("./app.es.json", import.meta.url),
    new URL("./forms.es.json", import.meta.url),
    new URL("./office.es.json", import.meta.url),
    new URL("./pages.es.json", import.meta.url),
    new URL("./mix.es.json", import.meta.url),
    new URL("./checks.es.json", import.meta.url),
    new URL("./mix_pages.es.json", import.meta.url),
    new URL("./registers.es.json", import.meta.url),
    new URL("./trials.es.json", import.meta.url),
    new URL("./analysis.es.json", import.meta.url),
    new URL("./trial_stages.es.json", import.meta.url),
    new URL("./trial_day.es.json", import.meta.url),
    new URL("./across.es.json", import.meta.url),
    new URL("./day.es.json", import.meta.url),
    new URL("./print.es.json", import.meta.url),
    new URL("./help.es.json", import.meta.url),
    new URL("./files.es.json", import.meta.url),
  ],
};

export const LANGUAGES = Object.freeze(Object.keys(PARTS));

/**
 * Read one language whole.
 * @param {string} language  One of LANGUAGES.
 * @param {(url: URL) => Promise<Record<string, string>>} getJson  From net/; in tests from the disk.
 * @returns {Promise<Words>}
 */
export async function loadWords(language, getJson) {
  const parts = await Promise.all(PARTS[language].map(getJson));
  return new Words(language, Object.assign({}, ...parts));
}
