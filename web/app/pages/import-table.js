// A table into the registers: choose the file and what it holds, see what would happen, answer what is open, import.
// The server reads the table; nothing is written before "import", and then every row or none. The answers, and the table
// itself, stay in this browser until then: leaving the page loses neither.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { useDraft, useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { ChoiceField } from "../ui/choices.js";
import { FileDrop } from "../ui/file-drop.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { failureText } from "./device.js";
import { bytesToBase64, ImportColumns } from "./import-columns.js";
import { ImportProblems } from "./import-problems.js";
import { useSettings } from "./settings-context.js";

const KINDS = ["product", "label_use", "lot", "house", "bay", "bench"];
const NO_SHEET = ""; // no sheet is called so
const MOST_BYTES = 10_000_000; // base64 of it stays under the server's limit of a body

const DRAFT = "import";
const FILE_DRAFT = "import/file"; // apart: it is large, and written once
const NOTHING = { kind: "product", asked: /** @type {Record<string, any>} */ ({}) };

export function ImportTable() {
  const tepal = useTepal();
  const { language } = useSettings();
  const draft = useDraft(DRAFT, NOTHING);
  const { kind, asked } = draft.value;
  const file = useSignal(/** @type {{ name: string, content: string } | null} */ (null));
  const plan = useSignal(/** @type {any} */ (null));
  const done = useSignal(/** @type {any} */ (null));
  const failure = useSignal("");
  const isAsking = useSignal(false);

  useEffect(() => {
    if (draft.ready && file.value === null)
      tepal.book.readDraft(FILE_DRAFT).then((kept) => {
        if (kept === null || file.value !== null) return;
        file.value = kept;
        look();
      });
  }, [draft.ready]);

  /** @param {string} path @param {{ kind: string, asked: Record<string, any> }} how */
  async function ask(path, how) {
    if (isAsking.value || file.value === null) return null;
    isAsking.value = true;
    const got = await tepal.api.post(path, { ...file.value, kind: how.kind, ...how.asked });
    isAsking.value = false;
    failure.value = got.ok ? "" : failureText(got);
    return got;
  }

  /** What it would do, with further answers. @param {Record<string, any>} [answers] */
  async function look(answers, how = { kind, asked: { ...asked, ...answers } }) {
    done.value = null;
    draft.merge(how);
    const got = await ask("/imports/dry-run", how);
    if (got?.ok) plan.value = got.reply;
    // the answers are for the file before this one; its columns keep theirs, its sheets are gone
    else if (got?.code === "import.no_such_sheet" && (how.asked.sheet || how.asked.uses))
      await look({}, { ...how, asked: { ...how.asked, sheet: undefined, uses: undefined } });
  }

  /** A table put right is chosen again: what was answered for its columns stays. @param {File} chosen */
  async function take(chosen) {
    plan.value = null;
    file.value = null;
    failure.value = chosen.size > MOST_BYTES ? t("import.file_too_large", { mb: MOST_BYTES / 1e6 }) : "";
    if (failure.value) return;
    file.value = { name: chosen.name, content: bytesToBase64(await chosen.arrayBuffer()) };
    // where it cannot be kept it is chosen again: the machine has it still
    await tepal.book.writeDraft(FILE_DRAFT, file.value).catch(() => undefined);
    await look();
  }

  async function forget() {
    plan.value = null;
    file.value = null;
    await Promise.all([draft.clear(), tepal.book.dropDraft(FILE_DRAFT)]);
  }

  async function carryOut() {
    const got = await ask("/imports", draft.value);
    if (!got?.ok) return;
    done.value = got.reply;
    await forget();
    tepal.book.exchangeNow();
  }

  const found = plan.value;
  const codes = new Set((found?.problems ?? []).map((/** @type {any} */ one) => one.code));
  return html`<div class="stack">
    <div class="what-choices"><${ChoiceField} label=${t("import.kind")} value=${kind} isShort=${true} choices=${KINDS.map((value) => ({ value, label: t(`import.kind.${value}`) }))}
      onValue=${(/** @type {string} */ value) => {
        plan.value = null;
        if (file.value) look({}, { kind: value, asked: {} });
        else draft.merge({ kind: value, asked: {} });
      }} /></div>
    <div class="stack"><div><a class="btn" href=${tepal.api.url(`/imports/sample/${kind}?language=${language.value}`)} download><${Icon} name="book" /><span>${t("import.sample")}</span></a></div>
      <p class="muted small">${t("import.sample_hint")}</p></div>
    <${FileDrop} label=${t("import.file")} accept=".csv,.txt,.xlsx" name=${file.value?.name} onFile=${take} />
    ${isAsking.value && html`<p class="muted" role="status">${t("office.asking")}</p>`}
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    ${
      done.value &&
      html`<${Message} tone="passed" title=${t("import.done", { n: done.value.n_created })} live=${true}>
        ${done.value.n_uses > 0 && html`<p>${t("import.done_uses", { n: done.value.n_uses })}</p>`}
        <p>${t("import.done_known", { n: done.value.n_known })}</p><//>`
    }
    ${
      found &&
      html`${
        found.sheets.length > 1 &&
        html`<${ChoiceField} label=${t("import.sheet")} value=${found.sheet} choices=${found.sheets.map((/** @type {string} */ value) => ({ value, label: value }))}
          onValue=${(/** @type {string} */ sheet) => look({ sheet, mapping: {}, units: {} })} />`
      }
      <${ImportColumns} title=${t("import.columns")} plan=${found} mapping=${asked.mapping ?? {}} units=${asked.units ?? {}} onAnswer=${look} />
      ${
        found.uses_sheets.length > 0 &&
        html`<${ChoiceField} label=${t("import.uses_sheet")} hint=${t("import.uses_hint")} value=${found.uses?.sheet ?? NO_SHEET}
          choices=${[...found.uses_sheets.map((/** @type {string} */ value) => ({ value, label: value })), { value: NO_SHEET, label: t("import.uses_none") }]}
          onValue=${(/** @type {string} */ sheet) => look({ uses: { sheet: sheet === NO_SHEET ? null : sheet } })} />`
      }
      ${
        found.uses &&
        html`<${ImportColumns} title=${t("import.columns_of", { sheet: found.uses.sheet })} plan=${found.uses} mapping=${asked.uses?.mapping ?? {}} units=${asked.uses?.units ?? {}}
          onAnswer=${(/** @type {any} */ answers) => look({ uses: { ...asked.uses, sheet: found.uses.sheet, ...answers } })} />`
      }
      ${
        (codes.has("import.ambiguous_number") || asked.decimal) &&
        html`<${ChoiceField} label=${t("import.decimal")} hint=${t("import.decimal_hint")} isShort=${true} value=${asked.decimal ?? ""}
          choices=${[".", ","].map((value) => ({ value, label: t(`import.decimal.${value === "." ? "point" : "comma"}`) }))}
          onValue=${(/** @type {string} */ decimal) => look({ decimal })} />`
      }
      ${
        (codes.has("import.ambiguous_day") || asked.dates) &&
        html`<${ChoiceField} label=${t("import.dates")} hint=${t("import.dates_hint")} isShort=${true} value=${asked.dates ?? ""}
          choices=${["dmy", "mdy"].map((value) => ({ value, label: t(`import.dates.${value}`) }))}
          onValue=${(/** @type {string} */ dates) => look({ dates })} />`
      }
      <${ImportProblems} problems=${found.problems} />
      <${Message} tone=${found.problems.length > 0 ? "stopped" : "plain"} title=${found.problems.length > 0 ? t("import.not_yet") : t("import.would", { n: found.n_new })} live=${true}>
        ${found.n_uses > 0 && html`<p>${t("import.would_uses", { n: found.n_uses })}</p>`}
        <p>${t("import.counts", { rows: found.n_rows, known: found.n_known })}</p>
        ${found.problems.length > 0 && html`<p>${t("import.all_or_none")}</p>`}<//>
      <div class="row"><${GoButton} isOff=${isAsking.value || found.problems.length > 0 || found.n_new + found.n_uses === 0} onPress=${carryOut}>${t("import.do", { n: found.n_new + found.n_uses })}<//>
        <${Button} icon="sync" onPress=${() => look()}>${t("import.look_again")}<//>
        <${Button} kind="quiet" icon="close" onPress=${forget}>${t("import.forget")}<//></div>`
    }
  </div>`;
}
