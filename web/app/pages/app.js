// The frame with its places, and which page an address shows.
import { LocationProvider, Router, useLocation } from "preact-iso";
import { TepalContext, useTepal } from "../state/context.js";
import { Frame } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { NewVersionBar } from "../ui/new-version.js";
import { SyncLine } from "../ui/sync-line.js";
import { clockTime } from "../ui/when.js";
import { t } from "../ui/words.js";
import { BoardPage } from "./board.js";
import { Missing, PAGES } from "./pages.js";
import { SetUpPage } from "./set-up.js";
import { SettingsContext } from "./settings-context.js";
import { SignInPage } from "./sign-in.js";
import { WhoPage } from "./who.js";

/** @param {{ tepal: import("../state/tepal.js").Tepal, settings: import("../state/settings.js").Settings,
 *   release: any }} props */
export function App({ tepal, settings, release }) {
  return html`<${SettingsContext.Provider} value=${settings}>
    <${TepalContext.Provider} value=${tepal}>
      <${LocationProvider}><${Shell} release=${release} /><//>
    <//>
  <//>`;
}

/** @param {{ release: any }} props */
function Shell({ release }) {
  const tepal = useTepal();
  const { path } = useLocation();
  const top = html`<${TopLine} />${release.mayOffer.value && html`<${NewVersionBar} onTake=${release.takeOver} />`}`;
  const session = tepal.session.value;
  if (!session?.member) {
    if (path === "/emergency") return bare(top, html`<${Routes} />`);
    // a tablet on the wall shows the board by itself
    if (session?.device && (path === "/board" || session.device.ceiling === "display"))
      return bare(top, html`<${BoardPage} frame=${withoutPlaces} />`);
    if (session?.device) return bare(top, html`<${WhoPage} />`);
    return bare(top, tepal.isSetUp.value ? html`<${SignInPage} />` : html`<${SetUpPage} />`);
  }
  return html`<${Routes} top=${top} />`;
}

/** A page where there is nowhere else to go. @param {any} _foot @param {any} content */
const withoutPlaces = (_foot, content) => content;

/** @param {any} top @param {any} page */
const bare = (top, page) =>
  html`<div class="frame"><div class="frame-top no-print">${top}</div><main id="main">${page}</main></div>`;

/** @param {{ top?: any }} props */
function Routes({ top }) {
  return html`<${Router}>
    ${PAGES.map(({ path, page: Page }) => html`<${Placed} path=${path} top=${top} page=${Page} />`)}
    <${Placed} default top=${top} page=${Missing} />
  <//>`;
}

/** One page in the frame. @param {{ top?: any, page: any, path?: string, default?: boolean, params?: any, query?: any }} props */
function Placed({ top, page: Page, params = {}, query = {} }) {
  const { path } = useLocation();
  const { sync } = useTepal();
  const places = [
    { href: "/today", label: t("place.today"), icon: "calendar" },
    { href: "/apply", label: t("place.apply"), icon: "sprayer" },
    { href: "/lots", label: t("place.lots"), icon: "lot" },
    { href: "/emergency", label: t("place.emergency"), icon: "emergency" },
  ];
  const office = [
    { href: "/trials", label: t("place.trials"), icon: "trial" },
    { href: "/board", label: t("board.title"), icon: "sign" },
    { href: "/orders", label: t("place.orders"), icon: "calendar" },
    { href: "/applications", label: t("place.applications"), icon: "book" },
    { href: "/print", label: t("place.print"), icon: "print" },
    { href: "/mix", label: t("place.mix"), icon: "drop" },
    { href: "/mixes", label: t("place.mixes"), icon: "mix" },
    { href: "/products", label: t("place.products"), icon: "product" },
    { href: "/houses", label: t("place.houses"), icon: "house" },
    { href: "/people", label: t("place.people"), icon: "person" },
    { href: "/files", label: t("files.title"), icon: "book" },
    {
      href: "/decide",
      label: t("place.decide"),
      icon: "differ",
      count: sync.value.conflicts + sync.value.held,
    },
    { href: "/sync", label: t("place.sync"), icon: "sync", count: sync.value.unsent },
  ];
  // a page hands its foot (the next step) to the frame by returning it beside its content
  return html`<${Page} ...${params} query=${query} frame=${(
    /** @type {any} */ foot,
    /** @type {any} */ content,
  ) =>
    html`<${Frame} top=${top} tabs=${places} rail=${[...places, ...office]} path=${path} foot=${foot}>${content}<//>`} />`;
}

function TopLine() {
  const tepal = useTepal();
  const at = tepal.heard.value ? clockTime(Date.parse(tepal.heard.value.server)) : t("sync.never");
  return html`<${SyncLine} sync=${tepal.sync.value} nowMs=${tepal.nowTick.value} heard=${at} />`;
}
