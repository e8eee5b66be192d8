// The frame round every page: sync line, page, foot, tabs on a phone, rail in the office. Pages give the content;
// app.js gives the places one can go to.

import { html } from "./html.js";
import { Icon, Mark } from "./icons.js";
import { t } from "./words.js";

/**
 * @typedef {object} Place
 * @property {string} href
 * @property {string} label
 * @property {import("./icons.js").IconName} icon
 * @property {number} [count]   Things that wait there.
 */

/**
 * @param {{ top?: any, tabs: Place[], rail: Place[], path: string, foot?: any, children?: any }} props
 *   top   Sync line and, when there is one, the bar for a new version.
 *   path  Where the person is now; the place whose href begins it is marked.
 *   foot  What the page keeps in reach of the thumb (`FootAct`); tabs stand below it.
 */
export function Frame({ top, tabs, rail, path, foot, children }) {
  return html`<div class="frame">
    <${Rail} places=${rail} path=${path} />
    <header class="frame-top no-print">${top}</header>
    <main id="main">${children}</main>
    ${
      foot
        ? html`<section class="foot no-print" aria-label=${t("frame.next_step")}>${foot}</section>`
        : html`<div class="foot no-print"><${Tabs} places=${tabs} path=${path} /></div>`
    }
  </div>`;
}

/**
 * @param {string} path
 * @param {Place} place
 */
const isAt = (path, { href }) => path === href || path.startsWith(`${href}/`);

/** @param {{ places: Place[], path: string }} props */
function Tabs({ places, path }) {
  return html`<nav class="tabs" aria-label=${t("frame.tabs")}>
    ${places.map(
      (
        place,
      ) => html`<a class="tab" href=${place.href} aria-current=${isAt(path, place) ? "page" : undefined}>
        <${Icon} name=${place.icon} /><span>${place.label}</span>${place.count ? html`<span class="tab-count">${place.count}</span>` : ""}
      </a>`,
    )}
  </nav>`;
}

/** @param {{ places: Place[], path: string }} props */
function Rail({ places, path }) {
  return html`<nav class="rail no-print" aria-label=${t("frame.rail")}>
    <a class="brand" href="/today"><${Mark} /><span>Tepal</span></a>
    <ul>
      ${places.map(
        (place) => html`<li>
          <a class="rail-link" href=${place.href} aria-current=${isAt(path, place) ? "page" : undefined}>
            <${Icon} name=${place.icon} /><span class="grows">${place.label}</span>${place.count ? html`<span class="rail-count">${place.count}</span>` : ""}
          </a>
        </li>`,
      )}
    </ul>
  </nav>`;
}

/**
 * A page's content with its head.
 * @param {{ title: string, under?: any, actions?: any, isReading?: boolean, children?: any }} props
 *   under      A line under the title.
 *   actions    Beside it: the emergency link on a phone, the next step in the office.
 *   isReading  Text and forms: the page stays narrow in the office.
 */
export function Page({ title, under, actions, isReading = false, children }) {
  return html`<div class=${`page${isReading ? " is-reading" : ""}`}>
    <header class="page-head"><div><h1 tabindex="-1">${title}</h1>${under && html`<p class="muted">${under}</p>`}</div>${actions}</header>
    ${children}
  </div>`;
}

/**
 * The next step at the bottom of the screen, with the PPE for the act at hand above it.
 * @param {{ ppe?: string, children?: any }} props
 */
export function FootAct({ ppe, children }) {
  return html`<div class="foot-act">
    ${ppe && html`<p class="foot-ppe"><${Icon} name="glove" /><span>${ppe}</span></p>`}
    ${children}
  </div>`;
}
