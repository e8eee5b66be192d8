// The contract of sync's StorePort, free of any test library: it runs in Node over the maps and in
// a page over Dexie. `open()` returns an empty store; `check(name, run)` collects one test.

const ROW = { number: 1, id: "a", text: "{}", changes: {} };

function assert(isTrue, what) {
  if (!isTrue) throw new Error(`contract: ${what}`);
}

const equal = (left, right, what) =>
  assert(JSON.stringify(left) === JSON.stringify(right), `${what}: ${JSON.stringify(left)} is not ${JSON.stringify(right)}`);

async function fails(promise, what) {
  const failed = await promise.then(
    () => false,
    () => true,
  );
  assert(failed, what);
}

/**
 * @param {() => Promise<any> | any} open
 * @param {(name: string, run: () => Promise<void>) => void} check
 */
export function storeContract(open, check) {
  check("what is put comes back, copied both ways", async () => {
    const store = await open();
    const row = structuredClone(ROW);
    await store.write(["outbox"], (tx) => tx.put("outbox", row));
    row.text = "changed after";
    const found = await store.read(["outbox"], (tx) => tx.get("outbox", 1));
    equal(found, ROW, "row");
    found.text = "changed again";
    equal(await store.read(["outbox"], (tx) => tx.get("outbox", 1)), ROW, "row");
  });

  check("what is not there is undefined, in its place", async () => {
    const store = await open();
    await store.write(["outbox"], (tx) => tx.put("outbox", ROW));
    const found = await store.read(["outbox"], (tx) => tx.bulkGet("outbox", [7, 1, 8]));
    equal(found.map((row) => row?.number ?? null), [null, 1, null], "bulkGet");
    assert((await store.read(["meta"], (tx) => tx.get("meta", "x"))) === undefined, "get");
  });

  check("rows come in key order: numbers as numbers, texts as texts", async () => {
    const store = await open();
    await store.write(["outbox", "meta"], async (tx) => {
      await tx.bulkPut("outbox", [10, 9, 1, 100].map((number) => ({ ...ROW, number })));
      await tx.bulkPut("meta", ["b", "a", "B"].map((key) => ({ key, value: 1 })));
    });
    const numbers = await store.read(["outbox"], (tx) => tx.all("outbox"));
    equal(numbers.map((row) => row.number), [1, 9, 10, 100], "numbers");
    const two = await store.read(["outbox"], (tx) => tx.all("outbox", 2));
    equal(two.map((row) => row.number), [1, 9], "limit");
    const texts = await store.read(["meta"], (tx) => tx.all("meta"));
    equal(texts.map((row) => row.key), ["B", "a", "b"], "texts");
  });

  check("a put replaces, a delete removes, a count counts", async () => {
    const store = await open();
    await store.write(["outbox"], async (tx) => {
      await tx.bulkPut("outbox", [ROW, { ...ROW, number: 2 }]);
      await tx.put("outbox", { ...ROW, text: "new" });
      await tx.bulkDelete("outbox", [2, 99]);
    });
    equal(await store.read(["outbox"], (tx) => tx.count("outbox")), 1, "count");
    equal((await store.read(["outbox"], (tx) => tx.get("outbox", 1))).text, "new", "replaced");
  });

  check("a transaction that throws leaves nothing behind", async () => {
    const store = await open();
    await store.write(["outbox", "meta"], (tx) => tx.put("meta", { key: "counter", value: 1 }));
    await fails(
      store.write(["outbox", "meta"], async (tx) => {
        await tx.put("meta", { key: "counter", value: 2 });
        await tx.put("outbox", ROW);
        throw new Error("quota");
      }),
      "the error reaches the caller",
    );
    equal(await store.read(["outbox"], (tx) => tx.count("outbox")), 0, "outbox");
    equal((await store.read(["meta"], (tx) => tx.get("meta", "counter"))).value, 1, "counter");
  });

  check("a transaction reads what it wrote", async () => {
    const store = await open();
    const seen = await store.write(["meta"], async (tx) => {
      await tx.put("meta", { key: "k", value: 1 });
      return (await tx.get("meta", "k")).value;
    });
    equal(seen, 1, "own write");
  });

  check("writers take turns: no update is lost", async () => {
    const store = await open();
    await store.write(["meta"], (tx) => tx.put("meta", { key: "n", value: 0 }));
    const add = () =>
      store.write(["meta"], async (tx) => {
        const row = await tx.get("meta", "n");
        await tx.put("meta", { key: "n", value: row.value + 1 });
      });
    await Promise.all(Array.from({ length: 20 }, add));
    equal((await store.read(["meta"], (tx) => tx.get("meta", "n"))).value, 20, "n");
  });

  check("a failed transaction does not stop the next one", async () => {
    const store = await open();
    const bad = store.write(["meta"], async () => {
      throw new Error("no");
    });
    const good = store.write(["meta"], (tx) => tx.put("meta", { key: "k", value: 1 }));
    await fails(bad, "bad fails");
    await good;
    equal(await store.read(["meta"], (tx) => tx.count("meta")), 1, "count");
  });

  check("a table outside the transaction is refused", async () => {
    const store = await open();
    await fails(store.write(["meta"], (tx) => tx.put("outbox", ROW)), "put");
    await fails(store.read(["meta"], (tx) => tx.get("outbox", 1)), "get");
  });

  check("a read transaction does not write", async () => {
    const store = await open();
    await fails(store.read(["meta"], (tx) => tx.put("meta", { key: "k", value: 1 })), "put");
    equal(await store.read(["meta"], (tx) => tx.count("meta")), 0, "count");
  });

  check("records are found by kind", async () => {
    const store = await open();
    const record = (key, kind) => ({ key, kind, id: key, shown: null, confirmed: null, pending: [], generation: 0 });
    await store.write(["records"], (tx) =>
      tx.bulkPut("records", [record("house/2", "house"), record("lot/1", "lot"), record("house/1", "house")]),
    );
    const found = await store.read(["records"], (tx) => tx.ofKind("house"));
    equal(found.map((row) => row.key).sort(), ["house/1", "house/2"], "houses");
  });

  check("bytes come back as bytes", async () => {
    const store = await open();
    const bytes = Uint8Array.from([0, 255, 7]).buffer;
    await store.write(["photo_bytes"], (tx) => tx.put("photo_bytes", { sha256: "aa", bytes }));
    const found = await store.read(["photo_bytes"], (tx) => tx.get("photo_bytes", "aa"));
    assert(found.bytes instanceof ArrayBuffer, "an ArrayBuffer");
    equal([...new Uint8Array(found.bytes)], [0, 255, 7], "bytes");
  });
}
