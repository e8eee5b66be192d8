// Identifiers: UUIDv7 (RFC 9562) from a given time and given random bytes. Pure.

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
  const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}
