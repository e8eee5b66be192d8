// Taking an exchange reply in: rows, cursor, acknowledgements in one transaction.
// An entry leaves the outbox because the server says that its journal holds the number, never
// because a request came back with status 200.

import { putShown } from "./outbox.js";
import { keyOf, readMeta, writeMeta } from "./port.js";
import { dropBook } from "./revoked.js";

/** @typedef {import("./port.js").Tx} Tx */
/** @typedef {import("./port.js").StorePort} StorePort */
/** @typedef {import("./port.js").EntryRow} EntryRow */
/** @typedef {import("./port.js").RecordRow} RecordRow */

const PIECE = 30;
export const KEEP_SENT_MS = 30 * 24 * 3600 * 1000;

/**
 * Whether a body is an exchange reply at all; a captive portal's page is not.
 * @param {any} reply
 */
export function isReply(reply) {
  return (
    reply !== null &&
    typeof reply === "object" &&
    Number.isSafeInteger(reply.ack) &&
    Number.isSafeInteger(reply.seen) &&
    Array.isArray(reply.missing) &&
    Array.isArray(reply.results) &&
    Array.isArray(reply.records) &&
    typeof reply.cursor === "string" &&
    Number.isSafeInteger(reply.upto) &&
    typeof reply.now === "string" &&
    !Number.isNaN(Date.parse(reply.now))
  );
}

/**
 * Whether the server's journal holds a device number.
 * @param {{seen: number, missing: number[][]}} reply @param {number} number
 */
export function holds(reply, number) {
  return number <= reply.seen && !reply.missing.some(([from, to]) => number >= from && number <= to);
}

/**
 * Store a reply.
 * @param {StorePort} store
 * @param {any} reply checked with `isReply`
 * @param {{sentAtMs: number, receivedAtMs: number,
 *   signedField: (kind: string) => string | null}} context device time around the request
 * @returns {Promise<{more: boolean, resent: number, acknowledged: number}>}
 */
export function takeReply(store, reply, context) {
  /** @type {string[]} filled while the transaction runs, read after it is complete */
  const kinds = reply.records.map((/** @type {any} */ r) => r.kind);
  /** @type {import("./port.js").TableName[]} */
  const tables = ["records", "outbox", "sent", "meta", "photos"];
  return store.write(
    reply.revoked ? [...tables, "photo_bytes"] : tables,
    async (tx) => {
      /** @type {Set<string>} */
      const touched = new Set();
      const acknowledged = await acknowledge(tx, reply, touched);
      const resent = await takeBack(tx, reply, touched);
      const generation = await generationOf(tx, reply);
      const laidOver = await laidOverKeys(tx, touched);
      await storeRecords(tx, reply, generation, laidOver, context.signedField);
      for (const key of touched) kinds.push(key.slice(0, key.indexOf("/")));
      await dropSeen(tx, reply, touched, context.signedField);
      if (!reply.revoked) await writeMeta(tx, "cursor", reply.cursor);
      await rememberServer(tx, reply, context);
      if (!reply.more) await purge(tx, reply, generation);
      if (reply.revoked) kinds.push(...(await dropBook(tx)));
      return { more: Boolean(reply.more), resent, acknowledged };
    },
    kinds,
  );
}

/** Move what the journal holds from `outbox` to `sent`. @param {Tx} tx @param {any} reply
 * @param {Set<string>} touched */
async function acknowledge(tx, reply, touched) {
  const byNumber = new Map(reply.results.map((/** @type {any} */ r) => [r.number, r]));
  /** @type {EntryRow[]} */
  const outbox = await tx.all("outbox");
  // The number alone is not enough: storage that was copied or put back uses numbers again, and
  // then the journal holds this number with another entry. What was sent has its own result.
  const held = outbox.filter(
    (entry) => holds(reply, entry.number) && byNumber.get(entry.number)?.id === entry.id,
  );
  if (held.length === 0) return 0;
  await tx.bulkPut(
    "sent",
    held.map((entry) => {
      const { seq, outcome, reason } = byNumber.get(entry.number);
      touched.add(keyOf(entry.kind, entry.record));
      return { ...entry, seq, outcome, outcome_reason: reason ?? null, acked_at: reply.now };
    }),
  );
  await tx.bulkDelete(
    "outbox",
    held.map((entry) => entry.number),
  );
  return held.length;
}

/**
 * A server that was put back lacks entries it once acknowledged: they go into the outbox again.
 * @param {Tx} tx @param {any} reply @param {Set<string>} touched
 */
async function takeBack(tx, reply, touched) {
  const known = await readMeta(tx, "epoch");
  const otherEpoch = known !== null && reply.epoch && reply.epoch !== known;
  const all = Boolean(reply.resend) || otherEpoch;
  const seenBefore = await readMeta(tx, "seen", 0);
  if (!all && reply.seen >= seenBefore && reply.missing.length === 0) return 0;
  /** @type {EntryRow[]} */
  const sent = await tx.all("sent");
  // a whole resend is for entries of an earlier exchange; those of this reply stand already
  const fresh = new Set(reply.results.map((/** @type {any} */ r) => r.id));
  const lost = sent.filter((entry) => !holds(reply, entry.number) || (all && !fresh.has(entry.id)));
  if (all || reply.seen < seenBefore || lost.length > 0) await offerPhotosAgain(tx);
  if (lost.length === 0) return 0;
  await tx.bulkPut(
    "outbox",
    lost.map((entry) => ({ ...entry, seq: null, acked_at: null })),
  );
  await tx.bulkDelete(
    "sent",
    lost.map((entry) => entry.number),
  );
  for (const entry of lost) {
    const key = keyOf(entry.kind, entry.record);
    touched.add(key);
    const row = (await tx.get("records", key)) ?? {
      key,
      kind: entry.kind,
      id: entry.record,
      shown: null,
      confirmed: null,
      pending: [],
      generation: 0,
    };
    if (!row.pending.includes(entry.number)) {
      await tx.put("records", { ...row, pending: [...row.pending, entry.number] });
    }
  }
  return lost.length;
}

/**
 * What an earlier state of the server had of photos, this one may lack: each is named once more, and the server
 * says whether it has it. Files that are kept for reading came from the server and are no photos of this phone's.
 * @param {Tx} tx
 */
async function offerPhotosAgain(tx) {
  /** @type {import("./port.js").PhotoRow[]} */
  const rows = await tx.all("photos");
  const marked = rows.filter((row) => row.state === "stored" && !row.is_kept);
  await tx.bulkPut(
    "photos",
    marked.map((row) => ({ ...row, state: /** @type {const} */ ("waiting"), stored_at: null })),
  );
}

/** A snapshot starts a generation; rows of an older one are gone from the server's view.
 * @param {Tx} tx @param {any} reply */
async function generationOf(tx, reply) {
  const generation = await readMeta(tx, "generation", 0);
  if (!reply.reset) return generation;
  await writeMeta(tx, "generation", generation + 1);
  return generation + 1;
}

/**
 * Keys of the records that entries of this phone still lie over: unsent, just acknowledged, or acknowledged
 * and not yet pulled. Only these rows need to be read before they are replaced; of a first pull, none.
 * @param {Tx} tx @param {Set<string>} touched
 */
async function laidOverKeys(tx, touched) {
  /** @type {EntryRow[]} */
  const unsent = await tx.all("outbox");
  const unseen = await readMeta(tx, "overlaid", []);
  return new Set([...touched, ...unseen, ...unsent.map((entry) => keyOf(entry.kind, entry.record))]);
}

/** @param {Tx} tx @param {any} reply @param {number} generation @param {Set<string>} laidOver
 * @param {(kind: string) => string | null} signedField */
async function storeRecords(tx, reply, generation, laidOver, signedField) {
  if (reply.records.length === 0) return;
  const keys = reply.records.map((/** @type {any} */ r) => keyOf(r.kind, r.id));
  const read = keys.filter((/** @type {string} */ key) => laidOver.has(key));
  const rows = read.length > 0 ? await tx.bulkGet("records", read) : [];
  const old = new Map(rows.filter((row) => row !== undefined).map((row) => [row.key, row]));
  /** @type {RecordRow[]} */
  const plain = [];
  for (const [i, record] of reply.records.entries()) {
    const confirmed = {
      revision: record.revision,
      state: record.state,
      form_version: record.form_version,
      author: record.author,
      fields: record.fields,
    };
    const pending = old.get(keys[i])?.pending ?? [];
    const row = {
      key: keys[i],
      kind: record.kind,
      id: record.id,
      shown: confirmed,
      confirmed,
      pending,
      generation,
    };
    if (pending.length === 0) plain.push(row);
    else await putShown(tx, row, signedField(record.kind));
  }
  // a page of a large trial in one go would hold the screen up: between two pieces the phone can draw. Two lines of
  // them, so that the store has the one at hand while the other is handed over
  await Promise.all([0, 1].map((line) => storeEverySecond(tx, plain, line)));
}

/** @param {Tx} tx @param {RecordRow[]} rows @param {number} line  0 or 1. */
async function storeEverySecond(tx, rows, line) {
  if (line === 1) await readMeta(tx, "generation"); // one trip to the store behind the first
  for (let at = line * PIECE; at < rows.length; at += 2 * PIECE)
    await tx.bulkPut("records", rows.slice(at, at + PIECE));
}

/**
 * Entries that the pulled rows already contain no longer need to be laid over them.
 * @param {Tx} tx @param {any} reply @param {Set<string>} touched
 * @param {(kind: string) => string | null} signedField
 */
async function dropSeen(tx, reply, touched, signedField) {
  const waiting = new Set(await readMeta(tx, "overlaid", []));
  for (const key of touched) waiting.add(key);
  if (waiting.size === 0) return;
  /** @type {string[]} */
  const still = [];
  for (const key of waiting) {
    /** @type {RecordRow | undefined} */
    const row = await tx.get("records", key);
    if (row === undefined) continue;
    const sent = await tx.bulkGet("sent", row.pending);
    const pending = row.pending.filter((_, i) => !sent[i] || sent[i].seq > reply.upto);
    if (pending.some((number) => sent[row.pending.indexOf(number)])) still.push(key);
    await putShown(tx, { ...row, pending }, signedField(row.kind));
  }
  await writeMeta(tx, "overlaid", still);
}

/** @param {Tx} tx @param {any} reply @param {{sentAtMs: number, receivedAtMs: number}} context */
async function rememberServer(tx, reply, context) {
  const middle = (context.sentAtMs + context.receivedAtMs) / 2;
  await writeMeta(tx, "server_offset_ms", Math.round(Date.parse(reply.now) - middle));
  // HAZARD: with pages still to come the phone lacks records; "no restriction on file, heard now" would say too much
  if (!reply.more) await writeMeta(tx, "heard", { server: reply.now, device_ms: context.receivedAtMs });
  await writeMeta(tx, "seen", reply.seen);
  await writeMeta(tx, "missing", reply.missing);
  await writeMeta(tx, "revoked", Boolean(reply.revoked));
  await writeMeta(tx, "forms_version", reply.forms_version ?? null);
  if (reply.epoch) await writeMeta(tx, "epoch", reply.epoch);
  if (reply.head?.hash) await writeMeta(tx, "head", reply.head);
}

/**
 * Rows that left the server's view leave the phone, but only once the outbox is empty; kept
 * copies of acknowledged entries go after 30 days of server time.
 * @param {Tx} tx @param {any} reply @param {number} generation
 */
async function purge(tx, reply, generation) {
  const purged = await readMeta(tx, "purged_generation", 0);
  if (purged < generation && !reply.revoked && (await tx.count("outbox")) === 0) {
    // before the first snapshot the phone had rows of its own only: nothing can have left the server's view
    const isFirst = purged === 0 && generation === 1;
    /** @type {RecordRow[]} */
    const rows = isFirst ? [] : await tx.all("records");
    const gone = rows.filter((row) => row.generation < generation && row.pending.length === 0);
    await tx.bulkDelete(
      "records",
      gone.map((row) => row.key),
    );
    await writeMeta(tx, "purged_generation", generation);
  }
  const limit = Date.parse(reply.now) - KEEP_SENT_MS;
  const checked = await readMeta(tx, "sent_checked_ms", 0);
  if (Date.parse(reply.now) - checked < 24 * 3600 * 1000) return;
  /** @type {EntryRow[]} */
  const sent = await tx.all("sent");
  const old = sent.filter((entry) => entry.acked_at !== null && Date.parse(entry.acked_at) < limit);
  await tx.bulkDelete(
    "sent",
    old.map((entry) => entry.number),
  );
  await writeMeta(tx, "sent_checked_ms", Date.parse(reply.now));
}
