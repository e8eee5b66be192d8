// The phone's store: IndexedDB through Dexie, every transaction with strict durability.
// The only importer of Dexie. Implements sync's StorePort and tells listeners what changed.

import Dexie from "dexie";

/** @typedef {import("../sync/port.js").Tx} Tx */
/** @typedef {import("../sync/port.js").TableName} TableName */

export const DATABASE = "tepal";

/** Released versions stay: a phone may come back with any of them, its outbox full.
 * @param {Dexie} db */
function declareVersions(db) {
  db.version(1).stores({
    records: "key, kind",
    outbox: "number",
    sent: "number",
    meta: "key",
    drafts: "key",
    photos: "sha256, of_id",
    photo_bytes: "sha256",
  });
}

/**
 * Open the store. `onChange(tables, kinds)` runs after each complete write in any tab.
 * @param {{name?: string, onChange?: (kinds: string[]) => void,
 *   onBlocked?: () => void, onLost?: (error: unknown) => void}} [options]
 */
export function openStore(options = {}) {
  const db = new Dexie(options.name ?? DATABASE, { chromeTransactionDurability: "strict" });
  // its live queries and hooks are not used here: without their layers a save takes a sixth less
  for (const name of ["Observability", "Cache", "HooksMiddleware", "VirtualIndexMiddleware"])
    db.unuse({ stack: "dbcore", name });
  declareVersions(db);
  const channel = new BroadcastChannel(`${db.name}-changes`);
  const tell = options.onChange ?? (() => {});
  channel.onmessage = (event) => tell(event.data);
  // another tab wants to upgrade: let it, this one reopens by itself on its next use
  db.on("versionchange", () => {
    db.close({ disableAutoOpen: false });
  });
  db.on("blocked", () => options.onBlocked?.());

  /** @template T @param {"r" | "rw"} mode @param {TableName[]} tables
   * @param {(tx: Tx) => Promise<T>} work @returns {Promise<T>} */
  const attempt = (mode, tables, work) =>
    db.transaction(
      mode,
      tables.map((name) => db.table(name)),
      // HAZARD: async, so that Dexie follows the native awaits inside; a plain arrow commits early
      async () => work(txOf(db)),
    );

  /** A lost connection is opened again once, and the work done again once.
   * @template T @param {"r" | "rw"} mode @param {TableName[]} tables
   * @param {(tx: Tx) => Promise<T>} work @returns {Promise<T>} */
  async function run(mode, tables, work) {
    try {
      return await attempt(mode, tables, work);
    } catch (error) {
      if (!isLost(error)) throw error;
      db.close({ disableAutoOpen: false });
      try {
        await db.open();
        return await attempt(mode, tables, work);
      } catch (second) {
        options.onLost?.(second);
        throw second;
      }
    }
  }

  return {
    /** @template T @param {TableName[]} tables @param {(tx: Tx) => Promise<T>} work */
    read: (tables, work) => run("r", tables, work),

    /** @template T @param {TableName[]} tables @param {(tx: Tx) => Promise<T>} work
     * @param {string[]} [touched] kinds of records that change; read after the work */
    async write(tables, work, touched = []) {
      const result = await run("rw", tables, work);
      if (tables.every((name) => name === "drafts")) return result; // a form keeps itself as it is typed: no news
      const kinds = [...new Set(touched)];
      channel.postMessage(kinds);
      tell(kinds);
      return result;
    },

    close() {
      channel.close();
      db.close();
    },
    db,
  };
}

/** @param {any} error */
function isLost(error) {
  const names = ["UnknownError", "InvalidStateError", "DatabaseClosedError"];
  return names.includes(error?.name) || names.includes(error?.inner?.name);
}

/** @param {Dexie} db @returns {Tx} */
function txOf(db) {
  return {
    get: (table, key) => db.table(table).get(key),
    bulkGet: (table, keys) => db.table(table).bulkGet(keys),
    put: (table, row) => db.table(table).put(row),
    bulkPut: (table, rows) => db.table(table).bulkPut(rows),
    bulkDelete: (table, keys) => db.table(table).bulkDelete(keys),
    all: (table, limit) =>
      limit === undefined
        ? db.table(table).orderBy(":id").toArray()
        : db.table(table).orderBy(":id").limit(limit).toArray(),
    count: (table) => db.table(table).count(),
    ofKind: (kind) => db.table("records").where("kind").equals(kind).toArray(),
  };
}
