// The nursery's own page: its contacts for an emergency, its rules and how it writes. There is one record of it.
import { useRecords } from "../state/context.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState } from "../ui/state.js";
import { t } from "../ui/words.js";
import { RecordPage } from "./register-record.js";

/** @param {{ frame: any }} props */
export function EstablishmentPage({ frame }) {
  const rows = useRecords("establishment");
  if (rows?.[0]) return html`<${RecordPage} kind="establishment" frame=${frame} id=${rows[0].id} />`;
  return frame(
    null,
    html`<${Page} title=${t("place.establishment")}>${rows !== null && html`<${EmptyState} icon="house" title=${t("register.not_here")} />`}<//>`,
  );
}
