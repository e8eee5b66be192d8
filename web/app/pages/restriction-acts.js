// What people do with a restriction besides reopening it: signs, ventilation, telling people, a measured level. Each asks
// when it happened (now, unless said otherwise) and is saved as a change of the restriction under the person's name.
import { useSignal } from "@preact/signals";
import { useTepal } from "../state/context.js";
import { momentAt, nowText } from "../state/moments.js";
import { GoButton } from "../ui/buttons.js";
import { ChoiceField } from "../ui/choices.js";
import { InstantField, TextField } from "../ui/fields.js";
import { html } from "../ui/html.js";
import { Sheet } from "../ui/sheet.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

/** @param {Record<string, any>} fields */
const lastSpell = (fields) => (fields.ventilation ?? [])[(fields.ventilation ?? []).length - 1];

/** The acts, and when each is offered. */
export const ACTS = Object.freeze(
  /** @type {{name: string, icon: import("../ui/icons.js").IconName, isOffered: (fields: any) => boolean}[]} */ ([
    { name: "signs_up", icon: "sign", isOffered: (fields) => !fields.signs_up_at },
    { name: "signs_down", icon: "sign", isOffered: (fields) => !fields.signs_down_at },
    { name: "ventilate", icon: "air", isOffered: () => true },
    {
      name: "ventilate_end",
      icon: "air",
      isOffered: (fields) => Boolean(lastSpell(fields)) && !lastSpell(fields).ended_at,
    },
    { name: "told", icon: "person", isOffered: () => true },
    { name: "measured", icon: "ruler", isOffered: () => true },
  ]),
);

/**
 * The fields that an act changes; null where something is missing.
 * @param {string} act @param {Record<string, any>} fields  As the record stands.
 * @param {any} at @param {{sort: string | null, told: string, words: string, level: string, with: string, exchanges: string}} typed
 * @param {string} member
 */
function changedBy(act, fields, at, typed, member) {
  const spells = fields.ventilation ?? [];
  switch (act) {
    case "signs_up":
      return { signs_up_at: at, signs_up_by: member };
    case "signs_down":
      return { signs_down_at: at, signs_down_by: member };
    case "ventilate":
      return typed.sort === null
        ? null
        : {
            ventilation: [
              ...spells.map((/** @type {any} */ spell) =>
                spell.ended_at ? spell : { ...spell, ended_at: at },
              ),
              { sort: typed.sort, began_at: at, ended_at: null, by: member },
            ],
          };
    case "ventilate_end": {
      const last = spells[spells.length - 1];
      if (!last) return null;
      const air_exchanges = /^[0-9]{1,4}$/.test(typed.exchanges.trim()) ? typed.exchanges.trim() : null;
      return { ventilation: [...spells.slice(0, -1), { ...last, ended_at: at, air_exchanges }] };
    }
    case "told":
      return typed.told.trim() === ""
        ? null
        : {
            oral_notices: [
              ...(fields.oral_notices ?? []),
              { told: typed.told.trim(), at, by: member, words: typed.words.trim() || null },
            ],
          };
    default:
      return typed.level.trim() === ""
        ? null
        : {
            measured_level: typed.level.trim(),
            measured_with: typed.with.trim() || null,
            measured_at: at,
          };
  }
}

/** @param {{ act: string, row: RecordRow, onClose: () => void }} props */
export function ActSheet({ act, row, onClose }) {
  const tepal = useTepal();
  const at = useSignal(nowText(tepal.wall()));
  const failure = useSignal("");
  const typed = useSignal({
    sort: /** @type {string | null} */ (null),
    told: "",
    words: t("restriction.told_words", { place: row.shown.fields.place ?? "" }),
    level: "",
    with: "",
    exchanges: "",
  });
  const set = (/** @type {any} */ more) => {
    typed.value = { ...typed.value, ...more };
  };
  const { fields } = row.shown;

  async function save() {
    const moment = momentAt(at.value, tepal.wall().zone);
    if (moment === null) {
      failure.value = t("restriction.time_first");
      return;
    }
    if (at.value > nowText(tepal.wall())) {
      failure.value = t("restriction.not_in_future");
      return;
    }
    const changes = changedBy(act, fields, moment, typed.value, tepal.session.value?.member?.id);
    if (changes === null) {
      failure.value = t(`restriction.first.${act}`);
      return;
    }
    try {
      await tepal.save.change(row, changes);
      onClose();
    } catch (error) {
      failure.value = t("office.not_saved", { cause: String(error) });
    }
  }

  return html`<${Sheet} title=${t(`restriction.act.${act}`)} onClose=${onClose}><div class="stack">
    ${
      act === "ventilate" &&
      html`<${ChoiceField} label=${t("restriction.how_ventilated")} value=${typed.value.sort} onValue=${(/** @type {string} */ sort) => set({ sort })}
        choices=${["mechanical", "passive", "closed"].map((value) => ({ value, label: t(`choice.restriction.ventilation.sort.${value}`) }))} />`
    }
    ${
      act === "ventilate_end" &&
      html`<${TextField} label=${t("field.air_exchanges")} isOptional=${true} inputMode="numeric" value=${typed.value.exchanges} maxLength=${4}
        onValue=${(/** @type {string} */ exchanges) => set({ exchanges })} />`
    }
    ${
      act === "told" &&
      html`<${TextField} label=${t("restriction.who_told")} hint=${t("restriction.who_told_hint")} value=${typed.value.told} maxLength=${200} onValue=${(/** @type {string} */ told) => set({ told })} />
        <${TextField} label=${t("restriction.in_words")} isLong=${true} value=${typed.value.words} maxLength=${400} onValue=${(/** @type {string} */ words) => set({ words })} />`
    }
    ${
      act === "measured" &&
      html`<${TextField} label=${t("field.measured_level")} hint=${t("restriction.level_hint")} value=${typed.value.level} maxLength=${120} onValue=${(/** @type {string} */ level) => set({ level })} />
        <${TextField} label=${t("field.measured_with")} isOptional=${true} value=${typed.value.with} maxLength=${120} onValue=${(/** @type {string} */ how) => set({ with: how })} />`
    }
    <${InstantField} label=${t("restriction.when")} value=${at.value} now=${() => nowText(tepal.wall())}
      onValue=${(/** @type {string} */ value) => {
        at.value = value;
      }} />
    ${failure.value && html`<${Message} tone="stopped" title=${failure.value} live=${true} />`}
    <${GoButton} onPress=${save}>${t(`restriction.do.${act}`)}<//>
  </div><//>`;
}
