// Identifiers: UUIDv7 (RFC 9562) from a given time and given random bytes; UUIDv5 of what a record is about. Pure.
import { sha1 } from "./sha1.js";

// Records that two phones make apart from each other and that are yet the same one; the server has the same.
const SHARED = "0b7d6f52-3c1e-5a94-8d27-9f40c2a6e815";

/**
 * @param {number} unixMs ms since 1970
 * @param {Uint8Array} random at least 10 bytes
 * @returns {string} a UUIDv7 in text
 */
export function uuid7(unixMs, random) {
  const bytes = new Uint8Array(16);
  let time = Math.floor(unixMs);
  for (let i = 5; i >= 0; i -= 1) {
    bytes[i] = time % 256;
    time = Math.floor(time / 256);
  }
  bytes.set(random.subarray(0, 10), 6);
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  return textOf(bytes);
}

/** @param {Uint8Array} bytes 16 of them */
function textOf(bytes) {
  const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

const NAMESPACE = Uint8Array.from(SHARED.replaceAll("-", "").match(/../g) ?? [], (pair) =>
  Number.parseInt(pair, 16),
);

/**
 * The id of a record that follows from what it is about.
 * @param {...(string | number)} parts  In a fixed order; joined by line feeds, which no part holds.
 * @returns {string} a UUIDv5 in text
 */
export function sharedId(...parts) {
  const name = new TextEncoder().encode(parts.join("\n"));
  const both = new Uint8Array(16 + name.length);
  both.set(NAMESPACE);
  both.set(name, 16);
  const bytes = sha1(both).subarray(0, 16);
  bytes[6] = (bytes[6] & 0x0f) | 0x50;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  return textOf(bytes);
}
