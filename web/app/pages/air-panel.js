// Air and light: vapour pressure deficit from two readings, the day's light from readings through the day. Nothing is stored.
import { dliFromReadingsMol, vpdKpa } from "../core/air.js";
import { formatQuantity } from "../core/rounding.js";
import { toBase } from "../core/units.js";
import { AskedQuantity } from "../forms/asked-quantity.js";
import { readQuantity } from "../forms/typed-quantity.js";
import { Button } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { coreText } from "./core-words.js";

/** @typedef {import("../core/rounding.js").NumberFormat} NumberFormat */
/** @typedef {import("../forms/typed-quantity.js").Typed} Typed */
/** @typedef {{at: string, flux: Typed}} LightRow  Time of day HH:MM, and the reading. */

/**
 * Two readings of the air, with the deficit they give.
 * @param {{ air: {temperature: Typed, humidity: Typed}, onAir: (air: {temperature: Typed, humidity: Typed}) => void,
 *   numberFormat: NumberFormat }} props
 */
export function AirFields({ air, onAir, numberFormat }) {
  return html`<div class="two-inputs">
      <${AskedQuantity} label=${t("field.air_temperature")} isOptional=${true} typed=${air.temperature} units=${["Cel", "[degF]"]} numberFormat=${numberFormat}
        mayBeBelow=${true} onTyped=${(/** @type {Typed} */ temperature) => onAir({ ...air, temperature })} />
      <${AskedQuantity} label=${t("field.air_humidity")} isOptional=${true} typed=${air.humidity} units=${["%"]} numberFormat=${numberFormat}
        mayBeZero=${true} onTyped=${(/** @type {Typed} */ humidity) => onAir({ ...air, humidity })} />
    </div>
    <${Vpd} air=${air} numberFormat=${numberFormat} />`;
}

/** The readings as they are stored; null where one is not there. @param {{temperature: Typed, humidity: Typed}} air @param {NumberFormat} format */
export const airOf = (air, format) => ({
  temperature: readQuantity(air.temperature, format, { mayBeBelow: true }).stored,
  humidity: readQuantity(air.humidity, format, { mayBeZero: true }).stored,
});

/** @param {{ air: {temperature: Typed, humidity: Typed}, numberFormat: NumberFormat }} props */
function Vpd({ air, numberFormat }) {
  const { temperature, humidity } = airOf(air, numberFormat);
  if (!temperature || !humidity) return null;
  return told(
    () =>
      t("air.vpd", {
        vpd: formatQuantity(
          vpdKpa(toBase(Number(temperature.value), temperature.unit), Number(humidity.value)),
          "kPa",
          numberFormat,
          2,
        ),
      }),
    numberFormat,
  );
}

/** A result in words, or why there is none. @param {() => string} say @param {NumberFormat} numberFormat */
function told(say, numberFormat) {
  try {
    return html`<p class="said" role="status">${say()}</p>`;
  } catch (error) {
    if (!(error instanceof Error && "code" in error)) throw error;
    return html`<${Message} tone="caution" title=${coreText(error, numberFormat)} />`;
  }
}

/**
 * @param {{ air: any, onAir: (air: any) => void, light: LightRow[], onLight: (light: LightRow[]) => void, numberFormat: NumberFormat }} props
 */
export function AirPanel({ air, onAir, light, onLight, numberFormat }) {
  const put = (/** @type {number} */ at, /** @type {Partial<LightRow>} */ more) =>
    onLight(light.map((row, other) => (other === at ? { ...row, ...more } : row)));
  const readings = light
    .map(({ at, flux }) => ({ at, stored: readQuantity(flux, numberFormat, { mayBeZero: true }).stored }))
    .filter(({ at, stored }) => at !== "" && stored !== null);
  return html`<details class="card"><summary><b>${t("air.title")}</b></summary><div class="stack">
    <${AirFields} air=${air} onAir=${onAir} numberFormat=${numberFormat} />
    <h3>${t("air.light")}</h3><p class="muted">${t("air.light_how")}</p>
    ${light.map(
      ({ at, flux }, number) => html`<div class="two-inputs" key=${number}>
        <label class="field"><span class="field-label">${t("air.time")}</span>
          <input class="input" type="time" value=${at} onInput=${(/** @type {any} */ event) => put(number, { at: event.currentTarget.value })} /></label>
        <${AskedQuantity} label=${t("air.ppfd")} typed=${flux} units=${["umol/m2/s"]} numberFormat=${numberFormat} mayBeZero=${true}
          onTyped=${(/** @type {Typed} */ typed) => put(number, { flux: typed })} />
      </div>`,
    )}
    <div><${Button} icon="plus" onPress=${() => onLight([...light, { at: "", flux: { value: "", unit: "umol/m2/s" } }])}>${t("air.add_reading")}<//></div>
    ${
      readings.length > 1 &&
      told(() => {
        const mol = dliFromReadingsMol(
          readings.map(({ at, stored }) => [secondsOf(at), Number(stored?.value)]),
        );
        return t("air.dli", {
          dli: formatQuantity(mol, "mol/m2/d", numberFormat),
          from: readings[0].at,
          to: readings[readings.length - 1].at,
        });
      }, numberFormat)
    }
  </div></details>`;
}

/** Seconds since midnight. @param {string} time  HH:MM */
const secondsOf = (time) => Number(time.slice(0, 2)) * 3600 + Number(time.slice(3, 5)) * 60;
