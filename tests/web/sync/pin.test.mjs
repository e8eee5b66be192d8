// Wrong PINs slow down on the phone, without signal: five are free, then each doubles the wait, over restarts too.

import assert from "node:assert/strict";
import { test } from "node:test";
import { pinHash } from "../../../web/app/net/pin-hash.js";
import { enterPin, waitMs } from "../../../web/app/state/pin.js";
import { readMeta, writeMeta } from "../../../web/app/sync/port.js";
import { memoryStore } from "../../support/js/memory-store.mjs";

const SALT = "00".repeat(16);
const ROUNDS = 10;

/** The app as the PIN sees it, over a store that a restart leaves alone. */
function started(store, clock) {
  return {
    nowMs: () => clock.ms,
    session: { value: null },
    book: {
      pinHash,
      meta: (key, missing = null) => store.read(["meta"], (tx) => readMeta(tx, key, missing)),
      setMeta: (values) =>
        store.write(["meta"], async (tx) => {
          for (const [key, value] of Object.entries(values)) await writeMeta(tx, key, value);
        }),
      get: async () => ({ shown: { fields: { name: "Rosa Lind" } } }),
    },
  };
}

async function phone() {
  const store = memoryStore();
  const hash = await pinHash("2580", SALT, ROUNDS);
  const pins = [{ member: "m", salt: SALT, hash, rounds: ROUNDS }, { member: "n", salt: SALT, hash, rounds: ROUNDS }];
  await store.write(["meta"], (tx) => writeMeta(tx, "pins", pins));
  return store;
}

test("five wrong PINs are free, then each doubles the wait", async () => {
  const clock = { ms: 1_000_000 };
  const tepal = started(await phone(), clock);
  const waits = [];
  for (let n = 0; n < 9; n += 1) {
    const { waitMs: wait } = await enterPin(tepal, "m", "1111");
    waits.push(wait);
    clock.ms += wait;
  }
  assert.deepEqual(waits, [0, 0, 0, 0, 1000, 2000, 4000, 8000, 16_000]);
});

test("while the wait runs the right PIN opens nothing, and a restart does not end it", async () => {
  const clock = { ms: 1_000_000 };
  const store = await phone();
  const before = started(store, clock);
  for (let n = 0; n < 5; n += 1) await enterPin(before, "m", "1111");

  const after = started(store, clock);
  assert.deepEqual(await enterPin(after, "m", "2580"), { ok: false, waitMs: 1000 });
  assert.equal(after.session.value, null);
  assert.deepEqual(await enterPin(after, "n", "2580"), { ok: true }); // the others need not wait

  clock.ms += 1000;
  assert.deepEqual(await enterPin(after, "m", "2580"), { ok: true });
  assert.equal((await enterPin(after, "m", "1111")).waitMs, 0); // a right one starts the count again
});

test("a clock that was put back shortens no wait", () => {
  assert.equal(waitMs({ n: 8, last_ms: 1_000_000 }, 0), 8000);
  assert.equal(waitMs({ n: 40, last_ms: 0 }, 0), 900_000);
});
