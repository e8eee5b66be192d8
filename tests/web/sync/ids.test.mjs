// Ids that follow from what a record is about: the same on every phone and on the server.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { sharedId } from "../../../web/app/sync/ids.js";
import { sha1 } from "../../../web/app/sync/sha1.js";

const { cases } = JSON.parse(readFileSync(new URL("../../vectors/ids/shared_id.json", import.meta.url)));

for (const { id, args, expect } of cases) {
  test(`shared id: ${id}`, () => assert.equal(sharedId(...args), expect));
}

test("SHA-1 of the examples of FIPS 180-4", () => {
  const hex = (text) => Buffer.from(sha1(new TextEncoder().encode(text))).toString("hex");
  assert.equal(hex("abc"), "a9993e364706816aba3e25717850c26c9cd0d89d");
  assert.equal(
    hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
    "84983e441c3bd26ebaae4aa1f95129e5e54670f1",
  );
});
