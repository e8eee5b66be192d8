// The labels and safety data sheets of a product: the current ones, readable here without signal, and the older versions
// under which records were made.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { choiceLabel } from "../forms/labels.js";
import { useRecords, useTepal } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { Fold } from "../ui/fold.js";
import { html } from "../ui/html.js";
import { Message, StateChip } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { failureText } from "./device.js";
import { may } from "./may.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** The files of a product, newest version first. @param {RecordRow[] | null} rows @param {string} product */
export const filesOf = (rows, product) =>
  (rows ?? [])
    .filter(({ shown }) => shown.fields.product === product && shown.state !== "void")
    .sort((a, b) =>
      String(b.shown.fields.version_on ?? "").localeCompare(String(a.shown.fields.version_on ?? "")),
    );

/** @param {{ product: RecordRow }} props */
export function LabelFiles({ product }) {
  const { session } = useTepal();
  const all = filesOf(useRecords("label_file"), product.id);
  const current = all.filter(({ shown }) => shown.fields.replaced !== true);
  const older = all.filter(({ shown }) => shown.fields.replaced === true);
  const word = may(session.value, "registers");
  return html`<section class="stack"><h2>${t("label.files")}</h2>
    ${["label", "sds"].map((sort) => {
      const files = current.filter(({ shown }) => shown.fields.sort === sort);
      if (files.length === 0) return html`<p key=${sort} class="missing">${t(`label.none.${sort}`)}</p>`;
      return html`<ul class="list" key=${sort}>${files.map((row) => html`<${File} key=${row.id} row=${row} />`)}</ul>`;
    })}
    ${
      older.length > 0 &&
      html`<${Fold} title=${t("label.older", { n: older.length })}><p class="muted small">${t("label.older_why")}</p>
        <ul class="list">${older.map((row) => html`<${File} key=${row.id} row=${row} />`)}</ul><//>`
    }
    ${word !== "no" && html`<div><${Button} icon="plus" href=${`/label-files/new?product=${product.id}`}>${t(word === "ask" ? "register.propose.label_file" : "register.add.label_file")}<//></div>`}
  </section>`;
}

/** One file: what it is, where it is, and how to read it. @param {{ row: RecordRow }} props */
function File({ row }) {
  const { language } = useSettings();
  const { fields } = row.shown;
  const day = fields.version_on ? shortDay(fields.version_on, language.value) : t("label.no_version");
  return html`<li class="list-row"><span class="choice-text"><b>${choiceLabel("label_file.sort", fields.sort ?? "label")}</b>
      <span class="choice-detail">${t("label.version", { day })} · ${t("label.size", { mb: megabytes(fields.size) })}</span>
      <span class="choice-detail">${fields.file_name}</span></span><${OpenFile} fields=${fields} /></li>`;
}

/** @param {number | undefined} bytes  One decimal, at least 0.1. */
export const megabytes = (bytes) => (bytes ? Math.max(0.1, Math.round(bytes / 1e5) / 10) : 0);

/**
 * The link that opens a file: from this phone where it is kept, else from the office, and said so.
 * @param {{ fields: Record<string, any>, label?: string }} props
 */
export function OpenFile({ fields, label = t("label.open") }) {
  const tepal = useTepal();
  const here = useSignal(/** @type {string | null | undefined} */ (undefined));
  const problem = useSignal("");
  const { sha256, media_type } = fields;
  const kept = tepal.files.value;

  useEffect(() => {
    let isHere = true;
    let url = "";
    const look = async () => {
      const [bytes, rows] = await Promise.all([tepal.book.photoBytes(sha256), tepal.book.photos()]);
      if (!isHere) return;
      problem.value = rows.find((one) => one.sha256 === sha256)?.problem ?? "";
      url = bytes === null ? "" : URL.createObjectURL(new Blob([bytes], { type: media_type }));
      here.value = url || null;
    };
    look();
    return () => {
      isHere = false;
      if (url) URL.revokeObjectURL(url);
    };
  }, [sha256, media_type, kept]);

  if (here.value === undefined) return null;
  return html`<span class="open-file">
    ${problem.value && html`<span class="missing">${failureText({ code: problem.value })}</span>`}
    ${here.value === null && html`<${StateChip} tone="waiting" icon="offline">${t("label.not_here")}<//>`}
    <a class="btn" href=${here.value ?? tepal.api.url(`/photos/${sha256}`)} target="_blank" rel="noopener">${label}</a></span>`;
}

/** The file of the label that an application was made under: by product and date. Null where none is on file.
 * @param {RecordRow[] | null} rows @param {string | undefined} product @param {string | undefined} labelOn @param {string} [sort] */
export function fileOfDay(rows, product, labelOn, sort = "label") {
  if (!product || !labelOn) return null;
  return (
    filesOf(rows, product).find(
      ({ shown }) => shown.fields.sort === sort && shown.fields.version_on === labelOn,
    ) ?? null
  );
}

/** "12 of 14 files, 34 MB of at most 60 MB", for the page about this phone. */
export function FilesKept() {
  const { files } = useTepal();
  const kept = files.value;
  if (kept === null) return null;
  return html`<section class="stack"><h2>${t("label.on_this_phone")}</h2>
    <p>${t("label.kept", { n: kept.files, mb: megabytes(kept.bytes), most: 60 })}</p>
    ${kept.left > 0 && html`<${Message} tone="caution" title=${t("label.left", { n: kept.left })}><p>${t(`label.why.${kept.why ?? "not_fetched"}`)}</p><//>`}</section>`;
}
