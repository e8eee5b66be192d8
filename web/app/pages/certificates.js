// A person's certificates and training, with what has expired or soon will.
import { choiceLabel } from "../forms/labels.js";
import { useRecords, useTepal } from "../state/context.js";
import { html } from "../ui/html.js";
import { Icon } from "../ui/icons.js";
import { StateChip } from "../ui/state.js";
import { shortDay } from "../ui/when.js";
import { t } from "../ui/words.js";
import { AddLink } from "./register-list.js";
import { useSettings } from "./settings-context.js";

const SOON_DAYS = 60; // common practice, no source: long enough to book a course
const DAY_MS = 86_400_000;

/**
 * How a day of expiry stands today: "expired", "soon" or "good"; null where no day is on file.
 * @param {string | undefined} day @param {string} today  Both YYYY-MM-DD.
 * @param {number} [soonDays]
 */
export function expiryOf(day, today, soonDays = SOON_DAYS) {
  if (!day) return null;
  if (day < today) return "expired";
  return Date.parse(day) - Date.parse(today) <= soonDays * DAY_MS ? "soon" : "good";
}

/** The state of an expiry in words. @param {{ day?: string, soonDays?: number }} props */
export function Expiry({ day, soonDays }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const state = expiryOf(day, tepal.wall().local.slice(0, 10), soonDays);
  if (state === null || !day) return html`<span class="missing">${t("register.no_expiry")}</span>`;
  const text = shortDay(day, language.value);
  if (state === "expired")
    return html`<${StateChip} tone="stopped">${t("register.expired", { day: text })}<//>`;
  if (state === "soon") return html`<${StateChip} tone="caution">${t("register.expires", { day: text })}<//>`;
  return html`<${StateChip} tone="passed">${t("register.expires", { day: text })}<//>`;
}

/** @param {{ member: string }} props */
export function Certificates({ member }) {
  const rows = (useRecords("certificate") ?? []).filter(
    ({ shown }) => shown.fields.member === member && shown.state !== "void",
  );
  return html`<section class="stack"><h2>${t("register.certificates", { n: rows.length })}</h2>
    ${rows.length === 0 && html`<p class="muted">${t("register.empty_why.certificate")}</p>`}
    ${
      rows.length > 0 &&
      html`<ul class="list">${rows.map(
        ({ id, shown: { fields } }) =>
          html`<li key=${id}><a class="list-row" href=${`/certificates/${id}`}><span class="choice-text"><b>${choiceLabel("certificate.sort", fields.sort ?? "other")}</b>
            <span class="choice-detail">${[fields.number, fields.issued_by].filter(Boolean).join(" · ")}</span></span><${Expiry} day=${fields.expires_on} /><${Icon} name="forward" /></a></li>`,
      )}</ul>`
    }
    <${AddLink} kind="certificate" query=${`?member=${member}`} /></section>`;
}
