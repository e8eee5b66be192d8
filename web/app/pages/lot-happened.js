// What happened to a lot: one act that writes the event and what it changes on the lots, together in one saving. Those who
// may only propose send the whole as a proposal.
import { useState } from "preact/hooks";
import { useLocation } from "preact-iso";
import { choiceLabel, fieldLabel } from "../forms/labels.js";
import { RecordForm } from "../forms/record-form.js";
import { typedOf, wireOf } from "../forms/typed.js";
import { useDraft, useRecord, useRecords, useTepal } from "../state/context.js";
import { ASKED, eventOf } from "../state/lot-life.js";
import { Button, GoButton } from "../ui/buttons.js";
import { ChoiceField } from "../ui/choices.js";
import { TextField } from "../ui/fields.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { useFormSetting } from "./form-setting.js";
import { may } from "./may.js";
import { recordName, useValueWords } from "./record-words.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** @param {{ frame: any, id: string }} props */
export function LotHappenedPage({ frame, id }) {
  const row = useRecord("lot", id);
  if (row) return html`<${Form} frame=${frame} row=${row} />`;
  return frame(
    null,
    html`<${Page} title=${t("lot.happened")}>${row === null && html`<${EmptyState} icon="lot" title=${t("register.not_here")} />`}<//>`,
  );
}

/** @param {{ frame: any, row: RecordRow }} props */
function Form({ frame, row }) {
  const tepal = useTepal();
  const { route } = useLocation();
  const words = useValueWords();
  const setting = useFormSetting();
  const lots = useRecords("lot") ?? [];
  const draftKey = `lot-event/${row.id}`;
  const draft = useDraft(draftKey, { what: "", typed: /** @type {any} */ (null), code: "" });
  const [wasTried, setTried] = useState(false);
  const [failure, setFailure] = useState("");
  const [isSaving, setSaving] = useState(false);
  const word = may(tepal.session.value, "registers");
  const { what, code } = draft.value;
  const asked = [...(ASKED[what] ?? []), "at", "note"];
  const specs = words.specs("lot_event").filter((spec) => asked.includes(spec.name));
  const typed = draft.value.typed ?? { ...typedOf(specs, {}, setting.ways), at: setting.now() };
  // a field that another event asks for keeps what was typed, and is not sent with this one
  const filled = { ...typedOf(specs, {}, setting.ways), ...typed };
  const { values, problems } = wireOf(specs, filled, setting.ways, {});
  const others = lots.filter((one) => values.other_lots?.includes(one.id) && one.id !== row.id);
  const isSplit = what === "split";
  const made = eventOf(what, values, row, others, isSplit ? { id: "", code: code.trim() } : null);
  const taken = isSplit && lots.some((one) => one.shown.fields.code === code.trim());
  const inWords = Object.fromEntries(
    made.problems.map((one) => [one.field, { code: one.code, params: one.params ?? {} }]),
  );
  const codeError = taken ? t("form.life.code_taken") : inWords.code ? t(`form.${inWords.code.code}`) : "";

  async function save() {
    if (isSaving) return;
    setTried(true);
    setFailure("");
    const nWrong = Object.keys({ ...problems, ...inWords }).length + (taken ? 1 : 0);
    if (what === "") return setFailure(t("lot.choose_what"));
    if (nWrong > 0) return setFailure(t("register.look_at", { n: nWrong }));
    setSaving(true);
    try {
      const fresh = isSplit ? { id: tepal.book.newId(), code: code.trim() } : null;
      await tepal.save.all(actsOf(tepal, eventOf(what, values, row, others, fresh), word === "ask"), {
        draft: draftKey,
      });
      await draft.clear();
      route(`/lots/${row.id}`);
    } catch (error) {
      setFailure(t("office.not_saved", { cause: String(error) }));
    }
    setSaving(false);
  }

  return frame(
    html`<${FootAct}><${GoButton} isOff=${isSaving || word === "no"} onPress=${save}>${t(word === "ask" ? "register.save_proposal" : "register.save")}<//><//>`,
    html`<${Page} title=${t("lot.happened")} under=${recordName("lot", row.shown.fields)} isReading=${true}
      actions=${html`<${Button} kind="quiet" icon="back" href=${`/lots/${row.id}`}>${t("office.leave")}<//>`}>
      ${word === "ask" && html`<${Message} tone="plain" title=${t("office.request_waits")}><p>${t("register.ask_why")}</p><//>`}
      ${word === "no" && html`<${Message} tone="plain" title=${t("office.read_only")} />`}
      <div class="what-choices"><${ChoiceField} label=${fieldLabel("lot_event.what")} isShort=${true} value=${what || null}
        onValue=${(/** @type {string} */ value) => draft.merge({ what: value })}
        choices=${Object.keys(ASKED).map((value) => ({ value, label: choiceLabel("lot_event.what", value) }))} /></div>
      ${
        what !== "" &&
        html`<p class="muted">${t(`lot.means.${what}`)}</p>
        ${
          isSplit &&
          html`<${TextField} label=${t("lot.new_code")} value=${code} maxLength=${24} error=${wasTried && codeError ? codeError : undefined}
          onValue=${(/** @type {string} */ value) => draft.merge({ code: value })} />`
        }
        <${RecordForm} kind=${isSplit ? "lot_event.split" : "lot_event"} specs=${specs.map((spec) => ({ ...spec, required: false }))} typed=${filled} only=${asked}
          onTyped=${(/** @type {any} */ next) => draft.merge({ typed: next })}
          setting=${{ ...settingFor(setting, row.id), problems: wasTried ? { ...inWords, ...problems } : {}, missing: [] }} />
        <${Becomes} made=${made} words=${words} />`
      }
      ${failure && html`<${Message} tone="stopped" title=${failure} live=${true} />`}
      <p class="muted small">${t("office.saved_here_first")}</p>
    <//>`,
  );
}

/** A lot is not merged with itself. @param {any} setting @param {string} self */
const settingFor = (setting, self) => ({
  ...setting,
  options: (/** @type {string} */ kind) =>
    setting.options(kind).filter((/** @type {any} */ one) => one.id !== self),
});

/**
 * The acts of one event, in one group, so that it is read as one.
 * @param {import("../state/tepal.js").Tepal} tepal @param {ReturnType<typeof eventOf>} made @param {boolean} isProposal
 */
function actsOf(tepal, made, isProposal) {
  const group = tepal.book.newId();
  const { changesBetween, newId } = tepal.book;
  const act = (
    /** @type {string} */ kind,
    /** @type {string} */ id,
    /** @type {string} */ action,
    /** @type {any} */ changes,
  ) => ({
    ...tepal.save.act(kind, id, isProposal ? "propose" : action, changes),
    group,
  });
  return [
    act("lot_event", newId(), "create", changesBetween({}, made.event)),
    ...made.changes
      .map(({ row, wanted }) => ({ row, changes: changesBetween(row.shown.fields, wanted) }))
      .filter(({ changes }) => Object.keys(changes).length > 0)
      .map(({ row, changes }) => act("lot", row.id, "change", changes)),
    ...(made.created ? [act("lot", made.created.id, "create", changesBetween({}, made.created.fields))] : []),
  ];
}

/** What the lots become, before it is saved. @param {{ made: ReturnType<typeof eventOf>, words: ReturnType<typeof useValueWords> }} props */
function Becomes({ made, words }) {
  const lines = made.changes.flatMap(({ row, wanted }) =>
    words
      .differences(
        "lot",
        Object.fromEntries(
          Object.entries(wanted).map(([name, to]) => [name, { was: row.shown.fields[name] ?? null, to }]),
        ),
      )
      .map((one) => ({ ...one, lot: recordName("lot", row.shown.fields) })),
  );
  if (lines.length === 0 || made.problems.length > 0) return null;
  return html`<${Message} tone="plain" title=${t("lot.becomes")}><dl class="differences">${lines.map(
    (one) =>
      html`<div><dt>${`${one.lot} · ${one.label}`}</dt><dd>${one.was ?? t("office.nothing")} → <b>${one.to ?? t("office.nothing")}</b></dd></div>`,
  )}</dl><//>`;
}
