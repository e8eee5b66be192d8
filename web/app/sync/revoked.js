// What a revoked phone may still hold. access.md: without a device there is only the sign-in page; sync.md: nothing that
// has not reached the office is lost. So the book goes, and what people did here stays until the office has it.

/** @typedef {import("./port.js").Tx} Tx */
/** @typedef {import("./port.js").EntryRow} EntryRow */
/** @typedef {import("./port.js").RecordRow} RecordRow */
/** @typedef {import("./port.js").PhotoRow} PhotoRow */

/** What says who may use this phone, and views of the office that were kept for reading. @param {string} key */
const mayNotStay = (key) =>
  ["session", "pins", "pin_tries", "files_kept", "cursor", "overlaid"].includes(key) ||
  key.startsWith("online ");

/**
 * Let the book go. What stays: the outbox with the records its entries lie over, photos not handed in, drafts, the device's
 * number, and the second copy of what the office keeps apart until a manager has looked at it. Without a cursor a phone that
 * is let in again starts from a snapshot.
 * @param {Tx} tx  Over records, outbox, sent, meta, photos and photo_bytes.
 * @returns {Promise<string[]>} the kinds of which records went
 */
export async function dropBook(tx) {
  /** @type {[EntryRow[], EntryRow[], RecordRow[], PhotoRow[], {key: string}[]]} */
  const [outbox, sent, rows, photos, meta] = await Promise.all([
    tx.all("outbox"),
    tx.all("sent"),
    tx.all("records"),
    tx.all("photos"),
    tx.all("meta"),
  ]);
  const unsent = new Set(outbox.map((entry) => entry.number));
  const gone = rows.filter((row) => !row.pending.some((number) => unsent.has(number)));
  const read = photos.filter((photo) => photo.state === "stored").map((photo) => photo.sha256);
  await tx.bulkDelete(
    "records",
    gone.map((row) => row.key),
  );
  await tx.bulkDelete(
    "sent",
    sent.filter((entry) => entry.outcome !== "quarantined").map((entry) => entry.number),
  );
  await tx.bulkDelete("photo_bytes", read);
  await tx.bulkDelete("photos", read);
  await tx.bulkDelete("meta", meta.map((one) => one.key).filter(mayNotStay));
  return [...new Set(gone.map((row) => row.kind))];
}
