// Photos travel after entries, by content, in pieces; any piece may be sent again.

import { KEEP_SENT_MS } from "./reply.js";

/** @typedef {import("./port.js").StorePort} StorePort */
/** @typedef {import("./port.js").TransportPort} TransportPort */
/** @typedef {import("./port.js").PhotoRow} PhotoRow */

/**
 * Note the photos that the server says it has.
 * @param {StorePort} store @param {string[]} digests @param {string} now server time
 */
export async function markStored(store, digests, now) {
  if (digests.length === 0) return;
  await store.write(
    ["photos"],
    async (tx) => {
      const rows = await tx.bulkGet("photos", digests);
      await tx.bulkPut(
        "photos",
        rows
          .filter((row) => row !== undefined && row.state !== "stored")
          .map((row) => ({ ...row, state: "stored", stored_at: now, problem: null })),
      );
    },
    ["photo"],
  );
}

/**
 * Send what the server still lacks of the photos it knows of, one piece at a time.
 * Stops at the first failure of the network; the next round resumes there.
 *
 * @param {StorePort} store @param {TransportPort} transport
 * @param {{sha256: string, size: number, piece_bytes: number, have: number[]}[]} owed
 * @param {string} now server time
 * @returns {Promise<boolean>} whether everything owed is there now
 */
export async function uploadPhotos(store, transport, owed, now) {
  let all = true;
  for (const photo of owed) {
    const [row, kept] = await store.read(["photos", "photo_bytes"], (tx) =>
      Promise.all([tx.get("photos", photo.sha256), tx.get("photo_bytes", photo.sha256)]),
    );
    if (row === undefined || kept === undefined || row.state === "refused") continue;
    const bytes = new Uint8Array(kept.bytes);
    const have = new Set(photo.have);
    const pieces = Math.ceil(bytes.length / photo.piece_bytes);
    // all pieces there and still owed: the server has yet to join them, which a last piece starts
    if (have.size >= pieces) have.delete(pieces - 1);
    let complete = false;
    for (let n = 0; n < pieces && !complete; n += 1) {
      if (have.has(n)) continue;
      const piece = bytes.subarray(n * photo.piece_bytes, (n + 1) * photo.piece_bytes);
      const sent = await transport.putPiece(photo.sha256, n, piece);
      if (!sent.ok) {
        if (sent.cause === "refused") await refuse(store, row, sent.code);
        else return false;
        all = false;
        break;
      }
      complete = sent.reply?.complete === true;
    }
    if (complete) await markStored(store, [photo.sha256], now);
    else all = false;
  }
  return all;
}

/** The server will not have this file; it stays here, readable, and says why.
 * @param {StorePort} store @param {PhotoRow} row @param {string} code */
const refuse = (store, row, code) =>
  store.write(["photos"], (tx) => tx.put("photos", { ...row, state: "refused", problem: code }), ["photo"]);

/**
 * The bytes of photos that the office has had for 30 days of server time leave the phone.
 * @param {StorePort} store @param {string} now server time
 */
export async function dropOldBytes(store, now) {
  const limit = Date.parse(now) - KEEP_SENT_MS;
  await store.write(["photos", "photo_bytes"], async (tx) => {
    /** @type {PhotoRow[]} */
    const rows = await tx.all("photos");
    const old = rows.filter(
      (row) => !row.is_kept && row.stored_at !== null && Date.parse(row.stored_at) < limit,
    );
    const digests = old.map((row) => row.sha256);
    await tx.bulkDelete("photo_bytes", digests);
    await tx.bulkDelete("photos", digests);
  });
}
