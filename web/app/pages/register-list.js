// A register's list: search, rows, the way to add one, what waits for a grower; and what stands where nothing is yet.
import { useSignal } from "@preact/signals";
import { useRecords, useTepal } from "../state/context.js";
import { isOpenQuestion, questionsOf } from "../state/held-groups.js";
import { Button, GoButton } from "../ui/buttons.js";
import { matching, prepareSearch } from "../ui/choices.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { EmptyState, Message, StateChip } from "../ui/state.js";
import { t } from "../ui/words.js";
import { may } from "./may.js";
import { useValueWords } from "./record-words.js";
import { rowsOf } from "./register-rows.js";
import { REGISTERS, RowText } from "./registers.js";

const SEARCH_FROM = 7; // fewer rows are seen at a glance

/** Registers that stand below the mixes. */
const BESIDE_MIXES = [
  ["instrument", "instruments"],
  ["sprayer", "sprayers"],
  ["incompatible_pair", "incompatible_pairs"],
  ["jar_test", "jar_tests"],
];

/** The page of a register that has one list of its own. @param {string} kind @param {string} title */
export const listPage =
  (kind, title) =>
  (/** @type {{ frame: any }} */ { frame }) =>
    frame(
      null,
      html`<${Page} title=${t(title)} actions=${html`<${AddButton} kind=${kind} />`}>
      <${RegisterList} kind=${kind} />
      ${kind === "product" && html`<div class="row"><${Button} icon="product" href="/stock">${t("place.stock")}<//><${Button} icon="sign" href="/permits">${t("place.permits")}<//></div>`}
      ${
        kind === "tank_mix" &&
        BESIDE_MIXES.map(
          ([beside, title]) => html`<h2 key=${beside}>${t(`register.${title}`)}</h2>
            <${RegisterList} kind=${beside} /><${AddLink} kind=${beside} />`,
        )
      }
    <//>`,
    );

/** The page's next step, where the person may add. @param {{ kind: string }} props */
export function AddButton({ kind }) {
  const { session } = useTepal();
  const { base, guard } = REGISTERS[kind];
  const word = may(session.value, guard);
  if (word === "no") return null;
  return html`<div class="head-act"><${GoButton} href=${`${base}/new`}>${t(word === "ask" ? `register.propose.${kind}` : `register.add.${kind}`)}<//></div>`;
}

/** The same, as a plain link below a list that is not the page's own. @param {{ kind: string, query?: string }} props */
export function AddLink({ kind, query = "" }) {
  const { session } = useTepal();
  const { base, guard } = REGISTERS[kind];
  const word = may(session.value, guard);
  if (word === "no") return null;
  return html`<div><${Button} icon="plus" href=${`${base}/new${query}`}>${t(word === "ask" ? `register.propose.${kind}` : `register.add.${kind}`)}<//></div>`;
}

const SHOWN_FIRST = 20; // rows drawn at once; more on demand, so that a long register opens at once on a phone

/** @param {{ kind: string }} props */
export function RegisterList({ kind }) {
  const records = useRecords(kind);
  const words = useValueWords();
  const search = useSignal("");
  const withRetired = useSignal(false);
  const shown = useSignal(SHOWN_FIRST);
  if (records === null) return null;
  const { base, icon } = REGISTERS[kind];
  const { all, inUse } = rowsOf(kind, records, words);
  const retired = all.length - inUse.length;
  const options = withRetired.value ? all : inUse;
  const found = /** @type {typeof all} */ (matching(options, search.value));
  const drawn = found.slice(0, shown.value);
  return html`<${Proposals} kind=${kind} />
    ${
      options.length >= SEARCH_FROM &&
      html`<input class="input" type="search" autocomplete="off" aria-label=${t("pick.search")} placeholder=${t("pick.search")} value=${search.value}
        onFocus=${() => prepareSearch(options)}
        onInput=${(/** @type {any} */ event) => {
          search.value = event.currentTarget.value;
          shown.value = SHOWN_FIRST;
        }} />`
    }
    ${options.length === 0 && html`<${EmptyState} icon=${icon} title=${t(`register.empty.${kind}`)}><p>${t(`register.empty_why.${kind}`)}</p><//>`}
    ${options.length > 0 && found.length === 0 && html`<p class="muted" role="status">${t("pick.nothing_found", { search: search.value })}</p>`}
    ${
      found.length > 0 &&
      html`<ul class="list">${drawn.map(
        ({ id, fields, detail }) =>
          html`<li key=${id}><a class="list-row" href=${`${base}/${id}`}><${RowText} kind=${kind} fields=${fields} detail=${detail} nameOf=${words.nameOf} />
            ${fields.retired === true && html`<${StateChip} tone="plain">${t("register.is_retired")}<//>`}<${Icon} name="forward" /></a></li>`,
      )}</ul>`
    }
    ${
      found.length > drawn.length &&
      html`<div><${Button} icon="down" onPress=${() => {
        shown.value += 8 * SHOWN_FIRST;
      }}>${t("register.show_more", { n: found.length - drawn.length })}<//></div>`
    }
    ${
      retired > 0 &&
      html`<div><${Button} kind="quiet" onPress=${() => {
        withRetired.value = !withRetired.value;
      }}>${t(withRetired.value ? "register.hide_retired" : "register.show_retired", { n: retired })}<//></div>`
    }`;
}

/** Proposals for this register that wait for a grower. @param {{ kind: string }} props */
export function Proposals({ kind }) {
  const waiting = questionsOf(useRecords("held") ?? []).filter(
    (rows) => isOpenQuestion(rows) && rows.some((row) => row.shown.fields.of_kind === kind),
  );
  if (waiting.length === 0) return null;
  return html`<${Message} tone="waiting" title=${t("register.proposals", { n: waiting.length })}><${Button} href="/decide">${t("place.decide")}<//><//>`;
}
