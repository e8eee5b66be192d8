// Saving: record, outbox entry and device counter in one strict transaction, and only then "saved".

import { uuid7 } from "./ids.js";
import { overlay } from "./overlay.js";
import { keyOf, readMeta, writeMeta } from "./port.js";

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
    ["records", "outbox", "sent", "meta", "drafts", "photos", "photo_bytes"],
    async (tx) => {
      const device = await readMeta(tx, "device");
      if (device === null) throw new NoDeviceError("no device id in this store");
      const offset = await readMeta(tx, "server_offset_ms");
      let number = await readMeta(tx, "counter", 0);
      const rows = acts.map((act) => {
        number += 1;
        return entryRow(act, device.id, number, clock, offset);
      });
      await writeMeta(tx, "counter", number);
      await tx.bulkPut("outbox", rows);
      for (const { bytes, ...photo } of also.photos ?? []) {
        await tx.put("photos", photo);
        await tx.put("photo_bytes", { sha256: photo.sha256, bytes });
      }
      if (also.draft !== undefined) await tx.bulkDelete("drafts", [also.draft]);
      if (also.keep !== undefined) await tx.put("drafts", also.keep);
      for (const row of rows) await addPending(tx, row, signedField(row.kind));
      return rows;
    },
    kinds,
  );
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

/** @param {Tx} tx @param {EntryRow} entry @param {string | null} signedField */
async function addPending(tx, entry, signedField) {
  const key = keyOf(entry.kind, entry.record);
  const old = await tx.get("records", key);
  const pending = [...(old?.pending ?? []), entry.number];
  const row = old ?? {
    key,
    kind: entry.kind,
    id: entry.record,
    shown: null,
    confirmed: null,
    generation: await readMeta(tx, "generation", 0),
  };
  await putShown(tx, { ...row, pending }, signedField);
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
