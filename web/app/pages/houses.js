// Houses: one page for the whole place; each house has its plan with benches and lots.
import { useSignal } from "@preact/signals";
import { useRecords } from "../state/context.js";
import { Button } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState } from "../ui/state.js";
import { t } from "../ui/words.js";
import { lotsByBench } from "./house-plan.js";
import { recordName, useValueWords } from "./record-words.js";
import { AddButton, AddLink, Proposals } from "./register-list.js";
import { isRetired } from "./registers.js";

/** @param {{ frame: any }} props */
export function HousesPage({ frame }) {
  const words = useValueWords();
  const withRetired = useSignal(false);
  const every = (useRecords("house") ?? []).filter((row) => row.shown.state !== "void");
  const houses = withRetired.value ? every : every.filter(({ shown }) => !isRetired(shown.fields));
  const retired = every.filter(({ shown }) => isRetired(shown.fields)).length;
  const lots = lotsByBench(useRecords("lot") ?? []);
  const isRead = useRecords("house") !== null;
  const sorted = [...houses].sort((a, b) =>
    recordName("house", a.shown.fields).localeCompare(recordName("house", b.shown.fields), undefined, {
      numeric: true,
    }),
  );
  const all = (useRecords("bench") ?? []).filter(
    ({ shown }) => shown.state !== "void" && !isRetired(shown.fields),
  );
  const benches = all.filter((row) => !every.some((house) => house.id === row.shown.fields.house));
  /** "12 benches, 30 lots on them" @param {string} house */
  const countText = (house) => {
    const mine = all.filter((row) => row.shown.fields.house === house);
    const on = new Set(mine.flatMap(({ id }) => (lots.get(id) ?? []).map((lot) => lot.id)));
    return t("house_plan.counts", { benches: mine.length, lots: on.size });
  };
  return frame(
    null,
    html`<${Page} title=${t("place.houses")} actions=${html`<${AddButton} kind="house" />`}>
      <${Proposals} kind="house" /><${Proposals} kind="bench" />
      ${isRead && sorted.length === 0 && html`<${EmptyState} icon="house" title=${t("register.empty.house")}><p>${t("register.empty_why.house")}</p><//>`}
      <div class="places">${sorted.map(
        ({ id, shown: { fields } }) => html`<article class="card" key=${id}>
          <div class="spread"><h2><a href=${`/houses/${id}`}>${recordName("house", fields) || t("office.not_on_file")}</a></h2>
            <span class="muted">${words.text("house", "area", fields.area) ?? t("register.no_area")}</span></div>
          <p>${countText(id)}</p>
          <div class="row"><${Button} icon="house" href=${`/houses/${id}`}>${t("house_plan.see")}<//><${AddLink} kind="bench" query=${`?house=${id}`} /></div></article>`,
      )}</div>
      ${
        retired > 0 &&
        html`<div><${Button} kind="quiet" onPress=${() => {
          withRetired.value = !withRetired.value;
        }}>${t(withRetired.value ? "register.hide_retired" : "register.show_retired", { n: retired })}<//></div>`
      }
      ${
        benches.length > 0 &&
        html`<section class="stack"><h2>${t("register.benches_elsewhere")}</h2><ul class="list">${benches.map(
          ({ id, shown: { fields } }) =>
            html`<li key=${id}><a class="list-row" href=${`/benches/${id}`}><b>${recordName("bench", fields)}</b></a></li>`,
        )}</ul></section>`
      }
    <//>`,
  );
}
