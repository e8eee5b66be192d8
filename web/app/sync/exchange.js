// One exchange round: what is in the outbox goes out, what the server answers is stored.

import { uuid7 } from "./ids.js";
import { readMeta } from "./port.js";
import { isReply, takeReply } from "./reply.js";

/** @typedef {import("./port.js").StorePort} StorePort */
/** @typedef {import("./port.js").TransportPort} TransportPort */
/** @typedef {import("./port.js").ClockPort} ClockPort */
/** @typedef {import("./port.js").EntryRow} EntryRow */

const MAX_ENTRIES = 200;
// A round must fit the server's body limit and, on a poor line, the 30 s that a round has: 1 MB of
// entries is some 150 kB gzipped. One entry always goes, however long it is.
export const MAX_BATCH_CHARS = 1_000_000;

/**
 * @typedef {{ok: true, more: boolean, left: number, acknowledged: number, resent: number,
 *   photosOwed: {sha256: string, size: number, piece_bytes: number, have: number[]}[],
 *   photosStored: string[], now: string} |
 *   {ok: false, cause: "offline" | "signed-out" | "busy" | "refused", code: string}} RoundResult
 */

/** @param {EntryRow[]} entries @returns {EntryRow[]} */
function thatFit(entries) {
  let chars = 0;
  const over = entries.findIndex((entry, i) => {
    chars += entry.text.length;
    return i > 0 && chars > MAX_BATCH_CHARS;
  });
  return over === -1 ? entries : entries.slice(0, over);
}

/**
 * Run one round. Never throws for what the network does; a store that fails does throw.
 *
 * @param {{store: StorePort, transport: TransportPort, clock: ClockPort,
 *   signedField: (kind: string) => string | null,
 *   status?: () => Promise<Record<string, unknown> | null>}} parts
 * @returns {Promise<RoundResult>}
 */
export async function exchangeRound({ store, transport, clock, signedField, status }) {
  const ready = await store.read(["meta", "outbox", "photos"], async (tx) => ({
    device: await readMeta(tx, "device"),
    cursor: await readMeta(tx, "cursor"),
    entries: thatFit(await tx.all("outbox", MAX_ENTRIES)),
    photos: (await tx.all("photos"))
      .filter((photo) => photo.state === "waiting")
      .map((photo) => photo.sha256)
      .slice(0, 200),
  }));
  if (ready.device === null) return { ok: false, cause: "signed-out", code: "no_device" };
  const sentAtMs = clock.nowMs();
  const round = uuid7(sentAtMs, clock.randomBytes(10));
  const sent = await transport.exchange({
    device: ready.device.id,
    cursor: ready.cursor,
    sent_at: new Date(sentAtMs).toISOString(),
    round,
    entries: ready.entries.map((entry) => entry.text),
    photos: ready.photos,
    status: status ? await status() : null,
  });
  if (!sent.ok) return sent;
  // A kept reply to an earlier request is no answer: its cursor would lead back to before a restore
  // of the server, and rows that the restored server never had would stay here unnoticed.
  if (!isReply(sent.reply) || sent.reply.round !== round) {
    return { ok: false, cause: "offline", code: "not_our_server" };
  }
  const taken = await takeReply(store, sent.reply, {
    sentAtMs,
    receivedAtMs: clock.nowMs(),
    signedField,
  });
  const left = await store.read(["outbox"], (tx) => tx.count("outbox"));
  return {
    ok: true,
    ...taken,
    left,
    photosOwed: sent.reply.photos_owed ?? [],
    photosStored: sent.reply.photos_stored ?? [],
    now: sent.reply.now,
  };
}
