// The frame with its places, and which page an address shows.
import { LocationProvider, Router, useLocation } from "preact-iso";
import { TepalContext, useTepal } from "../state/context.js";
import { Frame, Page } from "../ui/frame.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { NewVersionBar } from "../ui/new-version.js";
import { Message } from "../ui/state.js";
import { SyncLine } from "../ui/sync-line.js";
import { clockTime, setZone } from "../ui/when.js";
import { t } from "../ui/words.js";
import { BoardPage } from "./board.js";
import { DisplayPage } from "./display.js";
import { EmergencyPage } from "./emergency.js";
import { useEstablishment } from "./establishment.js";
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
  setZone(useEstablishment().zone);
  const top = html`<${TopLine} />${release.mayOffer.value && html`<${NewVersionBar} onTake=${release.takeOver} />`}`;
  const session = tepal.session.value;
  if (!session?.member) {
    if (path === "/emergency") return bare(top, html`<${EmergencyPage} frame=${withoutPlaces} />`);
    // a tablet on the wall shows the board by itself, and the central display beside it
    const isWall = session?.device?.ceiling === "display";
    if (session?.device && (isWall || path === "/board" || path === "/display")) {
      const Shown = path === "/display" ? DisplayPage : BoardPage;
      return bare(top, html`<${WallPlaces} path=${path} /><${Shown} frame=${withoutPlaces} />`);
    }
    if (session?.device) return bare(top, html`<${WhoPage} />`);
    return bare(top, tepal.isSetUp.value ? html`<${SignInPage} />` : html`<${SetUpPage} />`);
  }
  return html`<${Routes} top=${top} />`;
}

/** A page where there is nowhere else to go. @param {any} _foot @param {any} content */
const withoutPlaces = (_foot, content) => content;

/** What can be read without anybody signed in. @param {{ path: string }} props */
function WallPlaces({ path }) {
  const isDisplay = path === "/display";
  return html`<nav class="wall-places no-print" aria-label=${t("frame.rail")}>
    <a class="btn" href="/board" aria-current=${isDisplay ? undefined : "page"}><${Icon} name="sign" /><span>${t("board.title")}</span></a>
    <a class="btn" href="/display" aria-current=${isDisplay ? "page" : undefined}><${Icon} name="book" /><span>${t("place.display")}</span></a>
    <a class="btn btn-emergency" href="/emergency"><${Icon} name="emergency" /><span>${t("place.emergency")}</span></a></nav>`;
}

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

/** What can be read and done before the forms are here. */
const NEEDS_NO_FORMS = new Set(["/emergency", "/board", "/display", "/sync"]);

/** A form without its fields would keep nothing of what was meant. @param {{ frame: any }} props */
function GettingReady({ frame }) {
  return frame(
    null,
    html`<${Page} title=${t("ready.title")}><${Message} tone="waiting" title=${t("ready.what")} live=${true}><p>${t("ready.why")}</p><//><//>`,
  );
}

/** One page in the frame. @param {{ top?: any, page: any, path?: string, default?: boolean, params?: any, query?: any }} props */
function Placed({ top, page: Shown, params = {}, query = {} }) {
  const { path } = useLocation();
  const { forms, minute } = useTepal();
  minute.value; // what a page says of today
  const isReady = forms.value !== null || NEEDS_NO_FORMS.has(path);
  // a page hands its foot (the next step) to the frame by returning it beside its content
  return html`<${isReady ? Shown : GettingReady} ...${params} query=${query} frame=${(
    /** @type {any} */ foot,
    /** @type {any} */ content,
  ) => html`<${Around} top=${top} path=${path} foot=${foot}>${content}<//>`} />`;
}

/** The frame with what waits at each place: an exchange draws it again, and not the page in it.
 * @param {{ top?: any, path: string, foot: any, children?: any }} props */
function Around({ top, path, foot, children }) {
  const { sync } = useTepal();
  const places = [
    { href: "/today", label: t("place.today"), icon: "calendar" },
    { href: "/apply", label: t("place.apply"), icon: "sprayer" },
    { href: "/lots", label: t("place.lots"), icon: "lot" },
    { href: "/emergency", label: t("place.emergency"), icon: "emergency" },
  ];
  // what waits stands first: the list is longer than a screen
  const office = [
    {
      href: "/decide",
      label: t("place.decide"),
      icon: "differ",
      count: sync.value.conflicts + sync.value.held,
    },
    { href: "/sync", label: t("place.sync"), icon: "sync", count: sync.value.unsent },
    { href: "/board", label: t("board.title"), icon: "sign" },
    { href: "/trials", label: t("place.trials"), icon: "trial" },
    { href: "/orders", label: t("place.orders"), icon: "calendar" },
    { href: "/applications", label: t("place.applications"), icon: "book" },
    { href: "/print", label: t("place.print"), icon: "print" },
    { href: "/mix", label: t("place.mix"), icon: "drop" },
    { href: "/mixes", label: t("place.mixes"), icon: "mix" },
    { href: "/products", label: t("place.products"), icon: "product" },
    { href: "/houses", label: t("place.houses"), icon: "house" },
    { href: "/stock", label: t("place.stock"), icon: "product" },
    { href: "/display", label: t("place.display"), icon: "book" },
    { href: "/people", label: t("place.people"), icon: "person" },
    { href: "/files", label: t("files.title"), icon: "book" },
  ];
  return html`<${Frame} top=${top} tabs=${places} rail=${[...places, ...office]} path=${path} foot=${foot}>${children}<//>`;
}

function TopLine() {
  const tepal = useTepal();
  const at = tepal.heard.value ? clockTime(Date.parse(tepal.heard.value.server)) : t("sync.never");
  // where neither tabs nor rail lead there, the emergency page stands beside the line: one tap from everywhere
  return html`<div class="topline"><${SyncLine} sync=${tepal.sync.value} nowMs=${tepal.nowTick.value} heard=${at} />
    <a class="top-emergency" href="/emergency" aria-label=${t("place.emergency")}><${Icon} name="emergency" /></a></div>`;
}
