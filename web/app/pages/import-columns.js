// What each column of a table is: the field it fills and its unit. The headers' own words are the first answer.
import { fieldLabel } from "../forms/labels.js";
import { unitShown } from "../ui/amounts.js";
import { html } from "../ui/html.js";
import { t } from "../ui/words.js";

/** @param {ArrayBuffer} buffer */
export function bytesToBase64(buffer) {
  const bytes = new Uint8Array(buffer);
  let text = "";
  for (let at = 0; at < bytes.length; at += 0x8000) {
    text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
  }
  return btoa(text);
}

/**
 * @param {{ title: string, plan: any, mapping: Record<string, string | null>, units: Record<string, string>,
 *   onAnswer: (answers: Record<string, any>) => void }} props
 */
export function ImportColumns({ title, plan, mapping, units, onAnswer }) {
  return html`<section class="stack"><h3>${title}</h3>
    <ul class="list">${plan.columns.map(
      (
        /** @type {any} */ column,
      ) => html`<li key=${column.header} class="list-row import-column"><b>${column.header}</b>
        <select class="input" aria-label=${t("import.column_is", { header: column.header })} value=${column.field ?? ""}
          onChange=${(/** @type {any} */ event) =>
            onAnswer({ mapping: moved(plan, mapping, column.header, event.currentTarget.value || null) })}>
          <option value="">${t("import.left_out")}</option>
          ${plan.fields.map((/** @type {string} */ name) => html`<option value=${name}>${nameOf(plan.kind, name)}</option>`)}
        </select>
        ${
          column.units.length > 0 &&
          html`<select class="input" aria-label=${t("control.unit_of", { label: column.header })} value=${column.unit ?? ""}
            onChange=${(/** @type {any} */ event) => onAnswer({ units: { ...units, [column.header]: event.currentTarget.value } })}>
            <option value="">${t("import.no_unit")}</option>
            ${column.units.map((/** @type {string} */ unit) => html`<option value=${unit}>${unitShown(unit)}</option>`)}
          </select>`
        }</li>`,
    )}</ul></section>`;
}

/** One field, one column: a field chosen for a column leaves the column that had it.
 * @param {any} plan @param {Record<string, string | null>} mapping @param {string} header @param {string | null} field */
function moved(plan, mapping, header, field) {
  const former = plan.columns.find(
    (/** @type {any} */ one) => field !== null && one.field === field && one.header !== header,
  );
  return { ...mapping, ...(former ? { [former.header]: null } : {}), [header]: field };
}

const USE = "product.uses";

/** @param {string} kind @param {string} name  A field, or "ingredients.2.strength". */
function nameOf(kind, name) {
  const [list, place, inner] = name.split(".");
  if (kind === "label_use")
    return fieldLabel(["product", "registration_number"].includes(name) ? name : `${USE}.${name}`);
  if (list === "uses") return t("import.of_use", { field: fieldLabel(`${USE}.${inner}`) });
  return inner ? `${fieldLabel(`${kind}.${list}.${inner}`)} ${place}` : fieldLabel(`${kind}.${name}`);
}
