// The file of what a phone could not send: what the phone writes, and how the office hands it in.

import assert from "node:assert/strict";
import { test } from "node:test";
import { partsToSend, together } from "../../../web/app/state/unsent-file.js";
import { writeMeta } from "../../../web/app/sync/port.js";
import { dropBook } from "../../../web/app/sync/revoked.js";
import { unsentFile } from "../../../web/app/sync/unsent-file.js";
import { memoryStore } from "../../support/js/memory-store.mjs";

const NOW = "2026-05-12T14:00:00.000Z";

/** A phone with one entry and three photos, of which the office has the first. */
async function phone() {
  const store = memoryStore();
  await store.write(["meta", "outbox", "photos", "photo_bytes"], async (tx) => {
    await writeMeta(tx, "device", { id: "d", label: "Phone 3" });
    await tx.put("outbox", { number: 4, text: '{"number": 4, "note": "}"}' });
    for (const [sha256, state] of [
      ["a", "stored"],
      ["b", "waiting"],
      ["c", "refused"],
    ]) {
      await tx.put("photos", { sha256, state, size: 50_000, stored_at: null });
      await tx.put("photo_bytes", {
        sha256,
        bytes: Uint8Array.from({ length: 50_000 }, (_, i) => i % 251).buffer,
      });
    }
  });
  return store;
}

/** @param {string[]} parts */
const read = (parts) => JSON.parse(parts.join(""));

test("a revoked phone's file holds its entries and the photos that the office lacks, byte for byte", async () => {
  const store = await phone();
  await store.write(["records", "outbox", "sent", "meta", "photos", "photo_bytes"], dropBook);

  const file = read(await unsentFile(store, NOW));

  assert.deepEqual(
    { ...file, photos: file.photos.map((one) => one.sha256) },
    {
      format: "tepal-unsent",
      version: 1,
      device: { id: "d", label: "Phone 3" },
      saved_at: NOW,
      entries: ['{"number": 4, "note": "}"}'],
      photos: ["b", "c"],
    },
  );
  const bytes = Buffer.from(file.photos[0].content, "base64");
  assert.equal(bytes.length, 50_000);
  assert.ok(bytes.every((byte, i) => byte === i % 251));
});

test("a phone without photos writes a file that is JSON too", async () => {
  const store = memoryStore();
  assert.deepEqual(read(await unsentFile(store, NOW)).photos, []);
});

test("a file goes in by parts, entries first, nothing twice and nothing left out", () => {
  const file = {
    format: "tepal-unsent",
    entries: ["12345", "1234567", "1"],
    photos: [
      { sha256: "a", content: "123456789012" },
      { sha256: "b", content: "1" },
    ],
  };

  const parts = partsToSend(file, 10);

  assert.deepEqual(
    parts.map(({ format, entries, photos }) => [format, entries, photos.map((one) => one.sha256)]),
    [
      ["tepal-unsent", ["12345"], []],
      ["tepal-unsent", ["1234567", "1"], []],
      ["tepal-unsent", [], ["a"]],
      ["tepal-unsent", [], ["b"]],
    ],
  );
});

test("what is no file of ours goes as it is, and the replies add up", () => {
  for (const odd of [
    null,
    5,
    { entries: 3 },
    { entries: [], photos: {} },
    { format: "tepal-unsent", entries: [] },
  ])
    assert.deepEqual(partsToSend(odd), [odd]);
  const reply = { n_entries: 2, n_quarantined: 1, n_known: 1, n_photos: 0, device_label: "Phone 3" };
  const photos = {
    n_entries: 0,
    n_quarantined: 0,
    n_known: 0,
    n_photos: 2,
    n_photos_known: 1,
    n_photos_refused: 1,
  };
  assert.deepEqual(together([reply, photos]), {
    device: "Phone 3",
    n: 2,
    waiting: 1,
    known: 1,
    photos: 2,
    photosKnown: 1,
    photosRefused: 1,
  });
});
