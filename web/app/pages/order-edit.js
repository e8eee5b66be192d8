// Planning a spray order: lots and benches, mix, window, operator, and what stays untreated. What is typed keeps itself.
// Says when the labels, as copied, let it be at the earliest.
import { useLocation } from "preact-iso";
import { placesOf } from "../state/apply.js";
import { useDraft, useRecord, useRecords, useTepal } from "../state/context.js";
import { chosenOf, linesOf } from "../state/orders.js";
import { Button, GoButton } from "../ui/buttons.js";
import { RefField, SeveralField, YesNoField } from "../ui/choices.js";
import { DateField, TextField } from "../ui/fields.js";
import { FootAct, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { HereBefore } from "./across-before.js";
import { may } from "./may.js";
import { Earliest } from "./order-earliest.js";
import { recordName } from "./record-words.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

const EMPTY = {
  title: "",
  /** @type {string[]} */ chosen: [],
  /** @type {string[]} */ untreated: [],
  /** @type {string | null} */ tank_mix: null,
  /** @type {string | null} */ sprayer: null,
  /** @type {string | null} */ operator: null,
  window_from: "",
  window_to: "",
  from_time: "",
  to_time: "",
  note: "",
  /** @type {boolean} */ cancelled: false,
  isFilled: false,
  failure: "",
};

/** @param {{ frame: any, query: Record<string, string> }} props */
export const NewOrderPage = ({ frame, query }) =>
  html`<${OrderForm} frame=${frame} id=${null} again=${query.again ?? null} lot=${query.lot ?? null} />`;

/** @param {{ frame: any, id: string }} props */
export const ChangeOrderPage = ({ frame, id }) =>
  html`<${OrderForm} frame=${frame} id=${id} again=${null} lot=${null} />`;

/** @param {{ frame: any, id: string | null, again: string | null, lot: string | null }} props */
function OrderForm({ frame, id, again, lot }) {
  const tepal = useTepal();
  const { route } = useLocation();
  const key = `order/${id ?? "new"}`;
  const draft = useDraft(key, EMPTY);
  const row = useRecord("spray_order", id ?? "");
  const earlier = useRecord("spray_order", again ?? "");
  const rows = useRows();
  const word = may(tepal.session.value, "registers");
  const title = t(id ? "register.change_title" : word === "ask" ? "order.propose" : "order.plan");
  const isThere =
    rows !== null && draft.ready && (id === null || row) && (again === null || earlier !== undefined);
  if (!isThere) {
    return frame(
      null,
      html`<${Page} title=${title}>${id && row === null && html`<${EmptyState} icon="search" title=${t("order.not_here")} />`}<//>`,
    );
  }
  const all = placesOf(rows.house, rows.bench, rows.lot);
  const form = draft.value.isFilled
    ? draft.value
    : { ...EMPTY, ...startOf(row ?? earlier, all, again !== null, lot) };
  const set = (/** @type {Partial<typeof EMPTY>} */ more) =>
    draft.merge({ ...form, isFilled: true, failure: "", ...more });
  const chosen = all.filter((place) => form.chosen.includes(place.key));
  const wanted = wantedOf(form, all, earlier);
  const problem = problemOf(form);

  async function save() {
    if (problem) return set({ failure: problem });
    const changes = tepal.book.changesBetween(row?.shown.fields ?? {}, wanted);
    if (Object.keys(changes).length === 0) return set({ failure: t("register.nothing_new") });
    const order = id ?? tepal.book.newId();
    const action = word === "ask" ? "propose" : id ? "change" : "create";
    try {
      await tepal.save.all([tepal.save.act("spray_order", order, action, changes)], { draft: key });
      await draft.clear();
      route(word === "ask" && !id ? "/orders" : `/orders/${order}`);
    } catch (error) {
      set({ failure: t("office.not_saved", { cause: String(error) }) });
    }
  }

  const live = (/** @type {RecordRow[]} */ list) => list.filter((one) => one.shown.state !== "void");
  const options = (/** @type {string} */ kind) =>
    live(rows[kind]).map((one) => ({ id: one.id, name: recordName(kind, one.shown.fields) }));
  return frame(
    html`<${FootAct}><${GoButton} isOff=${Boolean(problem) || word === "no"} onPress=${save}>${t(word === "ask" ? "register.save_proposal" : "order.save")}<//><//>`,
    html`<${Page} title=${title} isReading=${true} actions=${html`<${Button} kind="quiet" icon="back" href=${id ? `/orders/${id}` : "/orders"}>${t("office.leave")}<//>`}>
      ${word === "ask" && html`<${Message} tone="plain" title=${t("office.request_waits")}><p>${t("register.ask_why")}</p><//>`}
      <${TextField} label=${t("order.title")} hint=${t("order.title_hint")} isOptional=${true} maxLength=${120} value=${form.title} onValue=${(/** @type {string} */ value) => set({ title: value })} />
      ${
        all.length === 0
          ? html`<${EmptyState} icon="house" title=${t("apply.no_bench")}><${Button} href="/houses">${t("place.houses")}<//><//>`
          : html`<${SeveralField} label=${t("apply.where_label")} values=${form.chosen} choices=${all.map(choiceOf)}
              onValues=${(/** @type {string[]} */ values) => set({ chosen: values, untreated: form.untreated.filter((one) => values.includes(one)) })} />`
      }
      ${
        chosen.length > 1 &&
        html`<${SeveralField} label=${t("order.leave_untreated")} hint=${t("order.leave_hint")} isOptional=${true} values=${form.untreated} choices=${chosen.map(choiceOf)}
          onValues=${(/** @type {string[]} */ untreated) => set({ untreated })} />`
      }
      <${RefField} label=${t("kind.tank_mix")} value=${form.tank_mix} options=${options("tank_mix")} onValue=${(/** @type {string | null} */ value) => set({ tank_mix: value })} />
      <${HereBefore} mix=${rows.tank_mix.find((one) => one.id === form.tank_mix) ?? null} lots=${chosen.flatMap((place) => place.lot ?? [])} />
      <${Earliest} fields=${wanted} />
      <div class="two-inputs">
        <${DateField} label=${t("order.from_day")} isOptional=${true} value=${form.window_from} onValue=${(/** @type {string} */ value) => set({ window_from: value })} />
        <${DateField} label=${t("order.to_day")} isOptional=${true} value=${form.window_to} onValue=${(/** @type {string} */ value) => set({ window_to: value })} />
        <${TimeField} label=${t("order.from_time")} value=${form.from_time} onValue=${(/** @type {string} */ value) => set({ from_time: value })} />
        <${TimeField} label=${t("order.to_time")} value=${form.to_time} onValue=${(/** @type {string} */ value) => set({ to_time: value })} />
      </div>
      <${RefField} label=${t("field.operator")} isOptional=${true} value=${form.operator} options=${options("member")} onValue=${(/** @type {string | null} */ value) => set({ operator: value })} />
      <${RefField} label=${t("kind.sprayer")} isOptional=${true} value=${form.sprayer} options=${options("sprayer")} onValue=${(/** @type {string | null} */ value) => set({ sprayer: value })} />
      <${TextField} label=${t("field.note")} isOptional=${true} isLong=${true} maxLength=${1000} value=${form.note} onValue=${(/** @type {string} */ value) => set({ note: value })} />
      ${id && html`<${YesNoField} label=${t("order.cancel")} value=${form.cancelled} onValue=${(/** @type {boolean} */ value) => set({ cancelled: value })} />`}
      ${form.failure && html`<${Message} tone="stopped" title=${form.failure} live=${true} />`}
      <p class="muted small">${t("office.saved_here_first")}</p>
    <//>`,
  );
}

/** @param {{ label: string, value: string, onValue: (value: string) => void }} props */
function TimeField({ label, value, onValue }) {
  return html`<label class="field"><span class="field-label">${label}${" "}<span class="field-optional">${t("control.optional")}</span></span>
    <input class="input" type="time" value=${value} onInput=${(/** @type {any} */ event) => onValue(event.currentTarget.value)} /></label>`;
}

/** @param {any} place */
const choiceOf = (place) => ({
  value: place.key,
  label: place.crop ? `${place.lot?.shown.fields.code ?? ""} ${place.crop}` : t("apply.no_lot"),
  detail: place.place,
});

/** What the form starts with. @param {RecordRow | null | undefined} row @param {any[]} all @param {boolean} isAgain @param {string | null} lot */
function startOf(row, all, isAgain, lot) {
  if (!row)
    return { chosen: lot ? all.filter((place) => place.lot?.id === lot).map((place) => place.key) : [] };
  const { fields } = row.shown;
  const days = isAgain ? {} : { window_from: fields.window_from ?? "", window_to: fields.window_to ?? "" };
  return {
    title: fields.title ?? "",
    ...chosenOf(fields.lines ?? [], all),
    tank_mix: fields.tank_mix ?? null,
    sprayer: fields.sprayer ?? null,
    operator: fields.operator ?? null,
    from_time: fields.from_time ?? "",
    to_time: fields.to_time ?? "",
    note: fields.note ?? "",
    cancelled: fields.cancelled === true,
    ...days,
  };
}

/** The record's fields from the form. @param {typeof EMPTY} form @param {any[]} all @param {RecordRow | null | undefined} earlier */
const wantedOf = (form, all, earlier) => ({
  title: form.title.trim() || null,
  lines: linesOf(all, form.chosen, form.untreated),
  tank_mix: form.tank_mix,
  sprayer: form.sprayer,
  operator: form.operator,
  window_from: form.window_from || null,
  window_to: form.window_to || null,
  from_time: form.from_time || null,
  to_time: form.to_time || null,
  note: form.note.trim() || null,
  ...(form.cancelled ? { cancelled: true } : {}),
  ...(earlier ? { program: earlier.shown.fields.program ?? null } : {}),
});

/** What is missing or wrong; "" where it can be saved. @param {typeof EMPTY} form */
function problemOf(form) {
  if (form.chosen.length === 0) return t("apply.where_first");
  if (form.chosen.length === form.untreated.length) return t("order.all_untreated");
  if (form.tank_mix === null) return t("order.mix_first");
  if (form.window_from && form.window_to && form.window_to < form.window_from) return t("order.window_wrong");
  return "";
}

function useRows() {
  /** @type {Record<string, RecordRow[] | null>} */
  const rows = {};
  for (const kind of ["house", "bench", "lot", "tank_mix", "member", "sprayer"])
    rows[kind] = useRecords(kind);
  return Object.values(rows).some((list) => list === null)
    ? null
    : /** @type {Record<string, RecordRow[]>} */ (rows);
}
