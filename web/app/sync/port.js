// What sync needs from outside: a store with transactions, a transport, a clock. Types only.
// The store is Dexie in the browser (web/app/store) and plain maps in the tests; both pass the
// same contract tests.

/**
 * A change of one field: what the person saw, and what the person wants.
 * @typedef {{was: unknown, to: unknown}} Change
 *
 * When it was made, by the phone's clock; kept, never used for order or acceptance.
 * @typedef {{local: string, offset_min: number, zone: string, device_utc: string,
 *   server_offset_ms: number | null}} MadeAt
 *
 * One act of a person before it has a number.
 * @typedef {{kind: string, record: string, action: string, member: string,
 *   changes: Record<string, Change>, reason?: string | null, group?: string | null,
 *   form_version: number}} Act
 *
 * A row of `outbox` or `sent`. `seq` is where the server's journal has it, null until it says so.
 * @typedef {{number: number, id: string, text: string, kind: string, record: string,
 *   action: string, member: string, changes: Record<string, Change>, saved_at: string,
 *   seq: number | null, outcome: string | null, outcome_reason: string | null,
 *   acked_at: string | null}} EntryRow
 *
 * A record as the server last told it.
 * @typedef {{revision: number, state: string, form_version: number, author: string,
 *   fields: Record<string, any>}} Confirmed
 *
 * A row of `records`: screens see `shown` = `confirmed` with `pending` entries laid over it.
 * @typedef {{key: string, kind: string, id: string, shown: Confirmed,
 *   confirmed: Confirmed | null, pending: number[], generation: number}} RecordRow
 *
 * A row of `photos`: what is known of a photo. Its bytes are a row of `photo_bytes`, so that a round
 * that only asks which photos wait never reads them.
 * @typedef {{sha256: string, size: number, state: "waiting" | "stored" | "refused",
 *   of_id: string, saved_at: string, stored_at: string | null, problem: string | null,
 *   is_kept?: boolean}} PhotoRow
 * `is_kept`: a label or safety data sheet, which stays on the phone for reading (file-keeping.js).
 * @typedef {{sha256: string, bytes: ArrayBuffer}} PhotoBytes
 *
 * @typedef {{key: string, value: any}} MetaRow
 * @typedef {"records" | "outbox" | "sent" | "meta" | "drafts" | "photos" |
 *   "photo_bytes"} TableName
 *
 * @typedef {object} Tx
 * @property {(table: TableName, key: string | number) => Promise<any>} get
 * @property {(table: TableName, keys: (string | number)[]) => Promise<any[]>} bulkGet
 * @property {(table: TableName, row: any) => Promise<unknown>} put
 * @property {(table: TableName, rows: any[]) => Promise<unknown>} bulkPut
 * @property {(table: TableName, keys: (string | number)[]) => Promise<unknown>} bulkDelete
 * @property {(table: TableName, limit?: number) => Promise<any[]>} all rows in key order
 * @property {(table: TableName) => Promise<number>} count
 * @property {(kind: string) => Promise<RecordRow[]>} ofKind records of one kind
 *
 * @typedef {object} StorePort
 * @property {<T>(tables: TableName[], work: (tx: Tx) => Promise<T>) => Promise<T>} read
 * @property {<T>(tables: TableName[], work: (tx: Tx) => Promise<T>, touched?: string[])
 *   => Promise<T>} write one strict-durability transaction; resolves after it is complete
 *
 * What came back from the server: `reply` only where the server itself answered.
 * @typedef {{ok: true, reply: any} | {ok: false, cause: "offline" | "signed-out" | "busy" |
 *   "refused", code: string}} Sent
 *
 * @typedef {object} TransportPort
 * @property {(body: any) => Promise<Sent>} exchange
 * @property {(sha256: string, n: number, piece: Uint8Array) => Promise<Sent>} putPiece
 *
 * @typedef {object} ClockPort
 * @property {() => number} nowMs device time, ms since 1970
 * @property {(n: number) => Uint8Array} randomBytes
 * @property {() => {local: string, offset_min: number, zone: string}} wall
 */

/** @param {string} kind @param {string} id */
export const keyOf = (kind, id) => `${kind}/${id}`;

/** @param {Tx} tx @param {string} key @param {any} [missing] */
export async function readMeta(tx, key, missing = null) {
  const row = await tx.get("meta", key);
  return row === undefined ? missing : row.value;
}

/** @param {Tx} tx @param {string} key @param {any} value */
export const writeMeta = (tx, key, value) => tx.put("meta", { key, value });
