// Saving and exchanging over a store in memory and a scripted transport.

import assert from "node:assert/strict";
import { test } from "node:test";
import { exchangeRound, MAX_BATCH_CHARS } from "../../../web/app/sync/exchange.js";
import { NoDeviceError, save } from "../../../web/app/sync/outbox.js";
import { changesBetween, overlay, same } from "../../../web/app/sync/overlay.js";
import { writeMeta } from "../../../web/app/sync/port.js";
import { holds, isReply, KEEP_SENT_MS } from "../../../web/app/sync/reply.js";
import { memoryStore } from "../../support/js/memory-store.mjs";

const NOW = "2026-05-12T14:00:00.000Z";
const HEAD = { seq: 9, hash: "ab".repeat(32) };

/** A phone with a scripted server: each reply is a function of the request. */
async function phone() {
  const store = memoryStore();
  await store.write(["meta"], (tx) => writeMeta(tx, "device", { id: "d", label: "phone" }));
  let seed = 0;
  const clock = {
    ms: Date.parse(NOW),
    nowMs() {
      return this.ms;
    },
    randomBytes: (n) => Uint8Array.from({ length: n }, () => (seed = (seed * 75 + 74) % 65537) & 255),
    wall: () => ({ local: "2026-05-12T10:00:00", offset_min: -240, zone: "Etc/UTC" }),
  };
  const requests = [];
  let script = () => ({ ok: false, cause: "offline", code: "no_connection" });
  const transport = {
    exchange: async (body) => {
      requests.push(body);
      return script(body);
    },
    putPiece: async () => ({ ok: false, cause: "offline", code: "no_connection" }),
  };
  const signedField = (kind) => (kind === "application" ? "signature" : null);
  return {
    store,
    clock,
    requests,
    dump: () => store.dump(),
    act: (record, changes, action = "create") =>
      save(
        store,
        clock,
        [{ kind: "application", record, action, member: "m", changes, form_version: 1 }],
        { signedField },
      ),
    round(next, ahead = null) {
      if (next) script = next;
      return exchangeRound({ store, transport, clock, signedField }, ahead);
    },
  };
}

/** What an honest server answers: it holds everything that was sent. */
const taking = (more = {}) => (body) => {
  const results = body.entries.map((text, i) => {
    const { id, number } = JSON.parse(text);
    return { id, number, seq: i + 1, outcome: "accepted", reason: null };
  });
  const seen = Math.max(0, ...results.map((r) => r.number), more.seen ?? 0);
  return {
    ok: true,
    reply: {
      ack: seen,
      seen,
      missing: [],
      results,
      records: [],
      cursor: "0badcafe.all1.9.abababababababab",
      upto: 9,
      more: false,
      reset: false,
      resend: false,
      epoch: "0badcafe",
      round: body.round,
      now: NOW,
      head: HEAD,
      forms_version: "1",
      photos_owed: [],
      photos_stored: [],
      ...more,
    },
  };
};

const record = (id, revision, fields) => ({
  kind: "application",
  id,
  revision,
  state: "open",
  form_version: 1,
  author: "m",
  fields,
});
const note = (was, to) => ({ note: { was, to } });
const numbers = (rows) => rows.map((row) => row.number);

test("a store without a device saves nothing and says so", async () => {
  const store = memoryStore();
  const clock = { nowMs: () => 0, randomBytes: (n) => new Uint8Array(n), wall: () => ({}) };
  await assert.rejects(save(store, clock, []), NoDeviceError);
});

test("saved means: record, entry and counter in one transaction", async () => {
  const { act, dump, store } = await phone();
  store.dieAfter(2);
  await assert.rejects(act("r1", note(null, "a")));
  assert.deepEqual([dump().outbox, dump().records], [[], []]);
  await act("r1", note(null, "a"));
  assert.deepEqual(numbers(dump().outbox), [1]);
  assert.equal(dump().records[0].shown.fields.note, "a");
});

test("numbers have no gap, also when a save fails between", async () => {
  const { act, dump, store } = await phone();
  await act("r1", note(null, "a"));
  store.dieAfter(1);
  await assert.rejects(act("r2", note(null, "b")));
  await act("r3", note(null, "c"));
  assert.deepEqual(numbers(dump().outbox), [1, 2]);
});

test("an entry is the exact text that travels, again and again", async () => {
  const p = await phone();
  await p.act("r1", note(null, "a"));
  await p.round();
  await p.round();
  assert.equal(p.requests[0].entries[0], p.requests[1].entries[0]);
  assert.equal(p.requests[0].entries[0], p.dump().outbox[0].text);
});

test("what the journal holds leaves the outbox and is kept", async () => {
  const p = await phone();
  await p.act("r1", note(null, "a"));
  const result = await p.round(taking());
  assert.deepEqual([result.acknowledged, result.left], [1, 0]);
  assert.deepEqual([numbers(p.dump().outbox), numbers(p.dump().sent)], [[], [1]]);
});

test("status 200 with an old acknowledgement leaves the outbox alone", async () => {
  const p = await phone();
  await p.act("r1", note(null, "a"));
  const result = await p.round(taking({ ack: 0, seen: 0, results: [] }));
  assert.deepEqual([result.ok, result.acknowledged, result.left], [true, 0, 1]);
});

test("a number that the journal holds with another entry is not an acknowledgement", async () => {
  const p = await phone();
  await p.act("r1", note(null, "a"));
  // storage that was copied: the server knows number 1 with another id, and did not get this one
  const reply = (body) => taking({ results: [{ ...taking()(body).reply.results[0], id: "other" }] })(body);
  const result = await p.round(reply);
  assert.deepEqual([result.acknowledged, result.left], [0, 1]);
});

test("an entry saved while the round runs stays in the outbox", async () => {
  const p = await phone();
  await p.act("r1", note(null, "a"));
  await p.round(async (body) => {
    await p.act("r2", note(null, "b"));
    return taking({ seen: 2, ack: 2 })(body);
  });
  assert.deepEqual(numbers(p.dump().outbox), [2]);
});

for (const [name, reply] of [
  ["nothing", null],
  ["a list", []],
  ["a portal's JSON", { title: "Log in" }],
  ["no cursor", { ...taking()({ entries: [] }).reply, cursor: undefined }],
  ["no date", { ...taking()({ entries: [] }).reply, now: "yesterday" }],
  ["no numbers", { ...taking()({ entries: [] }).reply, seen: "3" }],
]) {
  test(`a body that is no reply means offline: ${name}`, async () => {
    const p = await phone();
    await p.act("r1", note(null, "a"));
    const before = p.dump();
    const result = await p.round(() => ({ ok: true, reply }));
    assert.deepEqual(result, { ok: false, cause: "offline", code: "not_our_server" });
    assert.deepEqual(p.dump(), before);
    assert.equal(isReply(reply), false);
  });
}

test("a reply to an earlier request is no answer: nothing of it is taken", async () => {
  const p = await phone();
  let first;
  await p.round((body) => {
    first = taking({ records: [record("r1", 5, { note: "a" })] })(body);
    return first;
  });
  await p.act("r2", note(null, "b"));
  const before = p.dump();
  const result = await p.round(() => first);
  assert.deepEqual(result, { ok: false, cause: "offline", code: "not_our_server" });
  assert.deepEqual(p.dump(), before);
});

test("rows and cursor are stored together or not at all", async () => {
  let deaths = 0;
  for (let isAlive = false; !isAlive; deaths += 1) {
    const p = await phone();
    await p.act("r1", note(null, "a"));
    const before = p.dump();
    p.store.dieAfter(deaths);
    isAlive = await p.round(taking({ records: [record("r2", 5, { note: "b" })] })).then(
      () => true,
      () => false,
    );
    if (!isAlive) assert.deepEqual(p.dump(), before);
    else assert.deepEqual([p.dump().sent.length, p.dump().records[0].id], [1, "r2"]);
  }
  assert.ok(deaths > 10, `only ${deaths} places to die`);
});

test("a pull never touches what is not sent yet", async () => {
  const p = await phone();
  await p.round(taking({ records: [record("r1", 5, { note: "a", purpose: "p" })] }));
  await p.act("r1", note("a", "b"), "change");
  await p.round(taking({ seen: 0, ack: 0, results: [], records: [record("r1", 6, { note: "c" })] }));
  assert.equal(p.dump().records[0].shown.fields.note, "b");
  assert.equal(p.dump().records[0].confirmed.fields.note, "c");
  assert.deepEqual(numbers(p.dump().outbox), [1]);
});

test("an acknowledged entry stays laid over the record until its page has come", async () => {
  const p = await phone();
  await p.act("r1", note(null, "a"));
  await p.round((body) => {
    const one = taking({ upto: 3, more: true })(body);
    one.reply.results[0].seq = 7;
    return one;
  });
  assert.equal(p.dump().records[0].shown.fields.note, "a");
  await p.round(taking({ seen: 1, records: [record("r1", 7, { note: "a" })], upto: 9 }));
  assert.deepEqual(p.dump().records[0].pending, []);
  assert.equal(p.dump().records[0].shown.revision, 7);
});

test("the office counts as heard only when its last page is here", async () => {
  const one = await phone();
  const heard = async () => (await one.dump()).meta.find((row) => row.key === "heard")?.value;

  await one.round(taking({ more: true }));
  assert.equal(await heard(), undefined);

  await one.round(taking());
  assert.equal((await heard()).server, NOW);
});

test("a held entry no longer shows in the record once the server said so", async () => {
  const p = await phone();
  await p.round(taking({ records: [record("r1", 5, { note: "a" })] }));
  await p.act("r1", note("x", "b"), "change");
  await p.round(taking());
  assert.equal(p.dump().records[0].shown.fields.note, "a");
});

test("a server that acknowledges less than before gets everything again", async () => {
  const p = await phone();
  for (const id of ["r1", "r2", "r3"]) await p.act(id, note(null, id));
  await p.round(taking());
  const result = await p.round(taking({ ack: 1, seen: 1 }));
  assert.equal(result.resent, 2);
  assert.deepEqual([numbers(p.dump().sent), numbers(p.dump().outbox)], [[1], [2, 3]]);
  assert.deepEqual(p.dump().records.map((row) => row.shown.fields.note).sort(), ["r2", "r3"]);
});

test("another epoch gets everything again", async () => {
  const p = await phone();
  await p.act("r1", note(null, "a"));
  await p.round(taking());
  await p.round(taking({ seen: 1, ack: 1, epoch: "feedface" }));
  assert.deepEqual(numbers(p.dump().outbox), [1]);
});

const photoRow = (sha256, more = {}) => ({
  sha256, size: 1, state: "stored", of_id: "r1", saved_at: NOW, stored_at: NOW, problem: null, ...more,
});
const statesOf = (p) => Object.fromEntries(p.dump().photos.map((row) => [row.sha256, row.state]));

test("a server put back to an earlier state is asked about every photo again", async () => {
  const p = await phone();
  await p.act("r1", note(null, "a"));
  await p.round(taking());
  const rows = [photoRow("aa"), photoRow("bb", { state: "refused" }), photoRow("cc", { is_kept: true })];
  await p.store.write(["photos"], (tx) => tx.bulkPut("photos", rows));

  await p.round(taking({ seen: 1, epoch: "feedfeed" }));

  assert.deepEqual(statesOf(p), { aa: "waiting", bb: "refused", cc: "stored" });
  await p.round(taking({ seen: 1, epoch: "feedfeed" }));
  assert.deepEqual(p.requests.at(-1).photos, ["aa"]);
});

test("a hole that nobody can fill asks about no photo again", async () => {
  const p = await phone();
  await p.store.write(["photos"], (tx) => tx.bulkPut("photos", [photoRow("aa")]));
  for (let i = 0; i < 2; i += 1) await p.round(taking({ ack: 0, seen: 7, missing: [[3, 3]] }));
  assert.deepEqual(statesOf(p), { aa: "stored" });
});

test("a hole that the server names is sent again", async () => {
  const p = await phone();
  for (const id of ["r1", "r2", "r3"]) await p.act(id, note(null, id));
  await p.round(taking());
  await p.round(taking({ ack: 1, seen: 3, missing: [[2, 2]] }));
  assert.deepEqual(numbers(p.dump().outbox), [2]);
});

test("a snapshot removes rows that left the view, once the outbox is empty", async () => {
  const p = await phone();
  await p.round(taking({ reset: true, records: [record("r1", 5, {}), record("r2", 6, {})] }));
  await p.act("r3", note(null, "c"));
  await p.round(taking({ reset: true, ack: 0, seen: 0, results: [], records: [record("r1", 5, {})] }));
  assert.deepEqual(p.dump().records.map((row) => row.id).sort(), ["r1", "r2", "r3"]);
  await p.round(taking({ records: [record("r3", 7, { note: "c" })] }));
  assert.deepEqual(p.dump().records.map((row) => row.id).sort(), ["r1", "r3"]);
});

const REVOKED = { revoked: true, cursor: "", epoch: "", upto: 0, head: {} };
const put = (p, table, row) => p.store.write([table], (tx) => tx.put(table, row));

test("a revoked phone lets the book go, and keeps what has not reached the office", async () => {
  const p = await phone();
  await p.round(taking({ reset: true, records: [record("r1", 5, {}), record("r2", 5, { note: "x" })] }));
  for (const [sha256, state] of [["a", "stored"], ["b", "waiting"]]) {
    await put(p, "photos", { sha256, state, size: 1, is_kept: state === "stored" });
    await put(p, "photo_bytes", { sha256, bytes: new ArrayBuffer(1) });
  }
  await put(p, "drafts", { key: "apply", value: { mix: "M 1" } });
  await p.store.write(["meta"], (tx) => writeMeta(tx, "session", { member: { id: "m" } }));
  await p.store.write(["meta"], (tx) => writeMeta(tx, "pins", [{ member: "m" }]));
  await p.store.write(["meta"], (tx) => writeMeta(tx, "online /trials/1", { plots: 4 }));
  await p.act("r2", note("x", "y"), "change");

  // the office did not take this entry in: the number is another's there
  await p.round((body) => taking({ ...REVOKED, results: [], ack: 0, seen: 0 })(body));

  const left = p.dump();
  assert.deepEqual(left.records.map((row) => [row.id, row.shown.fields.note]), [["r2", "y"]]);
  assert.deepEqual(left.outbox.length, 1);
  assert.deepEqual([left.photos, left.photo_bytes].map((rows) => rows.map((row) => row.sha256)), [["b"], ["b"]]);
  assert.equal(left.drafts.length, 1);
  const keys = left.meta.map((row) => row.key);
  assert.deepEqual(["session", "pins", "online /trials/1", "cursor"].filter((key) => keys.includes(key)), []);
  assert.equal(left.meta.find((row) => row.key === "device").value.id, "d");
});

test("what a revoked phone handed in stays there too until a manager has looked at it", async () => {
  const p = await phone();
  await p.act("r1", note(null, "a"));
  await p.round((body) => {
    const got = taking(REVOKED)(body);
    for (const one of got.reply.results) one.outcome = "quarantined";
    return got;
  });
  const left = p.dump();
  assert.deepEqual([left.outbox.length, left.records.length, left.sent.length], [0, 0, 1]);
  await p.act("r2", note(null, "b"));
  assert.equal(p.dump().outbox[0].number, 2); // numbers go on
});

test("a phone that is let in again starts from a snapshot", async () => {
  const p = await phone();
  await p.round(taking({ reset: true, records: [record("r1", 5, {})] }));
  await p.round(taking(REVOKED));
  assert.equal(p.dump().records.length, 0);
  await p.round(taking({ reset: true, records: [record("r1", 5, {})] }));
  assert.equal(p.requests.at(-1).cursor, null);
  assert.equal(p.dump().records.length, 1);
});

test("copies of what was sent go after 30 days of server time, not of the phone's", async () => {
  const p = await phone();
  await p.act("r1", note(null, "a"));
  await p.round(taking());
  p.clock.ms += 400 * 24 * 3600 * 1000;
  await p.round(taking({ seen: 1 }));
  assert.equal(p.dump().sent.length, 1);
  const later = new Date(Date.parse(NOW) + KEEP_SENT_MS + 24 * 3600 * 1000).toISOString();
  await p.round(taking({ seen: 1, now: later }));
  assert.equal(p.dump().sent.length, 0);
});

test("a batch is cut by its size, and one long entry goes alone", async () => {
  const p = await phone();
  const long = "x".repeat(MAX_BATCH_CHARS * 0.6);
  for (const id of ["r1", "r2", "r3"]) await p.act(id, note(null, long));
  await p.round(taking());
  assert.equal(p.requests[0].entries.length, 1);
  assert.equal(p.dump().outbox.length, 2);
});

test("no more than 200 entries go in one round", async () => {
  const p = await phone();
  for (let n = 0; n < 205; n += 1) await p.act(`r${n}`, note(null, "a"));
  const first = await p.round(taking());
  assert.deepEqual([p.requests[0].entries.length, first.left], [200, 5]);
});

test("the phone's clock decides nothing: only the offset is kept", async () => {
  const p = await phone();
  p.clock.ms += 3 * 3600 * 1000;
  await p.round(taking());
  const offset = p.dump().meta.find((row) => row.key === "server_offset_ms").value;
  assert.equal(offset, -3 * 3600 * 1000);
});

test("holds: up to seen, without the holes", () => {
  const reply = { seen: 9, missing: [[3, 4], [7, 7]] };
  const held = Array.from({ length: 11 }, (_, i) => i + 1).filter((n) => holds(reply, n));
  assert.deepEqual(held, [1, 2, 5, 6, 8, 9]);
});

test("overlay: a void record stays void, a request shows nothing", () => {
  const base = { revision: 1, state: "void", form_version: 1, author: "m", fields: { note: "a" } };
  const change = { number: 1, action: "change", member: "m", changes: note("a", "b") };
  assert.equal(overlay(base, [change], null).state, "void");
  assert.equal(overlay(null, [{ ...change, action: "request" }], null), null);
});

test("changesBetween names only what changed, and null is absent", () => {
  const seen = { a: 1, b: [{ x: 1 }], c: "gone" };
  assert.deepEqual(changesBetween(seen, { a: 1, b: [{ x: 2 }], c: null, d: undefined }), {
    b: { was: [{ x: 1 }], to: [{ x: 2 }] },
    c: { was: "gone", to: null },
  });
});

test("same agrees with the server's: true is not 1, order of names is nothing", () => {
  assert.equal(same(true, 1), false);
  assert.equal(same({ a: 1, b: 2 }, { b: 2, a: 1 }), true);
  assert.equal(same([1], { 0: 1 }), false);
  assert.equal(same({ a: null }, {}), false);
});

const page = (n, more) => taking({ cursor: `0badcafe.all1.${n}.abababababababab`, more });
const askedFrom = (requests) => requests.map((one) => one.cursor);

test("a pull of many pages asks for the next one while it stores, once", async () => {
  const p = await phone();
  const first = await p.round(page(4, true));
  assert.deepEqual(askedFrom(p.requests), [null, "0badcafe.all1.4.abababababababab"]);
  assert.equal(await p.store.read(["meta"], async (tx) => (await tx.get("meta", "heard")) ?? null), null);
  // the page that was asked ahead says that there is more, and so the one after it is asked for
  const second = await p.round(page(9, false), first.ahead);
  assert.deepEqual([second.more, p.requests.length], [true, 3]);
  const third = await p.round(null, second.ahead);
  assert.deepEqual([third.more, third.ahead, p.requests.length], [false, null, 3]);
});

test("what was asked ahead is left where entries wait or the cursor has moved", async () => {
  const p = await phone();
  const { ahead } = await p.round(page(4, true));
  await p.act("r1", note(null, "a"));
  await p.round(page(5, false), ahead);
  assert.equal(p.requests.at(-1).entries.length, 1);
  assert.deepEqual(numbers(p.dump().outbox), []);
  await p.round(page(9, false), ahead); // its page 4 was stored long ago
  assert.equal(p.requests.at(-1).cursor, "0badcafe.all1.5.abababababababab");
});

test("a page that was asked ahead and never came ends the round, and the cursor stays", async () => {
  const p = await phone();
  const { ahead } = await p.round((body) =>
    body.cursor === null ? page(4, true)(body) : { ok: false, cause: "offline", code: "no_connection" },
  );
  const result = await p.round(page(9, false), ahead);
  assert.deepEqual([result.ok, result.cause], [false, "offline"]);
  assert.equal((await p.round()).ok, true);
  assert.equal(p.requests.at(-1).cursor, "0badcafe.all1.4.abababababababab");
});
