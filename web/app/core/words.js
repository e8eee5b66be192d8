// Messages for people: a code and parameters become a sentence in one language.
// Twin: server/tepal/domain/words.py, where the form of a message is described. Pure: the catalogue is
// passed in.

import { NotFoundError, TepalError } from "./errors.js";

const PLACE = /\{(\w+)(?:\|([^{}|]*)\|([^{}|]*))?\}/g;

/** A message asks for a parameter that was not given. */
export class WordsError extends TepalError {}

/**
 * The message with its places filled.
 * @param {string} message  May hold `{name}` and `{name|one|other}`.
 * @param {Record<string, string | number>} params  Text or whole number; more than needed is fine.
 * @returns {string}
 * @throws {WordsError} `words.missing_param`
 */
export function fillMessage(message, params) {
  return message.replace(PLACE, (_, name, one, other) => {
    if (!Object.hasOwn(params, name)) {
      throw new WordsError("words.missing_param", `the message '${message}' needs the parameter '${name}'`, {
        template: message,
        name,
      });
    }
    const value = String(params[name]);
    if (one === undefined) return value;
    return value === "1" ? one : other;
  });
}

/**
 * The names of the parameters that a message needs, sorted, each once.
 * @param {string} message
 * @returns {string[]}
 */
export function placesOf(message) {
  return [...new Set([...message.matchAll(PLACE)].map((match) => match[1]))].sort();
}

/** One language's catalogue, ready to speak. */
export class Words {
  /**
   * @param {string} language  BCP 47 tag, such as "en" or "es".
   * @param {Record<string, string>} catalogue  Code -> message; parts must be merged already.
   */
  constructor(language, catalogue) {
    this.language = language;
    this.catalogue = catalogue;
  }

  /** @param {string} code */
  has(code) {
    return Object.hasOwn(this.catalogue, code);
  }

  /**
   * The words for a code.
   * @param {string} code
   * @param {Record<string, string | number>} [params]
   * @throws {NotFoundError} `words.missing_code`
   */
  text(code, params = {}) {
    if (!this.has(code)) {
      throw new NotFoundError(
        "words.missing_code",
        `no message '${code}' in the catalogue '${this.language}'`,
        {
          asked: code,
          language: this.language,
        },
      );
    }
    return fillMessage(this.catalogue[code], params);
  }
}
