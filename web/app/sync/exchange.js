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
 * A request under way. `cursor`: from where it asks.
 * @typedef {{cursor: string | null, round: string, sentAtMs: number,
 *   answer: Promise<{sent: import("./port.js").Sent, receivedAtMs: number}>}} Asked
 *
 * @typedef {{ok: true, more: boolean, left: number, acknowledged: number, resent: number,
 *   photosOwed: {sha256: string, size: number, piece_bytes: number, have: number[]}[],
 *   photosStored: string[], now: string, ahead: Asked | null} |
 *   {ok: false, cause: "offline" | "signed-out" | "busy" | "refused", code: string}} RoundResult
 *   `ahead`: the next pages, asked for while these were being stored; for the next round
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
 * Send a request off.
 * @param {{transport: TransportPort, clock: ClockPort}} parts
 * @param {{device: string, cursor: string | null, entries: string[], photos: string[], status: any}} what
 * @returns {Asked}
 */
function ask({ transport, clock }, what) {
  const sentAtMs = clock.nowMs();
  const round = uuid7(sentAtMs, clock.randomBytes(10));
  const sending = transport.exchange({ ...what, sent_at: new Date(sentAtMs).toISOString(), round });
  const answer = sending.then((sent) => ({ sent, receivedAtMs: clock.nowMs() }));
  return { cursor: what.cursor, round, sentAtMs, answer };
}

/**
 * Run one round. Never throws for what the network does; a store that fails does throw.
 *
 * A pull of many pages asks for the next one before it stores the last: most of a page's time is storing. What was
 * asked ahead counts only where it asks from the cursor that stands in the store now, and nothing waits to be sent.
 *
 * @param {{store: StorePort, transport: TransportPort, clock: ClockPort,
 *   signedField: (kind: string) => string | null,
 *   status?: () => Promise<Record<string, unknown> | null>}} parts
 * @param {Asked | null} [ahead] what the round before asked for; left out: nothing is asked ahead
 * @returns {Promise<RoundResult>}
 */
export async function exchangeRound({ store, transport, clock, signedField, status }, ahead) {
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
  const device = ready.device.id;
  const isIdle = ready.entries.length === 0 && ready.photos.length === 0;
  const { cursor } = ready;
  const isAhead = ahead && isIdle && ahead.cursor === cursor;
  const entries = ready.entries.map((entry) => entry.text);
  const asked = isAhead
    ? ahead
    : ask(
        { transport, clock },
        { device, cursor, entries, photos: ready.photos, status: status ? await status() : null },
      );
  const { sent, receivedAtMs } = await asked.answer;
  if (!sent.ok) return sent;
  // A kept reply to an earlier request is no answer: its cursor would lead back to before a restore
  // of the server, and rows that the restored server never had would stay here unnoticed.
  if (!isReply(sent.reply) || sent.reply.round !== asked.round) {
    return { ok: false, cause: "offline", code: "not_our_server" };
  }
  const next =
    ahead !== undefined && isIdle && sent.reply.more && !sent.reply.revoked
      ? ask(
          { transport, clock },
          { device, cursor: sent.reply.cursor, entries: [], photos: [], status: null },
        )
      : null;
  const taken = await takeReply(store, sent.reply, { sentAtMs: asked.sentAtMs, receivedAtMs, signedField });
  const left = await store.read(["outbox"], (tx) => tx.count("outbox"));
  return {
    ok: true,
    ...taken,
    left,
    photosOwed: sent.reply.photos_owed ?? [],
    photosStored: sent.reply.photos_stored ?? [],
    now: sent.reply.now,
    ahead: next,
  };
}
