// How pages reach language and theme.
import { createContext } from "preact";
import { useContext } from "preact/hooks";

/** @typedef {import("../state/settings.js").Settings} Settings */

export const SettingsContext = createContext(/** @type {Settings | null} */ (null));

/** @returns {Settings} */
export function useSettings() {
  const settings = useContext(SettingsContext);
  if (settings === null) throw new Error("no settings around this page");
  return settings;
}
