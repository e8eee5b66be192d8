// Houses with their benches inside: one page for the whole place.
import { useRecords } from "../state/context.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState } from "../ui/state.js";
import { t } from "../ui/words.js";
import { recordName, useValueWords } from "./record-words.js";
import { AddButton, Proposals } from "./register-list.js";
import { Benches } from "./register-record.js";

/** @param {{ frame: any }} props */
export function HousesPage({ frame }) {
  const words = useValueWords();
  const houses = (useRecords("house") ?? []).filter((row) => row.shown.state !== "void");
  const isRead = useRecords("house") !== null;
  const sorted = [...houses].sort((a, b) =>
    recordName("house", a.shown.fields).localeCompare(recordName("house", b.shown.fields), undefined, {
      numeric: true,
    }),
  );
  const benches = (useRecords("bench") ?? []).filter(
    (row) => !houses.some((house) => house.id === row.shown.fields.house),
  );
  return frame(
    null,
    html`<${Page} title=${t("place.houses")} actions=${html`<${AddButton} kind="house" />`}>
      <${Proposals} kind="house" /><${Proposals} kind="bench" />
      ${isRead && sorted.length === 0 && html`<${EmptyState} icon="house" title=${t("register.empty.house")}><p>${t("register.empty_why.house")}</p><//>`}
      <div class="places">${sorted.map(
        ({ id, shown: { fields } }) => html`<article class="card" key=${id}>
          <div class="spread"><h2><a href=${`/houses/${id}`}>${recordName("house", fields) || t("office.not_on_file")}</a></h2>
            <span class="muted">${words.text("house", "area", fields.area) ?? t("register.no_area")}</span></div>
          <${Benches} house=${id} /></article>`,
      )}</div>
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
