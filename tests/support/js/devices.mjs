// Devices for the simulation: the shipped sync modules over memory stores, driven by JSON lines.
// Standard input: {"op", "device", ...} or {"sent"} (the answer to a transport call).
// Standard output: {"call", "device", "body"} (a transport call), {"done"} or {"failed"}.

import { createInterface } from "node:readline";
import { exchangeRound } from "../../../web/app/sync/exchange.js";
import { save } from "../../../web/app/sync/outbox.js";
import { writeMeta } from "../../../web/app/sync/port.js";
import { Killed, memoryStore } from "./memory-store.mjs";

const devices = new Map();
let answer = null;

const say = (line) => process.stdout.write(`${JSON.stringify(line)}\n`);

/** A small seeded generator (xorshift32), so that a failing run repeats exactly. */
function randomBytesFrom(seed) {
  let x = seed | 1;
  return (n) =>
    Uint8Array.from({ length: n }, () => {
      x ^= x << 13;
      x ^= x >>> 17;
      x ^= x << 5;
      return x & 255;
    });
}

function newDevice({ device, id, now_ms: nowMs, seed, signed_fields: signedFields }) {
  const clock = {
    ms: nowMs,
    nowMs() {
      this.ms += 1;
      return this.ms;
    },
    randomBytes: randomBytesFrom(seed),
    wall: () => ({ local: "2026-05-12T10:00:00", offset_min: -240, zone: "Etc/UTC" }),
  };
  const store = memoryStore();
  const transport = {
    exchange: (body) =>
      new Promise((resolve) => {
        answer = resolve;
        say({ call: "exchange", device, body });
      }),
    putPiece: async () => ({ ok: false, cause: "offline", code: "no_photos_here" }),
  };
  const signedField = (kind) => signedFields[kind] ?? null;
  devices.set(device, { store, clock, transport, signedField });
  return store.write(["meta"], (tx) => writeMeta(tx, "device", { id, label: device }));
}

const OPS = {
  reset: () => devices.clear(),
  new: newDevice,
  save: ({ device, acts }) => {
    const { store, clock, signedField } = devices.get(device);
    return save(store, clock, acts, { signedField });
  },
  exchange: ({ device }) => exchangeRound(devices.get(device)),
  dump: ({ device }) => devices.get(device).store.dump(),
  die_after: ({ device, strokes }) => devices.get(device).store.dieAfter(strokes),
  clock: ({ device, by_ms: byMs }) => {
    devices.get(device).clock.ms += byMs;
  },
};

for await (const line of createInterface({ input: process.stdin })) {
  const message = JSON.parse(line);
  if (message.sent !== undefined) {
    const resolve = answer;
    answer = null;
    resolve(message.sent);
    continue;
  }
  // not awaited: the transport's answer comes over this same input
  Promise.resolve()
    .then(() => OPS[message.op](message))
    .then(
      (done) => say({ done: done ?? null }),
      (error) => say({ failed: error instanceof Killed ? "killed" : String(error.stack) }),
    );
}
