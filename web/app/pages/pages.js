// Address -> page. A page gets `frame(foot, content)` and the parameters of its address.
import { Button } from "../ui/buttons.js";
import { Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { EmptyState } from "../ui/state.js";
import { t } from "../ui/words.js";
import { ApplicationPage } from "./application.js";
import { AmendPage } from "./application-amend.js";
import { ApplicationsPage } from "./applications.js";
import { ApplyPage } from "./apply.js";
import { DecidePage } from "./decide.js";
import { EmergencyPage } from "./emergency.js";
import { SavedPage } from "./saved.js";
import { SyncPage } from "./sync.js";
import { TodayPage } from "./today.js";

export const PAGES = [
  { path: "/", page: TodayPage },
  { path: "/today", page: TodayPage },
  { path: "/apply", page: ApplyPage },
  { path: "/saved/:id", page: SavedPage },
  { path: "/sync", page: SyncPage },
  { path: "/applications", page: ApplicationsPage },
  { path: "/applications/:id", page: ApplicationPage },
  { path: "/applications/:id/amend", page: AmendPage },
  { path: "/decide", page: DecidePage },
  { path: "/emergency", page: EmergencyPage },
];

/** @param {{ frame: any }} props */
export function Missing({ frame }) {
  return frame(
    null,
    html`<${Page} title=${t("missing.title")}>
      <${EmptyState} icon="search" title=${t("missing.words")}><${Button} href="/today">${t("place.today")}<//><//>
    <//>`,
  );
}
