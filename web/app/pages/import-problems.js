// What stands against a table: where each problem stands, what the cell says, and what cures it.
import { html } from "../ui/html.js";
import { hasWords, t } from "../ui/words.js";

const SHOWN = 100;

/** @param {{ problems: any[] }} props */
export function ImportProblems({ problems }) {
  if (problems.length === 0) return null;
  return html`<section class="stack"><h3>${t("import.problems", { n: problems.length })}</h3>
    <div class="table-frame"><table class="table"><thead><tr>
      <th scope="col">${t("import.place")}</th><th scope="col">${t("import.says")}</th><th scope="col">${t("import.cure")}</th></tr></thead>
      <tbody>${problems.slice(0, SHOWN).map(
        (
          one,
          place,
        ) => html`<tr key=${place}><td>${t("import.place_is", { sheet: one.sheet, row: one.row })} <b>${one.column}</b></td>
          <td>${one.value || t("office.nothing")}</td><td>${problemText(one)}</td></tr>`,
      )}</tbody></table></div>
    ${problems.length > SHOWN && html`<p class="muted">${t("import.more", { n: problems.length - SHOWN })}</p>`}
  </section>`;
}

/** @param {{ code: string, params: Record<string, any> }} problem */
function problemText({ code, params }) {
  const own = `problem.${code}`;
  return hasWords(own) ? t(own, params) : t("problem.import.other", { code });
}
