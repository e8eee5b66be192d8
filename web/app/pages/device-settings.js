// Language and look of this device: on the sign-in page and under the sync page.
import { THEMES } from "../state/settings.js";
import { ChoiceField } from "../ui/choices.js";
import { html } from "../ui/html.js";
import { t } from "../ui/words.js";
import { useSettings } from "./settings-context.js";

const LANGUAGES = [
  { value: "en", label: "English" },
  { value: "es", label: "Español" },
];

export function DeviceSettings() {
  const settings = useSettings();
  return html`<div class="stack">
    <${ChoiceField} label=${t("settings.language")} isShort=${true} value=${settings.language.value}
      onValue=${settings.setLanguage} choices=${LANGUAGES} />
    <${ChoiceField} label=${t("settings.theme")} isShort=${true} value=${settings.theme.value} onValue=${settings.setTheme}
      choices=${THEMES.map((value) => ({ value, label: t(`settings.theme.${value}`) }))} />
    <${ChoiceField} label=${t("settings.hand")} hint=${t("settings.hand_hint")} isShort=${true} value=${settings.hand.value} onValue=${settings.setHand}
      choices=${["right", "left"].map((value) => ({ value, label: t(`settings.hand.${value}`) }))} />
  </div>`;
}
