// The frame round every page: sync line, page, foot, tabs on a phone, rail in the office. Pages give the content;
// app.js gives the places one can go to.

import { useEffect, useState } from "preact/hooks";
import { HelpButton } from "./help.js";
import { html } from "./html.js";
import { Icon, Mark } from "./icons.js";
import { Kept } from "./kept.js";
import { Sheet } from "./sheet.js";
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
  // a page draws its frame with every digit that is typed: what round it stays the same is not gone through again
  const places = rail.map(({ href, label, count }) => `${href} ${label} ${count ?? ""}`).join();
  return html`<div class="frame">
    <${Kept} by=${[places, path]} draw=${() => html`<${Rail} places=${rail} path=${path} />`} />
    <header class="frame-top no-print">${top}<${Kept} by=${[path]} draw=${() => html`<${HelpButton} path=${path} />`} /></header>
    <main id="main">${children}</main>
    ${
      foot
        ? html`<section class="foot no-print" aria-label=${t("frame.next_step")}>${foot}</section>`
        : html`<div class="foot no-print"><${Tabs} places=${tabs} all=${rail} path=${path} /></div>`
    }
  </div>`;
}

/**
 * @param {string} path
 * @param {Place} place
 */
const isAt = (path, { href }) => path === href || path.startsWith(`${href}/`);

/**
 * The main places within reach of the thumb, and a way to all others.
 * @param {{ places: Place[], all: Place[], path: string }} props
 */
function Tabs({ places, all, path }) {
  const [isOpen, setOpen] = useState(false);
  useEffect(() => setOpen(false), [path]);
  const others = all.filter(({ href }) => !places.some((place) => place.href === href));
  const isElsewhere = others.some((place) => isAt(path, place)) && !places.some((place) => isAt(path, place));
  const waiting = others.reduce((sum, { count = 0 }) => sum + count, 0);
  return html`<nav class="tabs" aria-label=${t("frame.tabs")}>
    ${places.map(
      (
        place,
      ) => html`<a class="tab" href=${place.href} aria-current=${isAt(path, place) ? "page" : undefined}>
        <${Icon} name=${place.icon} /><span>${place.label}</span><${Count} n=${place.count} />
      </a>`,
    )}
    ${
      others.length > 0 &&
      html`<button type="button" class="tab" aria-haspopup="dialog" aria-current=${isElsewhere ? "page" : undefined} onClick=${() => setOpen(true)}>
        <${Icon} name="list" /><span>${t("frame.more")}</span><${Count} n=${waiting} />
      </button>`
    }
    ${
      isOpen &&
      html`<${Sheet} title=${t("frame.rail")} onClose=${() => setOpen(false)}><div class="list">
        ${others.map(
          (
            place,
          ) => html`<a class="list-row" href=${place.href} aria-current=${isAt(path, place) ? "page" : undefined}>
            <span class="named"><${Icon} name=${place.icon} /><span>${place.label}</span></span>${place.count ? html`<span class="rail-count">${place.count}</span>` : ""}
          </a>`,
        )}
      </div><//>`
    }
  </nav>`;
}

/** @param {{ n?: number }} props */
function Count({ n }) {
  return n ? html`<span class="tab-count">${n}</span>` : null;
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
