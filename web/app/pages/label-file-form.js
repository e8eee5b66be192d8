// A new label or safety data sheet of a product: a PDF or a picture, with the date of its version. The one before stays, with
// the records that were made under it.
import { useState } from "preact/hooks";
import { useLocation } from "preact-iso";
import { choiceLabel, fieldLabel } from "../forms/labels.js";
import { useRecord, useRecords, useTepal } from "../state/context.js";
import { Button, GoButton } from "../ui/buttons.js";
import { ChoiceField, YesNoField } from "../ui/choices.js";
import { DateField } from "../ui/fields.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { EmptyState, Message } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { hasWords, t } from "../ui/words.js";
import { mayCapture } from "./capture.js";
import { filesOf, megabytes } from "./label-files.js";
import { may } from "./may.js";
import { recordName } from "./record-words.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** @param {{ frame: any, query: Record<string, string> }} props */
export function LabelFileFormPage({ frame, query }) {
  const product = useRecord("product", query.product ?? "");
  if (product)
    return html`<${Form} frame=${frame} product=${product} start=${query.sort === "sds" ? "sds" : "label"} />`;
  return frame(
    null,
    html`<${Page} title=${t("kind.label_file")}>${product === null && html`<${EmptyState} icon="product" title=${t("register.not_here")}><${Button} href="/products">${t("place.products")}<//><//>`}<//>`,
  );
}

/** @param {{ frame: any, product: RecordRow, start: string }} props */
function Form({ frame, product, start }) {
  const tepal = useTepal();
  const { route } = useLocation();
  const { language } = useSettings();
  const files = filesOf(useRecords("label_file"), product.id);
  const [sort, setSort] = useState(start);
  const [day, setDay] = useState("");
  const [file, setFile] = useState(/** @type {any} */ (null));
  const [holds, setHolds] = useState(/** @type {boolean | null} */ (null));
  const [failure, setFailure] = useState("");
  const [isBusy, setBusy] = useState(false);
  const word = may(tepal.session.value, "registers");
  const before = files.filter(({ shown }) => shown.fields.sort === sort && shown.fields.replaced !== true);
  const blocked = mayCapture(tepal);
  const back = `/products/${product.id}`;

  /** @param {Event} event */
  async function choose(event) {
    const input = /** @type {HTMLInputElement} */ (event.currentTarget);
    const chosen = input.files?.[0];
    input.value = "";
    if (!chosen) return;
    setBusy(true);
    try {
      setFile(await tepal.book.readDocument(chosen));
      setFailure("");
    } catch (error) {
      setFailure(refusal(error));
    }
    setBusy(false);
  }

  async function save() {
    if (isBusy) return;
    if (file === null) return setFailure(t("label.choose_first"));
    if (day === "") return setFailure(t("label.version_first"));
    if (sort === "label" && holds === null) return setFailure(t("label.holds_first"));
    setBusy(true);
    try {
      await keep();
      route(back);
    } catch (error) {
      setFailure(t("office.not_saved", { cause: String(error) }));
    }
    setBusy(false);
  }

  async function keep() {
    const { fields, ...photo } = file;
    const { changesBetween, newId } = tepal.book;
    const [group, id] = [newId(), newId()];
    const act = (
      /** @type {string} */ kind,
      /** @type {string} */ record,
      /** @type {string} */ action,
      /** @type {any} */ changes,
    ) => ({
      ...tepal.save.act(kind, record, word === "ask" ? "propose" : action, changes),
      group,
    });
    const made = { ...fields, product: product.id, sort, version_on: day };
    const isDated = sort === "label" && holds === true && product.shown.fields.label_on !== day;
    await tepal.save.all(
      [
        act("label_file", id, "create", changesBetween({}, made)),
        ...before.map((row) =>
          act("label_file", row.id, "change", changesBetween(row.shown.fields, { replaced: true })),
        ),
        ...(isDated
          ? [act("product", product.id, "change", changesBetween(product.shown.fields, { label_on: day }))]
          : []),
      ],
      { photos: [{ ...photo, of_id: id, saved_at: new Date(tepal.nowMs()).toISOString() }] },
    );
  }

  return frame(
    html`<${FootAct}><${GoButton} isOff=${isBusy || word === "no"} onPress=${save}>${t(word === "ask" ? "register.save_proposal" : "register.save")}<//><//>`,
    html`<${Page} title=${t("register.add.label_file")} under=${recordName("product", product.shown.fields)} isReading=${true}
      actions=${html`<${Button} kind="quiet" icon="back" href=${back}>${t("office.leave")}<//>`}>
      ${word === "ask" && html`<${Message} tone="plain" title=${t("office.request_waits")}><p>${t("register.ask_why")}</p><//>`}
      <${ChoiceField} label=${fieldLabel("label_file.sort")} isShort=${false} value=${sort} onValue=${setSort}
        choices=${["label", "sds"].map((value) => ({ value, label: choiceLabel("label_file.sort", value) }))} />
      ${
        blocked ??
        html`<div class="field"><span class="field-label">${t("label.file")}</span><p class="field-hint">${t("label.file_hint")}</p>
          <label class="btn photo-button"><${Icon} name="book" /><span>${t(file === null ? "label.choose" : "label.choose_other")}</span>
            <input class="visually-hidden" type="file" accept="application/pdf,image/*" onChange=${choose} /></label>
          ${file !== null && html`<p role="status"><b>${file.fields.file_name}</b> · ${t("label.size", { mb: megabytes(file.size) })}</p>`}</div>`
      }
      <${DateField} label=${fieldLabel("label_file.version_on")} hint=${t("label.version_hint")} value=${day} onValue=${setDay} />
      ${before.map(({ id, shown }) => html`<${Message} key=${id} tone="plain" title=${t("label.replaces", { day: shown.fields.version_on ? shortDay(shown.fields.version_on, language.value) : t("label.no_version") })}><p>${t("label.replaces_why")}</p><//>`)}
      ${sort === "label" && html`<${YesNoField} label=${t("label.holds")} hint=${t("label.holds_hint")} value=${holds} onValue=${setHolds} />`}
      ${failure && html`<${Message} tone="stopped" title=${failure} live=${true} />`}
      <p class="muted small">${t("office.saved_here_first")}</p>
    <//>`,
  );
}

/** @param {any} error */
function refusal(error) {
  const words = `error.${error?.code}`;
  return hasWords(words)
    ? t(words, error.params)
    : t("apply.photo_failed", { why: String(error?.message ?? error) });
}
