// sync's StorePort over plain maps: transactions are all or nothing, one after another, and rows
// are copied on the way in and out, as IndexedDB does. The contract is in store-contract.mjs.

const KEY_OF = { records: "key", outbox: "number", sent: "number", meta: "key", drafts: "key", photos: "sha256", photo_bytes: "sha256" };

export class Killed extends Error {}

export function memoryStore() {
  let tables = Object.fromEntries(Object.keys(KEY_OF).map((name) => [name, new Map()]));
  let queue = Promise.resolve();
  let strokesLeft = null; // writes that the device has left, over all transactions; null: no end

  function transaction(names, work, writable) {
    const run = async () => {
      const copy = Object.fromEntries(names.map((name) => [name, new Map(tables[name])]));
      let open = true;
      const die = () => {
        strokesLeft = null;
        throw new Killed("the device died");
      };
      const table = (name) => {
        if (!open) throw new Error("the transaction is over");
        if (copy[name] === undefined) throw new Error(`table ${name} is not part of the transaction`);
        return copy[name];
      };
      const stroke = (name) => {
        if (!writable) throw new Error("a read transaction does not write");
        if (strokesLeft === 0) die();
        if (strokesLeft !== null) strokesLeft -= 1;
        return table(name);
      };
      const put = (name, rows) => {
        const map = stroke(name);
        for (const row of rows) {
          const key = row[KEY_OF[name]];
          if (typeof key !== "string" && typeof key !== "number") throw new Error(`no key for ${name}`);
          map.set(key, structuredClone(row));
        }
      };
      const sorted = (name) => [...table(name).entries()].sort(([a], [b]) => (a < b ? -1 : 1));
      const tx = {
        get: async (name, key) => structuredClone(table(name).get(key)),
        bulkGet: async (name, keys) => keys.map((key) => structuredClone(table(name).get(key))),
        put: async (name, row) => put(name, [row]),
        bulkPut: async (name, rows) => put(name, rows),
        bulkDelete: async (name, keys) => {
          const map = stroke(name);
          for (const key of keys) map.delete(key);
        },
        all: async (name, limit) =>
          sorted(name)
            .slice(0, limit ?? Number.POSITIVE_INFINITY)
            .map(([, row]) => structuredClone(row)),
        count: async (name) => table(name).size,
        ofKind: async (kind) =>
          sorted("records")
            .map(([, row]) => structuredClone(row))
            .filter((row) => row.kind === kind),
      };
      try {
        const result = await work(tx);
        // dying after the last write, before the transaction is complete, undoes it all the same
        if (writable && strokesLeft === 0) die();
        if (writable) tables = { ...tables, ...copy };
        return result;
      } finally {
        open = false;
      }
    };
    const done = queue.then(run);
    queue = done.then(
      () => undefined,
      () => undefined,
    );
    return done;
  }

  return {
    read: (names, work) => transaction(names, work, false),
    write: (names, work, _touched = []) => transaction(names, work, true),
    /** The device dies after `strokes` more writes: what was complete stays, the rest is undone.
     * @param {number | null} strokes null takes it back */
    dieAfter(strokes) {
      strokesLeft = strokes;
    },
    dump: () =>
      Object.fromEntries(
        Object.entries(tables).map(([name, map]) => [name, structuredClone([...map.values()])]),
      ),
  };
}
