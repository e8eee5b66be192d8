// The photos of a record: from this phone's own store where it has the bytes, else from the office.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { useRecords, useTepal } from "../state/context.js";
import { html } from "../ui/html.js";
import { t } from "../ui/words.js";
import { momentText } from "./record-words.js";
import { useSettings } from "./settings-context.js";

/** @param {{ ofId: string }} props */
export function Photos({ ofId }) {
  const tepal = useTepal();
  const { language } = useSettings();
  const found = (useRecords("photo") ?? []).filter(
    (row) => row.shown.fields.of_id === ofId && row.shown.state !== "void",
  );
  const here = useSignal(/** @type {Record<string, string>} */ ({}));

  useEffect(() => {
    let isHere = true;
    /** @type {string[]} */
    const made = [];
    /** @type {Record<string, string>} */
    const urls = {};
    const read = async () => {
      for (const row of found) {
        const sha256 = String(row.shown.fields.sha256);
        const bytes = await tepal.book.photoBytes(sha256);
        if (!isHere || bytes === null) continue;
        urls[sha256] = URL.createObjectURL(new Blob([bytes], { type: "image/jpeg" }));
        made.push(urls[sha256]);
      }
      if (isHere) here.value = urls;
    };
    read();
    return () => {
      isHere = false;
      for (const url of made) URL.revokeObjectURL(url);
    };
  }, [ofId, found.length]);

  if (found.length === 0) return null;
  return html`<section class="stack"><h2>${t("office.photos", { n: found.length })}</h2>
    <ul class="photos">${found.map((row) => html`<${Photo} key=${row.id} fields=${row.shown.fields} local=${here.value[String(row.shown.fields.sha256)]} language=${language.value} />`)}</ul></section>`;
}

/** @param {{ fields: any, local: string | undefined, language: string }} props */
function Photo({ fields, local, language }) {
  const tepal = useTepal();
  const isBroken = useSignal(false);
  const taken = fields.captured_at ? momentText(fields.captured_at, language) : t("office.photo_undated");
  const source = local ?? tepal.api.url(`/photos/${fields.sha256}`);
  return html`<li><figure class="photo">
    ${
      isBroken.value
        ? html`<p class="photo-missing">${t("office.photo_elsewhere")}</p>`
        : html`<a href=${source} target="_blank" rel="noopener"><img src=${source} loading="lazy" width=${fields.width} height=${fields.height}
            alt=${t("office.photo_of", { at: taken })} onError=${() => {
              isBroken.value = true;
            }} /></a>`
    }
    <figcaption class="muted small">${taken}</figcaption></figure></li>`;
}
