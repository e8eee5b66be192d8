// Values from a sheet, and whole trials from a file: looked at first, with every problem named by its cell; then all or nothing.
import { useSignal } from "@preact/signals";
import { useLocation } from "preact-iso";
import { numberFormatOf } from "../core/number_format.js";
import { formatNumber } from "../core/rounding.js";
import { useRecord, useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { EmptyState, Message } from "../ui/state.js";
import { hasWords, t } from "../ui/words.js";
import { failureText } from "./device.js";
import { useWrittenNumbers } from "./establishment.js";
import { PasswordSession } from "./password-session.js";
import { useSettings } from "./settings-context.js";
import { RefSelect } from "./trial-plan-what.js";

const MOST_MB = 11; // in base64 a third more, which the server still takes

/** @param {File} file */
async function base64Of(file) {
  const bytes = new Uint8Array(await file.arrayBuffer());
  let text = "";
  for (let i = 0; i < bytes.length; i += 0x8000)
    text += String.fromCharCode(...bytes.subarray(i, i + 0x8000));
  return btoa(text);
}

/** @param {{ label: string, accept: string, onFile: (file: File) => void }} props */
function FileButton({ label, accept, onFile }) {
  return html`<label class="btn photo-button"><span>${label}</span><input class="visually-hidden" type="file" accept=${accept} onChange=${(
    /** @type {Event} */ event,
  ) => {
    const input = /** @type {HTMLInputElement} */ (event.currentTarget);
    const file = input.files?.[0];
    input.value = "";
    if (file) onFile(file);
  }} /></label>`;
}

/** @param {{ frame: any, id: string }} props */
export function ImportValuesPage({ frame, id }) {
  const tepal = useTepal();
  const trial = useRecord("trial", id);
  const asked = useSignal(/** @type {any} */ (null));
  const plan = useSignal(/** @type {any} */ (null));
  const failure = useSignal("");
  const assessment = useSignal("-");
  const isDone = useSignal(false);
  const { language } = useSettings();
  const numberFormat = numberFormatOf(useWrittenNumbers());
  const back = html`<${Button} kind="quiet" icon="back" href=${`/trials/${id}`}>${trial?.shown.fields.code ?? t("kind.trial")}<//>`;
  const title = t("trial.import_values");
  if (!trial) {
    return frame(
      null,
      html`<${Page} title=${title} actions=${back}>${trial === null && html`<${EmptyState} icon="trial" title=${t("trial.not_here")} />`}<//>`,
    );
  }

  /** @param {any} body @param {boolean} isDry */
  async function send(body, isDry) {
    const sent = isDry ? body : { ...body, is_looked_at: true };
    const got = await tepal.api.post(`/trials/${id}/values${isDry ? "/dry-run" : ""}`, sent);
    failure.value = got.ok ? "" : failureText(got);
    if (got.ok && isDry) plan.value = got.reply;
    if (got.ok && !isDry) {
      isDone.value = true;
      tepal.book.exchangeNow();
    }
  }
  /** @param {File} file */
  async function look(file) {
    isDone.value = false;
    plan.value = null;
    if (file.size > MOST_MB * 1e6) {
      const mb = formatNumber(file.size / 1e6, 1, numberFormat);
      failure.value = t("import_values.too_large", { name: file.name, mb, most: MOST_MB });
      return;
    }
    const body = {
      name: file.name,
      content: await base64Of(file),
      assessment: assessment.value === "-" ? null : assessment.value,
    };
    asked.value = body;
    await send(body, true);
  }
  const found = plan.value;
  const isGood = found && found.n_problems === 0 && found.n_values > 0 && !isDone.value;
  return frame(
    isGood
      ? html`<${FootAct}><${GoButton} onPress=${() => send(asked.value, false)}>${t(found.n_unusual > 0 ? "import_values.do_unusual" : "import_values.do", { n: found.n_values, unusual: found.n_unusual })}<//><//>`
      : null,
    html`<${Page} title=${title} under=${trial.shown.fields.title ?? ""} actions=${back} isReading=${true}>
      <p>${t("import_values.how", { codes: (trial.shown.fields.measurements ?? []).map((/** @type {any} */ one) => one.code).join(", ") })}</p>
      <${PasswordSession} />
      <${RefSelect} label=${t("import_values.assessment")} value=${assessment.value} options=${[{ value: "-", label: t("import_values.in_sheet") }, ...(trial.shown.fields.assessments ?? []).map((/** @type {any} */ one) => ({ value: one.code, label: one.name ?? one.code }))]} onValue=${(
        /** @type {string} */ value,
      ) => {
        assessment.value = value;
      }} />
      <div class="row"><${FileButton} label=${t("import_values.choose")} accept=".csv,.xlsx,.txt" onFile=${look} />
        <a class="btn" href=${tepal.api.url(`/trials/${id}/values/sample?language=${language.value}${assessment.value === "-" ? "" : `&assessment=${encodeURIComponent(assessment.value)}`}`)} download><${Icon} name="book" /><span>${t("import_values.sample")}</span></a></div>
      <p class="muted small">${t("import_values.sample_hint")}</p>
      ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
      ${isDone.value && html`<${Message} tone="passed" title=${t("import_values.done", { n: found.n_values })} live=${true} />`}
      ${found && !isDone.value && html`<${Message} tone=${found.n_problems > 0 ? "stopped" : "passed"} live=${true} title=${found.n_problems > 0 ? t("import_values.problems", { n: found.n_problems }) : t("import_values.good", { n: found.n_values, known: found.n_known })} />`}
      ${found?.problems.length > 0 && html`<${Cells} rows=${found.problems} last="cure" words="problem" />`}
      ${
        found?.unusual.length > 0 &&
        !isDone.value &&
        html`<${Message} tone="caution" title=${t("import_values.unusual", { n: found.n_unusual })} /><${Cells} rows=${found.unusual} last="ask" words="unusual" />`
      }
    <//>`,
  );
}

/** Cells of the sheet: where they stand, what they say, and why they are named.
 * @param {{ rows: any[], last: "cure" | "ask", words: "problem" | "unusual" }} props */
function Cells({ rows, last, words }) {
  return html`<div class="table-frame"><table class="table"><thead><tr>${["sheet", "row", "column", "value", last].map((name) => html`<th key=${name} scope="col" class=${name === "row" ? "num" : ""}>${t(`import_values.head.${name}`)}</th>`)}</tr></thead>
    <tbody>${rows.map((one, i) => html`<tr key=${i}><td>${one.sheet}</td><td class="num">${one.row}</td><td>${one.column}</td><td>${one.value || t("office.nothing")}</td><td>${t(`import_values.${words}.${one.code}`, one.params)}</td></tr>`)}</tbody></table></div>`;
}

/** @param {{ frame: any }} props */
export function ImportTrialPage({ frame }) {
  const tepal = useTepal();
  const { route } = useLocation();
  const file = useSignal(/** @type {any} */ (null));
  const plan = useSignal(/** @type {any} */ (null));
  const failure = useSignal("");
  const back = html`<${Button} kind="quiet" icon="back" href="/trials">${t("place.trials")}<//>`;
  /** @param {File} chosen */
  async function look(chosen) {
    plan.value = null;
    failure.value = "";
    try {
      file.value = JSON.parse(await chosen.text());
      if (file.value === null || typeof file.value !== "object" || Array.isArray(file.value))
        throw new TypeError("no group of values");
    } catch {
      failure.value = t("import_trial.not_json", { name: chosen.name });
      return;
    }
    const got = await tepal.api.post("/trials/file", { file: file.value, dry_run: true });
    failure.value = got.ok ? "" : failureText(got);
    plan.value = got.ok ? got.reply : null;
  }
  async function take() {
    const got = await tepal.api.post("/trials/file", { file: file.value });
    failure.value = got.ok ? "" : failureText(got);
    if (!got.ok) return;
    await tepal.book.exchangeNow();
    route(`/trials/${got.reply.id}`);
  }
  const found = plan.value;
  const wordsOf = (/** @type {string} */ code) =>
    hasWords(`import_trial.problem.${code}`)
      ? t(`import_trial.problem.${code}`)
      : t("import_trial.problem.other");
  return frame(
    found?.n_problems === 0
      ? html`<${FootAct}><${GoButton} onPress=${take}>${t("import_trial.do", { code: found.code ?? "" })}<//><//>`
      : null,
    html`<${Page} title=${t("trial.import")} actions=${back} isReading=${true}>
      <p>${t("import_trial.how")}</p><${PasswordSession} />
      <div><${FileButton} label=${t("import_trial.choose")} accept=".json" onFile=${look} /></div>
      ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
      ${found && html`<${Message} tone=${found.n_problems > 0 ? "stopped" : "passed"} live=${true} title=${found.n_problems > 0 ? t("import_values.problems", { n: found.n_problems }) : t("import_trial.good", { code: found.code ?? "", title: found.title ?? "" })} />`}
      ${found?.problems.length > 0 && html`<ul class="list">${found.problems.map((/** @type {any} */ one, /** @type {number} */ i) => html`<li class="list-row" key=${i}><span class="choice-text"><b>${one.place}</b><span class="choice-detail">${one.value} · ${wordsOf(one.code)}</span></span></li>`)}</ul>`}
    <//>`,
  );
}
