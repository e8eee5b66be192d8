// A table into the registers: choose the file and what it holds, see what would happen, answer what is open, import.
// The server reads the table; nothing is written before "import", and then every row or none.
import { useSignal } from "@preact/signals";
import { useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { ChoiceField } from "../ui/choices.js";
import { FileDrop } from "../ui/file-drop.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { hasWords, t } from "../ui/words.js";
import { failureText } from "./device.js";
import { bytesToBase64, ImportColumns } from "./import-columns.js";

const KINDS = ["product", "lot", "house", "bay", "bench"];
const MOST_BYTES = 10_000_000; // base64 of it stays under the server's limit of a body

export function ImportTable() {
  const tepal = useTepal();
  const file = useSignal(/** @type {{ name: string, content: string } | null} */ (null));
  const kind = useSignal("product");
  const asked = useSignal(/** @type {Record<string, any>} */ ({}));
  const plan = useSignal(/** @type {any} */ (null));
  const done = useSignal(/** @type {any} */ (null));
  const failure = useSignal("");
  const isAsking = useSignal(false);

  /** @param {string} path */
  async function ask(path) {
    if (isAsking.value || file.value === null) return null;
    isAsking.value = true;
    const got = await tepal.api.post(path, { ...file.value, kind: kind.value, ...asked.value });
    isAsking.value = false;
    failure.value = got.ok ? "" : failureText(got);
    return got.ok ? got.reply : null;
  }

  /** @param {Record<string, any>} [answers] */
  async function look(answers) {
    if (answers) asked.value = { ...asked.value, ...answers };
    done.value = null;
    plan.value = (await ask("/imports/dry-run")) ?? plan.value;
  }

  /** @param {File} chosen */
  async function take(chosen) {
    plan.value = null;
    asked.value = {};
    file.value = null;
    failure.value = chosen.size > MOST_BYTES ? t("import.file_too_large", { mb: MOST_BYTES / 1e6 }) : "";
    if (failure.value) return;
    file.value = { name: chosen.name, content: bytesToBase64(await chosen.arrayBuffer()) };
    await look();
  }

  async function carryOut() {
    const found = await ask("/imports");
    if (found === null) return;
    done.value = found;
    plan.value = null;
    file.value = null;
    tepal.book.exchangeNow();
  }

  const found = plan.value;
  const codes = new Set((found?.problems ?? []).map((/** @type {any} */ one) => one.code));
  return html`<div class="stack">
    <${ChoiceField} label=${t("import.kind")} value=${kind.value} isShort=${true} choices=${KINDS.map((value) => ({ value, label: t(`import.kind.${value}`) }))}
      onValue=${(/** @type {string} */ value) => {
        kind.value = value;
        asked.value = {};
        if (file.value) look();
      }} />
    <${FileDrop} label=${t("import.file")} accept=".csv,.txt,.xlsx" name=${file.value?.name} onFile=${take} />
    ${isAsking.value && html`<p class="muted" role="status">${t("office.asking")}</p>`}
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    ${
      done.value &&
      html`<${Message} tone="passed" title=${t("import.done", { n: done.value.n_created })} live=${true}><p>${t("import.done_known", { n: done.value.n_known })}</p><//>`
    }
    ${
      found &&
      html`${
        found.sheets.length > 1 &&
        html`<${ChoiceField} label=${t("import.sheet")} value=${found.sheet} choices=${found.sheets.map((/** @type {string} */ value) => ({ value, label: value }))}
          onValue=${(/** @type {string} */ sheet) => look({ sheet, mapping: {}, units: {} })} />`
      }
      <${ImportColumns} plan=${found} mapping=${asked.value.mapping ?? {}} units=${asked.value.units ?? {}} onAnswer=${look} />
      ${
        (codes.has("import.ambiguous_number") || asked.value.decimal) &&
        html`<${ChoiceField} label=${t("import.decimal")} hint=${t("import.decimal_hint")} isShort=${true} value=${asked.value.decimal ?? ""}
          choices=${[".", ","].map((value) => ({ value, label: t(`import.decimal.${value === "." ? "point" : "comma"}`) }))}
          onValue=${(/** @type {string} */ decimal) => look({ decimal })} />`
      }
      ${
        (codes.has("import.ambiguous_day") || asked.value.dates) &&
        html`<${ChoiceField} label=${t("import.dates")} hint=${t("import.dates_hint")} isShort=${true} value=${asked.value.dates ?? ""}
          choices=${["dmy", "mdy"].map((value) => ({ value, label: t(`import.dates.${value}`) }))}
          onValue=${(/** @type {string} */ dates) => look({ dates })} />`
      }
      <${Problems} problems=${found.problems} />
      <${Message} tone=${found.problems.length > 0 ? "stopped" : "plain"} title=${found.problems.length > 0 ? t("import.not_yet") : t("import.would", { n: found.n_new })} live=${true}>
        <p>${t("import.counts", { rows: found.n_rows, known: found.n_known })}</p>
        ${found.problems.length > 0 && html`<p>${t("import.all_or_none")}</p>`}<//>
      <div class="row"><${GoButton} isOff=${isAsking.value || found.problems.length > 0 || found.n_new === 0} onPress=${carryOut}>${t("import.do", { n: found.n_new })}<//>
        <${Button} icon="sync" onPress=${() => look()}>${t("import.look_again")}<//></div>`
    }
  </div>`;
}

const SHOWN = 100;

/** Where each problem stands, what the cell says, and what cures it. @param {{ problems: any[] }} props */
function Problems({ problems }) {
  if (problems.length === 0) return null;
  return html`<section class="stack"><h3>${t("import.problems", { n: problems.length })}</h3>
    <div class="table-frame"><table class="table"><thead><tr>
      <th scope="col">${t("import.place")}</th><th scope="col">${t("import.says")}</th><th scope="col">${t("import.cure")}</th></tr></thead>
      <tbody>${problems.slice(0, SHOWN).map(
        (
          one,
          place,
        ) => html`<tr key=${place}><td>${t("import.place_is", { sheet: one.sheet, row: one.row })} <b>${one.column}</b></td>
          <td>${one.value || t("office.nothing")}</td><td>${problemText(one)}</td></tr>`,
      )}</tbody></table></div>
    ${problems.length > SHOWN && html`<p class="muted">${t("import.more", { n: problems.length - SHOWN })}</p>`}
  </section>`;
}

/** @param {{ code: string, params: Record<string, any> }} problem */
function problemText({ code, params }) {
  const own = `problem.${code}`;
  return hasWords(own) ? t(own, params) : t("problem.import.other", { code });
}
