// Saving: record, outbox entry and device counter in one strict transaction, and only then "saved".

import { uuid7 } from "./ids.js";
import { overlay } from "./overlay.js";
import { keyOf, writeMeta } from "./port.js";

/** @typedef {import("./port.js").Act} Act */
/** @typedef {import("./port.js").Tx} Tx */
/** @typedef {import("./port.js").StorePort} StorePort */
/** @typedef {import("./port.js").ClockPort} ClockPort */
/** @typedef {import("./port.js").EntryRow} EntryRow */
/** @typedef {import("./port.js").RecordRow} RecordRow */

/** Thrown when the phone has no device id yet: nobody has signed in on this store. */
export class NoDeviceError extends Error {}

/**
 * Save acts: all of them or none. Resolves only after the transaction is complete.
 *
 * @param {StorePort} store
 * @param {ClockPort} clock
 * @param {Act[]} acts
 * @param {{draft?: string, keep?: {key: string, value: any},
 *   photos?: (import("./port.js").PhotoRow & {bytes: ArrayBuffer})[],
 *   signedField?: (kind: string) => string | null}} [also] what goes into the same transaction:
 *   `draft` is dropped, `keep` is the draft of a form that goes on after this save
 * @returns {Promise<EntryRow[]>}
 */
export function save(store, clock, acts, also = {}) {
  const signedField = also.signedField ?? (() => null);
  const kinds = acts.map((act) => act.kind);
  return store.write(
    storesFor(also),
    async (tx) => {
      // one trip to the store to read and one to write: each trip is most of a millisecond on a phone
      const keys = [...new Set(acts.map((act) => keyOf(act.kind, act.record)))];
      const [meta, found] = await Promise.all([
        tx.bulkGet("meta", ["device", "server_offset_ms", "counter", "generation"]),
        tx.bulkGet("records", keys),
      ]);
      const [device, offset, counter, generation] = meta.map((row) => row?.value ?? null);
      if (device === null) throw new NoDeviceError("no device id in this store");
      let number = counter ?? 0;
      const rows = acts.map((act) => {
        number += 1;
        return entryRow(act, device.id, number, clock, offset);
      });
      const records = new Map(keys.map((key, i) => [key, found[i]]));
      for (const row of rows) {
        const key = keyOf(row.kind, row.record);
        records.set(key, withPending(records.get(key), row, generation ?? 0, signedField(row.kind)));
      }
      const visible = [...records.values()].filter((row) => row !== undefined);
      const writes = [
        writeMeta(tx, "counter", number),
        tx.bulkPut("outbox", rows),
        tx.bulkPut("records", visible),
      ];
      for (const { bytes, ...photo } of also.photos ?? []) {
        writes.push(tx.put("photos", photo), tx.put("photo_bytes", { sha256: photo.sha256, bytes }));
      }
      if (also.draft !== undefined) writes.push(tx.bulkDelete("drafts", [also.draft]));
      if (also.keep !== undefined) writes.push(tx.put("drafts", also.keep));
      await Promise.all(writes);
      return rows;
    },
    kinds,
  );
}

/** Only the stores that this save writes: each further one makes the transaction slower to open.
 * @param {{draft?: string, keep?: any, photos?: any[]}} also
 * @returns {import("./port.js").TableName[]} */
function storesFor({ draft, keep, photos = [] }) {
  return [
    "records",
    "outbox",
    "meta",
    .../** @type {import("./port.js").TableName[]} */ (
      draft !== undefined || keep !== undefined ? ["drafts"] : []
    ),
    .../** @type {import("./port.js").TableName[]} */ (photos.length > 0 ? ["photos", "photo_bytes"] : []),
  ];
}

/** @param {Act} act @param {string} device @param {number} number @param {ClockPort} clock
 * @param {number | null} offset @returns {EntryRow} */
function entryRow(act, device, number, clock, offset) {
  const nowMs = clock.nowMs();
  const deviceUtc = new Date(nowMs).toISOString();
  const id = uuid7(nowMs, clock.randomBytes(10));
  const text = JSON.stringify({
    id,
    device,
    number,
    member: act.member,
    kind: act.kind,
    record: act.record,
    action: act.action,
    changes: act.changes,
    reason: act.reason ?? null,
    made_at: { ...clock.wall(), device_utc: deviceUtc, server_offset_ms: offset },
    form_version: act.form_version,
    group: act.group ?? null,
  });
  return {
    number,
    id,
    text,
    kind: act.kind,
    record: act.record,
    action: act.action,
    member: act.member,
    changes: act.changes,
    saved_at: deviceUtc,
    seq: null,
    outcome: null,
    outcome_reason: null,
    acked_at: null,
  };
}

/**
 * A record's row with one more entry laid over it. `shown` is `confirmed` with the entries so far laid over,
 * and this one has the highest number: laying it over `shown` gives what laying all of them would.
 * @param {RecordRow | undefined} old @param {EntryRow} entry @param {number} generation
 * @param {string | null} signedField @returns {RecordRow}
 */
function withPending(old, entry, generation, signedField) {
  const shown = overlay(old?.shown ?? null, [entry], signedField);
  if (old) return { ...old, shown: /** @type {any} */ (shown), pending: [...old.pending, entry.number] };
  return {
    key: keyOf(entry.kind, entry.record),
    kind: entry.kind,
    id: entry.record,
    shown: /** @type {any} */ (shown),
    confirmed: null,
    pending: [entry.number],
    generation,
  };
}

/**
 * Recompute what a record shows and store it; a record with nothing to show leaves the table.
 * @param {Tx} tx @param {RecordRow} row @param {string | null} signedField
 */
export async function putShown(tx, row, signedField) {
  const pending = [...row.pending].sort((a, b) => a - b);
  const found = await tx.bulkGet("outbox", pending);
  const missing = pending.filter((_, i) => found[i] === undefined);
  const sent = missing.length > 0 ? await tx.bulkGet("sent", missing) : [];
  const entries = [...found, ...sent]
    .filter((entry) => entry !== undefined)
    .sort((a, b) => a.number - b.number);
  const shown = overlay(row.confirmed, entries, signedField);
  if (shown === null && pending.length === 0) await tx.bulkDelete("records", [row.key]);
  else await tx.put("records", { ...row, pending, shown });
}
