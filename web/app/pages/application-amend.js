// Amending an application: which field, the new value, why. The signed record is never edited in place: the amendment is an
// entry of its own and the old value stays readable. All that is typed keeps itself until it is saved.

import { useState } from "preact/hooks";
import { useLocation } from "preact-iso";
import { fieldLabel } from "../forms/labels.js";
import { placeOfBench } from "../state/apply.js";
import { useDraft, useRecord, useRecords, useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { RefField } from "../ui/choices.js";
import { TextField } from "../ui/fields.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { aboutRecord } from "./about-record.js";
import { useFieldEditor } from "./field-editor.js";
import { Differences } from "./history.js";
import { may } from "./may.js";
import { useValueWords } from "./record-words.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

const KIND = "application";
const WHOLE = [
  "volume", "area", "started_at", "ended_at", "purpose", "note", "method", "mix_name", "operator", "operator_name", "sprayer",
  "tank_capacity", "volume_left", "tank_cleaned", "air_temperature", "air_humidity", "stopped_early", "stopped_note",
]; // biome-ignore format: a list of names
const OF_PRODUCT = ["amount", "target", "registration_number", "rei"];
const OF_LINE = ["volume", "area", "bench", "lot"];

/** @param {{ frame: any, id: string }} props */
export function AmendPage({ frame, id }) {
  const row = useRecord(KIND, id);
  const isMissing = row === null || row?.shown.state === "void";
  if (!row || isMissing) {
    return frame(
      null,
      html`<${Page} title=${t("office.amend_title")}>${
        isMissing &&
        html`<${EmptyState} icon="pencil" title=${t(row === null ? "office.amend_not_here" : "office.is_void")}><${Button} href="/applications">${t("place.applications")}<//><//>`
      }<//>`,
    );
  }
  return html`<${Amend} frame=${frame} row=${row} />`;
}

/** @param {{ frame: any, row: RecordRow }} props */
function Amend({ frame, row }) {
  const tepal = useTepal();
  const { route } = useLocation();
  const { language } = useSettings();
  const words = useValueWords();
  const draftKey = `amend/${row.id}`;
  const draft = useDraft(draftKey, {
    field: /** @type {string | null} */ (null),
    typed: /** @type {any} */ (null),
    reason: "",
  });
  const [wrong, setWrong] = useState(/** @type {Record<string, string>} */ ({}));
  const [isSaving, setSaving] = useState(false);
  const { field, typed, reason } = draft.value;
  const benches = useRecords("bench") ?? [];
  const houses = useRecords("house") ?? [];
  const target = targetOf(row.shown.fields, field, words, (bench) => placeOfBench(bench, benches, houses));
  const editor = useFieldEditor(target?.words ?? KIND, target?.spec, typed, target?.current ?? null);
  const isOpen = row.shown.state === "open";
  const isOwn = row.shown.author === tepal.session.value?.member?.id;
  const word = may(tepal.session.value, isOwn ? "amend_own" : "amend_other");
  const action = isOpen ? "change" : word === "ask" ? "request" : "amend";
  const read = target ? editor.read() : null;
  const wanted = target && read && "value" in read ? target.put(read.value) : {};
  const changes = tepal.book.changesBetween(row.shown.fields, wanted);

  const set = (/** @type {Partial<typeof draft.value>} */ part) => {
    setWrong({});
    draft.merge(part);
  };

  async function save() {
    if (isSaving) return;
    if (!target || !read) return setWrong({ field: t("office.choose_field") });
    if ("problem" in read) return setWrong({ all: read.problem });
    if (Object.keys(changes).length === 0) return setWrong({ all: t("office.nothing_changed") });
    if (!isOpen && reason.trim() === "") return setWrong({ reason: t("office.reason_missing") });
    setSaving(true);
    try {
      await tepal.save.all([tepal.save.act(KIND, row.id, action, changes, reason.trim() || null)], {
        draft: draftKey,
      });
      await draft.clear();
      route(`/applications/${row.id}`);
    } catch (error) {
      setWrong({ all: t("office.not_saved", { cause: String(error) }) });
    }
    setSaving(false);
  }

  if (!draft.ready) return frame(null, html`<${Page} title=${t("office.amend_title")} />`);
  const foot = html`<${FootAct}><${GoButton} isOff=${isSaving} onPress=${save}>${t(action === "change" ? "office.save_change" : action === "request" ? "office.save_request" : "office.save_amend")}<//><//>`;
  return frame(
    foot,
    html`<${Page} title=${t(action === "change" ? "office.change_title" : action === "request" ? "office.request_title" : "office.amend_title")} isReading=${true}
      under=${aboutRecord(KIND, row.id, row.shown.fields, language.value)}
      actions=${html`<${Button} kind="quiet" icon="back" href=${`/applications/${row.id}`}>${t("office.leave")}<//>`}>
      ${action === "request" && html`<${Message} tone="plain" title=${t("office.request_waits")}><p>${t("office.request_why")}</p><//>`}
      ${action === "amend" && word === "password" && html`<${Message} tone="plain" icon="lock" title=${t("office.needs_password")}><p>${t("office.needs_password_why")}</p><//>`}
      <${RefField} label=${t("office.which_field")} options=${optionsOf(row.shown.fields, words)} value=${field} error=${wrong.field}
        onValue=${(/** @type {string | null} */ picked) => set({ field: picked, typed: null })} />
      ${
        target &&
        html`<p>${t("office.on_record")} <b>${target.shown ?? t("office.not_on_file")}</b></p>
          ${editor.control((/** @type {any} */ next) => set({ typed: next }))}`
      }
      ${
        target &&
        Object.keys(changes).length > 0 &&
        html`<section class="said"><h2>${t("office.will_read")}</h2><${Differences} found=${words.differences(KIND, changes)} /></section>`
      }
      ${
        !isOpen &&
        html`<${TextField} label=${t("answer.reason")} hint=${t("office.amend_reason_hint")} value=${reason} maxLength=${500} isLong=${true} error=${wrong.reason}
          onValue=${(/** @type {string} */ value) => set({ reason: value })} />`
      }
      ${wrong.all && html`<${Message} tone="stopped" title=${wrong.all} live=${true} />`}
      <p class="muted small">${t("office.saved_here_first")}</p>
    <//>`,
  );
}

/**
 * The field that a key names ("volume", "products.0.amount"): its spec, its value now, and how a new value is put back.
 * A line on another bench is in that bench's house.
 * @param {Record<string, any>} fields @param {string | null} key @param {ReturnType<typeof useValueWords>} words
 * @param {(bench: string) => {house: string | null, place: string | null}} placeOf
 */
function targetOf(fields, key, words, placeOf) {
  if (key === null) return null;
  const [name, place, inner] = key.split(".");
  const outer = words.specs(KIND).find((spec) => spec.name === name);
  if (place === undefined) {
    return {
      words: KIND,
      spec: outer,
      current: fields[name] ?? null,
      shown: words.text(KIND, name, fields[name]),
      put: (/** @type {any} */ value) => ({ [name]: value }),
    };
  }
  const at = Number(place);
  const rows = fields[name] ?? [];
  if (rows[at] === undefined) return null;
  const isBench = name === "lines" && inner === "bench";
  return {
    words: `${KIND}.${name}`,
    spec: outer?.fields?.find((spec) => spec.name === inner),
    current: rows[at][inner] ?? null,
    shown: words.inner(KIND, name, inner, rows[at][inner]),
    put: (/** @type {any} */ value) => ({
      [name]: rows.map((/** @type {any} */ row, /** @type {number} */ other) =>
        other === at ? withValues(row, { [inner]: value, ...(isBench && value ? placeOf(value) : {}) }) : row,
      ),
    }),
  };
}

/** A row with values replaced; an emptied one leaves. @param {any} row @param {Record<string, any>} values */
const withValues = (row, values) =>
  Object.fromEntries(Object.entries({ ...row, ...values }).filter(([, value]) => value !== null));

/** @param {Record<string, any>} fields @param {ReturnType<typeof useValueWords>} words */
function optionsOf(fields, words) {
  const text = (/** @type {string | null} */ value) => value ?? t("office.not_on_file");
  const whole = WHOLE.map((name) => ({
    id: name,
    name: fieldLabel(`${KIND}.${name}`),
    detail: text(words.text(KIND, name, fields[name])),
  }));
  const rows = (
    /** @type {string} */ list,
    /** @type {string[]} */ names,
    /** @type {(row: any, at: number) => string} */ nameOf,
  ) =>
    (fields[list] ?? []).flatMap((/** @type {any} */ row, /** @type {number} */ at) =>
      names.map((name) => ({
        id: `${list}.${at}.${name}`,
        name: `${nameOf(row, at)}: ${fieldLabel(`${KIND}.${list}.${name}`)}`,
        detail: text(words.inner(KIND, list, name, row[name])),
      })),
    );
  return [
    ...whole,
    ...rows("products", OF_PRODUCT, (row, at) => row.name ?? t("form.row", { n: at + 1 })),
    ...rows(
      "lines",
      OF_LINE,
      (row, at) =>
        [words.nameOf("bench", row.bench), row.crop].filter(Boolean).join(", ") ||
        t("form.row", { n: at + 1 }),
    ),
  ];
}
