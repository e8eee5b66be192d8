// A lot's life on its page: how it stands now, and all that happened to it and to the lots it came from, newest first. What
// was applied counts for intervals and season totals, also what the supplier did, so all of it stands in one line.
import { useSignal } from "@preact/signals";
import { useMemo } from "preact/hooks";
import { choiceLabel } from "../forms/labels.js";
import { useRecords, useTepal } from "../state/context.js";
import { lifeOf } from "../state/lot-life.js";
import { Button, GoButton } from "../ui/buttons.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { StateChip } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { may } from "./may.js";
import { useValueWords } from "./record-words.js";
import { AddLink } from "./register-list.js";
import { isRetired } from "./registers.js";
import { useSettings } from "./settings-context.js";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

const SHOWN_FIRST = 30;

/** The lot now: stage in words, BBCH, count, and the way to say what happened. @param {{ row: RecordRow }} props */
export function LotNow({ row }) {
  const { session } = useTepal();
  const words = useValueWords();
  const { fields } = row.shown;
  const word = may(session.value, "registers");
  const phase = fields.phase ?? "growing";
  return html`<section class="card lot-now">
    <div class="spread"><b class="lot-stage">${fields.stage ?? t("lot.no_stage")}</b>
      ${phase !== "growing" && html`<${StateChip} tone="plain">${choiceLabel("lot.phase", phase)}<//>`}</div>
    <p>${[
      fields.bbch === undefined ? t("lot.no_bbch") : t("lot.bbch", { n: fields.bbch }),
      fields.crop_eppo ? t("lot.eppo", { code: fields.crop_eppo }) : t("lot.no_eppo"),
    ].join(" · ")}</p>
    <p>${[words.text("lot", "n_containers", fields.n_containers) ?? t("lot.no_count"), fields.container].filter(Boolean).join(" × ")}${" · "}${words.text("lot", "benches", fields.benches) || t("lot.no_bench")}</p>
    ${word !== "no" && !isRetired(fields) && html`<div class="head-act"><${GoButton} href=${`/lots/${row.id}/happened`}>${t("lot.happened")}<//></div>`}
  </section>`;
}

/** @param {{ row: RecordRow }} props */
export function LotLife({ row }) {
  const words = useValueWords();
  const { language } = useSettings();
  const shown = useSignal(SHOWN_FIRST);
  const lists = ["lot", "lot_event", "supplier_treatment", "application"].map((kind) => useRecords(kind));
  const life = useMemo(() => {
    const [lots, events, supplied, applications] = lists.map((rows) => rows ?? []);
    return lifeOf(row.id, { lots, events, supplied, applications });
  }, [row.id, ...lists]);
  const isRead = lists.every((rows) => rows !== null);
  return html`<section class="stack"><h2>${t("lot.life")}</h2>
    ${isRead && life.length === 0 && html`<p class="muted">${t("lot.life_empty")}</p>`}
    ${life.length > 0 && html`<ol class="history">${life.slice(0, shown.value).map((one) => html`<${Happened} key=${one.row.key} one=${one} words=${words} language=${language.value} />`)}</ol>`}
    ${
      life.length > shown.value &&
      html`<div><${Button} icon="down" onPress=${() => {
        shown.value += SHOWN_FIRST;
      }}>${t("register.show_more", { n: life.length - shown.value })}<//></div>`
    }
    <${AddLink} kind="supplier_treatment" query=${`?lot=${row.id}`} />
  </section>`;
}

/** @type {Record<string, import("../ui/icons.js").IconName>} */
const ICONS = { event: "lot", supplied: "person", applied: "sprayer" };

/** @param {{ one: ReturnType<typeof lifeOf>[number], words: ReturnType<typeof useValueWords>, language: string }} props */
function Happened({ one, words, language }) {
  const { sort, row, day, from } = one;
  const { fields } = row.shown;
  const when = day ? shortDay(day, language) : t("office.no_day");
  const title =
    sort === "event"
      ? choiceLabel("lot_event.what", fields.what)
      : sort === "supplied"
        ? t("lot.by_supplier", { product: fields.product_name ?? t("office.not_on_file") })
        : fields.mix_name ||
          (fields.products ?? []).map((/** @type {any} */ product) => product.name).join(" + ") ||
          t("office.no_mix");
  const detail = { event: eventDetail, supplied: suppliedDetail, applied: appliedDetail }[sort](
    fields,
    words,
  );
  const link =
    sort === "applied"
      ? `/applications/${row.id}`
      : sort === "supplied"
        ? `/supplier-treatments/${row.id}`
        : null;
  const isHere = row.pending.length > 0;
  return html`<li class="history-entry"><span class="spread"><b class="named"><${Icon} name=${ICONS[sort]} />${link ? html`<a href=${link}>${title}</a>` : html`<span>${title}</span>`}</b>
      <span class="muted">${when}</span></span>
    ${detail && html`<span>${detail}</span>`}
    ${from && html`<span class="muted small">${t("lot.happened_to", { lot: words.nameOf("lot", from) ?? t("office.not_on_phone") })}</span>`}
    ${isHere && html`<span><${StateChip} tone="waiting" icon="phone">${t("office.state.only_here")}<//></span>`}</li>`;
}

const EVENT_FACTS = [
  "n_containers",
  "container",
  "stage",
  "bbch",
  "benches",
  "other_lots",
  "customer",
  "note",
];

/** @param {Record<string, any>} fields @param {ReturnType<typeof useValueWords>} words */
const eventDetail = (fields, words) =>
  EVENT_FACTS.map((name) => {
    const text = words.text("lot_event", name, fields[name]);
    return text && name === "bbch" ? t("lot.bbch", { n: fields.bbch }) : text;
  })
    .filter(Boolean)
    .join(" · ");

/** @param {Record<string, any>} fields @param {ReturnType<typeof useValueWords>} words */
const suppliedDetail = (fields, words) =>
  ["method", "target", "dose", "source"]
    .map((name) => words.text("supplier_treatment", name, fields[name]))
    .filter(Boolean)
    .join(" · ");

/** @param {Record<string, any>} fields @param {ReturnType<typeof useValueWords>} words */
const appliedDetail = (fields, words) =>
  [
    words.text("application", "method", fields.method),
    ...(fields.products ?? []).map((/** @type {any} */ product) =>
      [product.name, words.inner("application", "products", "target", product.target)]
        .filter(Boolean)
        .join(" "),
    ),
  ]
    .filter(Boolean)
    .join(" · ");
