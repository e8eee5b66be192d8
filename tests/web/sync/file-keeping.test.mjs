// Labels and safety data sheets of 60 MB in all: what is kept, what it takes, and that it never goes over the promise.

import assert from "node:assert/strict";
import { createHash } from "node:crypto";
import { test } from "node:test";
import { BUDGET_BYTES, keepFiles, LEAST_FREE_BYTES } from "../../../web/app/sync/file-keeping.js";
import { memoryStore } from "../../support/js/memory-store.mjs";

const MB = 1024 * 1024;
const hex = (bytes) => createHash("sha256").update(new Uint8Array(bytes)).digest("hex");

/** An office with files of these sizes, one product each, and a phone with so much room. */
async function office(sizes, { free = 1000 * MB } = {}) {
  const store = memoryStore();
  const files = new Map();
  const fetched = [];
  for (const [n, size] of sizes.entries()) {
    const bytes = new Uint8Array(size).fill(n + 1).buffer;
    const sha256 = hex(bytes);
    files.set(sha256, bytes);
    await put(store, "product", `p${n}`, { name: `Product ${n}` });
    await put(store, "label_file", `f${n}`, { product: `p${n}`, sort: "sds", sha256, size });
  }
  const stored = async () => {
    const rows = await store.read(["photo_bytes"], (tx) => tx.all("photo_bytes"));
    return rows.reduce((sum, row) => sum + row.bytes.byteLength, 0);
  };
  const parts = {
    getFile: async (sha256) => {
      fetched.push(sha256);
      return files.get(sha256) ?? null;
    },
    digest: async (bytes) => hex(bytes),
    freeBytes: async () => (free === null ? null : free - (await stored())),
  };
  return { store, fetched, stored, keep: () => keepFiles(store, parts) };
}

const put = (store, kind, id, fields) =>
  store.write(["records"], (tx) => {
    const shown = { revision: 1, state: "open", form_version: 1, author: "m", fields };
    return tx.put("records", { key: `${kind}/${id}`, kind, id, shown, confirmed: shown, pending: [], generation: 0 });
  });

test("sheets of 60 MB in all are kept whole, and the phone says what they take", async () => {
  const { keep, stored, fetched } = await office([1, 2, 5, 12, 18, 22].map((mb) => mb * MB));
  assert.deepEqual(await keep(), { files: 6, bytes: 60 * MB, left: 0, why: null });
  assert.equal(await stored(), BUDGET_BYTES);
  assert.deepEqual(await keep(), { files: 6, bytes: 60 * MB, left: 0, why: null });
  assert.equal(fetched.length, 6); // what is here is not fetched again
});

test("one byte more than the promise stays in the office, and the phone says so", async () => {
  const { keep, stored } = await office([20 * MB, 20 * MB, 20 * MB + 1]);
  assert.deepEqual(await keep(), { files: 2, bytes: 40 * MB, left: 1, why: "budget" });
  assert.equal(await stored(), 40 * MB);
});

test("a phone that is nearly full keeps its last 100 MB for work", async () => {
  const { keep, stored } = await office([10 * MB, 20 * MB, 25 * MB], { free: LEAST_FREE_BYTES + 35 * MB });
  assert.deepEqual(await keep(), { files: 2, bytes: 30 * MB, left: 1, why: "phone_full" });
  assert.equal(await stored(), 30 * MB);
});

test("a replaced sheet makes room for the one that did not fit", async () => {
  const { store, keep, stored } = await office([20 * MB, 25 * MB, 30 * MB]);
  assert.equal((await keep()).why, "budget");
  const old = await store.read(["records"], (tx) => tx.get("records", "label_file/f1"));
  await put(store, "label_file", "f1", { ...old.shown.fields, replaced: true });
  assert.deepEqual(await keep(), { files: 2, bytes: 50 * MB, left: 0, why: null });
  assert.equal(await stored(), 50 * MB);
});
