// Where to go: every plot in its block, a code typed or scanned. The walk itself needs none of this.
import { useSignal } from "@preact/signals";
import { bedsOf, stateOf, stopOfCode } from "../state/measure.js";
import { Button } from "../ui/buttons.js";
import { TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Sheet } from "../ui/sheet.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { ScanCode } from "./scan-code.js";

/** @param {{ m: import("./measuring.js").Measuring, onClose: () => void }} props */
export function PlaceSheet({ m, onClose }) {
  const typed = useSignal("");
  const problem = useSignal("");
  const beds = bedsOf(m.stops, m.fieldsAt, m.at);
  // back to a plant that is whole: the walk passes it by
  const here = m.stops.map((stop, at) => ({ stop, at })).filter(({ stop }) => stop.plot === m.stop.plot);

  /** @param {string} text */
  function jump(text) {
    const found = stopOfCode(text, String(m.fields?.code ?? ""), m.stops);
    if ("problem" in found) {
      problem.value = t(`measure.code.${found.problem}`, {
        code: found.code,
        trial: String(m.fields?.code ?? ""),
      });
      return;
    }
    m.goToPlot(found.at);
    onClose();
  }
  return html`<${Sheet} title=${t("measure.map")} onClose=${onClose}>
    <form class="with-button" onSubmit=${(/** @type {Event} */ event) => {
      event.preventDefault();
      if (typed.value.trim()) jump(typed.value);
    }}>
      <${TextField} label=${t("measure.code")} value=${typed.value} maxLength=${24} onValue=${(
        /** @type {string} */ value,
      ) => {
        typed.value = value;
        problem.value = "";
      }} /><${Button} type="submit" icon="forward">${t("measure.go")}<//></form>
    <${ScanCode} onCode=${jump} />
    ${problem.value && html`<${Message} tone="caution" title=${problem.value} live=${true} />`}
    ${
      here.length > 1 &&
      html`<section class="stack-1"><h3>${t("measure.in_plot", { code: m.stop.code })}</h3>
        <div class="row">${here.map(({ stop, at }) => {
          const state = at === m.at ? "current" : stateOf(stop, m.fieldsAt(stop));
          const name =
            stop.plant === 0 ? t("measure.whole_plot") : t("measure.the_plant", { plant: stop.plant });
          return html`<button type="button" key=${at} class=${`plot-key stop-key is-${state}`} aria-label=${t(`measure.key.${state === "started" ? "ahead" : state}`, { code: name })} onClick=${() => {
            m.goTo(at);
            onClose();
          }}>${name}</button>`;
        })}</div></section>`
    }
    ${beds.map(
      ({ block, plots }) => html`<section class="stack-1" key=${block ?? 0}>
        ${block !== null && html`<h3>${t("measure.block", { block })}</h3>`}
        <div class="plot-keys">${plots.map(
          ({ plot, code, first, state }) =>
            html`<button type="button" key=${plot} class=${`plot-key is-${state}`} aria-label=${t(`measure.key.${state}`, { code })} onClick=${() => {
              m.goToPlot(first);
              onClose();
            }}>${code}</button>`,
        )}</div></section>`,
    )}
  <//>`;
}
