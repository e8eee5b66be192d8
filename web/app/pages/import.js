// Files in and out: products, lots and places from a table; a phone's saved entries; the whole book as a ZIP.
import { useTepal } from "../state/context.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Message } from "../ui/state.js";
import { t } from "../ui/words.js";
import { ExportBook, TakeUnsent } from "./book-files.js";
import { ImportTable } from "./import-table.js";
import { may } from "./may.js";
import { PasswordSession } from "./password-session.js";

/** @param {{ frame: any }} props */
export function ImportPage({ frame }) {
  const { session } = useTepal();
  const mayImport = may(session.value, "registers") === "yes";
  return frame(
    null,
    html`<${Page} title=${t("files.title")} under=${t("files.under")} isReading=${true}>
      ${!mayImport && html`<${Message} tone="plain" title=${t("office.read_only")}><p>${t("files.not_you")}</p><//>`}
      ${
        mayImport &&
        html`<${PasswordSession} />
        <section class="stack"><h2>${t("import.title")}</h2><p class="muted">${t("import.under")}</p><${ImportTable} /></section>
        <section class="stack"><h2>${t("unsent.title")}</h2><p class="muted">${t("unsent.under")}</p><${TakeUnsent} /></section>
        ${may(session.value, "admin") !== "no" && html`<section class="stack"><h2>${t("export.title")}</h2><p class="muted">${t("export.under")}</p><${ExportBook} /></section>`}`
      }
    <//>`,
  );
}
