// Adding and changing a record of a register. The fields come from the form spec; all that is typed keeps itself until it is
// saved. Who may only propose is told so, and the entry waits for a grower.

import { useState } from "preact/hooks";
import { useLocation } from "preact-iso";
import { RecordForm } from "../forms/record-form.js";
import { typedOf, wireOf } from "../forms/typed.js";
import { useDraft, useRecord, useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { Fold } from "../ui/fold.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { BenchArea } from "./bench-area.js";
import { useFormSetting } from "./form-setting.js";
import { may } from "./may.js";
import { PasswordSession } from "./password-session.js";
import { recordName, useValueWords } from "./record-words.js";
import { backOf, REGISTERS } from "./registers.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** The page that adds a record of a kind. @param {string} kind */
export const addPage =
  (kind) =>
  (/** @type {{ frame: any, query: Record<string, string> }} */ { frame, query }) =>
    html`<${Form} kind=${kind} frame=${frame} row=${null} given=${given(kind, query)} />`;

/** The page that changes one. @param {string} kind */
export const changePage =
  (kind) =>
  (/** @type {{ frame: any, id: string }} */ { frame, id }) =>
    html`<${Change} kind=${kind} frame=${frame} id=${id} />`;

/** What a new record starts with. @param {string} kind @param {Record<string, string>} query */
function given(kind, query) {
  const { within } = REGISTERS[kind];
  const start = Object.fromEntries(
    [within ?? "", "product"]
      .filter((name) => /^[0-9a-f-]{36}$/.test(query[name] ?? "") && REGISTERS[kind].fields.includes(name))
      .map((name) => [name, query[name]]),
  );
  if (kind === "lot") return { phase: "growing", ...start };
  return kind === "member" ? { active: true } : start;
}

/** @param {any} value  Undefined: something was typed that can't be read yet. */
const isFilled = (value) => value !== null && !(Array.isArray(value) && value.length === 0);

/** @param {{ kind: string, frame: any, id: string }} props */
function Change({ kind, frame, id }) {
  const row = useRecord(kind, id);
  if (!row) {
    return frame(
      null,
      html`<${Page} title=${t(`kind.${kind}`)}>${row === null && html`<${EmptyState} icon="search" title=${t("register.not_here")} />`}<//>`,
    );
  }
  return html`<${Form} kind=${kind} frame=${frame} row=${row} given=${row.shown.fields} />`;
}

/** @param {{ kind: string, frame: any, row: RecordRow | null, given: Record<string, any> }} props */
function Form({ kind, frame, row, given: start }) {
  const tepal = useTepal();
  const { route } = useLocation();
  const words = useValueWords();
  const setting = useFormSetting();
  const register = REGISTERS[kind];
  const within = register.within ? (start[register.within] ?? "") : "";
  const draftKey = `register/${kind}/${row?.id ?? ["new", within].filter(Boolean).join("/")}`;
  const draft = useDraft(draftKey, { typed: /** @type {Record<string, any> | null} */ (null) });
  const [wasTried, setTried] = useState(false);
  const [failure, setFailure] = useState("");
  const [isSaving, setSaving] = useState(false);
  const word = may(tepal.session.value, register.guard);
  const specs = words
    .specs(kind)
    .filter((spec) => register.fields.includes(spec.name))
    .map((spec) => ({ ...spec, required: register.identity.includes(spec.name) }));
  const back = row ? `${register.base}/${row.id}` : backOf(register, start).href;
  const title = t(
    row ? "register.change_title" : word === "ask" ? `register.propose.${kind}` : `register.add.${kind}`,
  );
  if (!draft.ready || specs.length === 0) {
    return frame(
      null,
      html`<${Page} title=${title}>${draft.ready && html`<${Message} tone="waiting" title=${t("register.no_forms")} />`}<//>`,
    );
  }
  const typed = draft.value.typed ?? typedOf(specs, start, setting.ways);
  const { values, problems, missing } = wireOf(specs, typed, setting.ways, start);

  async function save() {
    if (isSaving) return;
    setTried(true);
    setFailure("");
    const nWrong = Object.keys(problems).length + missing.length;
    if (nWrong > 0) return setFailure(t("register.look_at", { n: nWrong }));
    const changes = tepal.book.changesBetween(row?.shown.fields ?? {}, values);
    if (Object.keys(changes).length === 0) return setFailure(t("register.nothing_new"));
    setSaving(true);
    try {
      const id = row?.id ?? tepal.book.newId();
      const action = word === "ask" ? "propose" : row ? "change" : "create";
      await tepal.save.all([tepal.save.act(kind, id, action, changes)], { draft: draftKey });
      await draft.clear();
      route(word === "ask" && !row ? back : `${register.base}/${id}`);
    } catch (error) {
      setFailure(t("office.not_saved", { cause: String(error) }));
    }
    setSaving(false);
  }

  const doing = word === "ask" ? "register.save_proposal" : "register.save";
  return frame(
    html`<${FootAct}><${GoButton} isOff=${isSaving || word === "no"} onPress=${save}>${t(doing)}<//><//>`,
    html`<${Page} title=${title} under=${row ? recordName(kind, row.shown.fields) : undefined} isReading=${true}
      actions=${html`<${Button} kind="quiet" icon="back" href=${back}>${t("office.leave")}<//>`}>
      ${word === "ask" && html`<${Message} tone="plain" title=${t("office.request_waits")}><p>${t("register.ask_why")}</p><//>`}
      ${word === "no" && html`<${Message} tone="plain" title=${t("office.read_only")} />`}
      ${register.guard !== "registers" && (word === "yes" || word === "password") && html`<${PasswordSession} />`}
      ${kind === "product" && html`<p class="muted">${t("register.copy_label")}</p>`}
      ${(register.sections ?? [{ title: "", fields: register.fields }]).map((section, at) => {
        const form = html`<${RecordForm} kind=${kind} specs=${specs} typed=${typed} only=${section.fields}
          onTyped=${(/** @type {any} */ next) => draft.merge({ typed: next })}
          setting=${{ ...setting, problems: wasTried ? problems : {}, missing: wasTried ? missing : [] }} />`;
        if (section.title === "") return form;
        const isWrong = [...Object.keys(problems), ...missing].some((path) =>
          section.fields.includes(path.split(".")[0]),
        );
        return html`<${Fold} key=${section.title} title=${t(section.title)} isOpen=${at === 0 || (wasTried && isWrong)}
          detail=${t("register.filled", { n: section.fields.filter((name) => isFilled(values[name])).length, total: section.fields.length })}>${form}<//>`;
      })}
      ${kind === "bench" && !values.area && values.length && values.width && html`<p>${t("register.area_is")} <${BenchArea} fields=${values} /></p>`}
      ${failure && html`<${Message} tone="stopped" title=${failure} live=${true} />`}
      <p class="muted small">${t("office.saved_here_first")}</p>
    <//>`,
  );
}
