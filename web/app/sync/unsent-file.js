// What a phone cannot send, as a file: entries, and the photos, sounds and papers that wait with them. Names and entries, no
// secrets. The office's page or `tepal import-unsent` takes it back in.
import { readMeta } from "./port.js";

/** @typedef {import("./port.js").StorePort} StorePort */
/** @typedef {import("./port.js").EntryRow} EntryRow */
/** @typedef {import("./port.js").PhotoRow} PhotoRow */

/**
 * The file in pieces of text, for a Blob: a hundred photos are too long for one string on an old phone.
 * @param {StorePort} store
 * @param {string} savedAt  device time, ISO 8601
 * @returns {Promise<string[]>}
 */
export async function unsentFile(store, savedAt) {
  const [device, entries, photos] = await store.read(["meta", "outbox", "photos"], (tx) =>
    Promise.all([
      readMeta(tx, "device"),
      /** @type {Promise<EntryRow[]>} */ (tx.all("outbox")),
      /** @type {Promise<PhotoRow[]>} */ (tx.all("photos")),
    ]),
  );
  const head = {
    format: "tepal-unsent",
    version: 1,
    device,
    saved_at: savedAt,
    entries: entries.map((row) => row.text),
  };
  const parts = [JSON.stringify(head, null, 1).replace(/\n\}$/, ',\n "photos": [')];
  for (const { sha256 } of photos.filter((row) => row.state !== "stored")) {
    const kept = await store.read(["photo_bytes"], (tx) => tx.get("photo_bytes", sha256));
    if (kept === undefined) continue;
    const comma = parts.length > 1 ? "," : "";
    parts.push(`${comma}\n  ${JSON.stringify({ sha256, content: inBase64(new Uint8Array(kept.bytes)) })}`);
  }
  parts.push("\n ]\n}\n");
  return parts;
}

const SLICE = 24_576; // bytes at a time, a multiple of three: only the last slice is padded

/** @param {Uint8Array} bytes */
function inBase64(bytes) {
  let text = "";
  for (let at = 0; at < bytes.length; at += SLICE)
    text += btoa(String.fromCharCode(...bytes.subarray(at, at + SLICE)));
  return text;
}
