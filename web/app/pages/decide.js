// What needs a person: two values for one field, side by side, and entries that wait or stand apart. Deciding is an entry
// of its own; the server takes it only from the decider's own password session, else it holds the decision too.
import { useRecords, useTepal } from "../state/context.js";
import { isOpenQuestion, questionsOf } from "../state/held-groups.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState, Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { isUndecided } from "./applied.js";
import { AcceptAll } from "./decide-all.js";
import { Asked } from "./decide-asked.js";
import { Conflict } from "./decide-conflict.js";
import { HeldQuestion } from "./decide-held.js";
import { may } from "./may.js";
import { PasswordSession } from "./password-session.js";
import { useValueWords } from "./record-words.js";

/** @param {{ frame: any }} props */
export function DecidePage({ frame }) {
  const { session } = useTepal();
  const words = useValueWords();
  const conflicts = useRecords("conflict");
  const held = useRecords("held");
  const open = (conflicts ?? []).filter(isUndecided);
  // a decision that would itself wait for a grower's yes settles nothing: it is not offered
  const mayDecide = may(session.value, "decide") === "password";
  const own = session.value?.member?.id;
  const isOwn = (/** @type {any} */ row) => !mayDecide && row.shown.fields.member === own;
  const asked = questionsOf((held ?? []).filter(isOwn));
  const waiting = questionsOf((held ?? []).filter((row) => !isOwn(row))).filter(isOpenQuestion);
  const isNothing = conflicts !== null && held !== null && open.length + waiting.length + asked.length === 0;
  return frame(
    null,
    html`<${Page} title=${t("place.decide")} under=${t("decide.under")} isReading=${true}>
      ${isNothing && html`<${EmptyState} icon="check" title=${t("decide.nothing")}><p>${t("decide.nothing_why")}</p><//>`}
      ${!isNothing && !mayDecide && html`<${Message} tone="plain" title=${t("decide.not_you")}><p>${t("decide.not_you_why")}</p><//>`}
      ${!isNothing && mayDecide && html`<${PasswordSession} />`}
      <${Asked} questions=${asked} words=${words} />
      ${
        open.length > 0 &&
        html`<section class="stack"><h2>${t("decide.two_values", { n: open.length })}</h2>
          ${open.map((row) => html`<${Conflict} key=${row.id} row=${row} words=${words} mayDecide=${mayDecide} />`)}</section>`
      }
      ${
        waiting.length > 0 &&
        html`<section class="stack"><h2>${t("decide.held", { n: waiting.length })}</h2>
          ${mayDecide && html`<${AcceptAll} rows=${waiting.flat()} words=${words} />`}
          ${waiting.map((rows) => html`<${HeldQuestion} key=${rows[0]?.id} rows=${rows} words=${words} mayDecide=${mayDecide} />`)}</section>`
      }
    <//>`,
  );
}
