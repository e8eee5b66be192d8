// What a person chooses for this device: language and theme. Kept in localStorage, since the first paint needs them
// before any module runs (ui/first-paint.js).
import { effect, signal } from "@preact/signals";

export const THEMES = Object.freeze(["auto", "light", "dark", "sun"]);

/**
 * @param {{read: (key: string) => string | null, write: (key: string, value: string) => void,
 *   root: HTMLElement, prefersDark: MediaQueryList}} parts  `read` and `write` may throw in a private window.
 */
export function createSettings({ read, write, root, prefersDark }) {
  /** @param {string} key @param {string} missing */
  const kept = (key, missing) => {
    try {
      return read(`tepal.${key}`) ?? missing;
    } catch {
      return missing;
    }
  };
  /** @param {string} key @param {string} value */
  const keep = (key, value) => {
    try {
      write(`tepal.${key}`, value);
    } catch {
      // refused storage only costs the choice at the next start
    }
  };
  const theme = signal(kept("theme", "auto"));
  /** The thumb that taps: where the number pad has its large keys. */
  const hand = signal(kept("hand", "right"));
  const language = signal(kept("language", root.lang || "en"));
  const systemDark = signal(prefersDark.matches);
  prefersDark.addEventListener("change", (event) => {
    systemDark.value = event.matches;
  });
  effect(() => {
    const auto = systemDark.value ? "dark" : "light";
    root.dataset.theme = theme.value === "auto" ? auto : theme.value;
  });
  effect(() => {
    root.lang = language.value;
  });
  return {
    theme,
    language,
    hand,
    /** @param {string} value "right" or "left" */
    setHand(value) {
      hand.value = value;
      keep("hand", value);
    },
    /** @param {string} value */
    setTheme(value) {
      theme.value = value;
      keep("theme", value);
    },
    /** @param {string} value */
    setLanguage(value) {
      language.value = value;
      keep("language", value);
    },
  };
}

/** @typedef {ReturnType<typeof createSettings>} Settings */
