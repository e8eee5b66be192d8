// Whose telephone numbers may stand on the emergency page: those of the establishment's country, each with what is known of
// its source. A number of the United States never stands on a page elsewhere: who calls it from there reaches nobody. Pure.
/** @typedef {{ who: string, number: string }} CallNumber */

// US EPA, "In Case of Pesticide Emergency", snapshot of 19 January 2017; not checked again.
const US = Object.freeze([
  { who: "emergency.us.unconscious", number: "911" },
  { who: "emergency.us.poison", number: "1-800-222-1222" },
  { who: "emergency.us.pesticides", number: "1-800-858-7378" },
]);
// The single European emergency number; from memory, not checked against the official text.
const EU = Object.freeze([{ who: "emergency.eu.emergency", number: "112" }]);
const EU_COUNTRIES = new Set(
  "AT BE BG CY CZ DE DK EE ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK".split(" "),
);

/**
 * @param {string | undefined} country  Two letters.
 * @returns {{ list: readonly CallNumber[], source: string | null }}
 */
export function numbersFor(country) {
  const code = (country ?? "").trim().toUpperCase();
  if (code === "US") return { list: US, source: "emergency.us.source" };
  if (EU_COUNTRIES.has(code)) return { list: EU, source: "emergency.eu.source" };
  return { list: [], source: null };
}

/** @param {string} text */
const digits = (text) => text.replace(/\D/g, "").replace(/^1(?=\d{10}$)/, "");

/**
 * The poison line that the nursery has on file; "foreign" where it is a US number and the nursery is not there.
 * @param {Record<string, any>} establishment
 */
export function ownPoisonLine({ poison_line: line, country }) {
  if (!line) return null;
  const isUsNumber = US.some(
    ({ number }) => number.length > 3 && digits(String(line)).includes(digits(number)),
  );
  return isUsNumber && (country ?? "").trim().toUpperCase() !== "US" ? "foreign" : String(line);
}
