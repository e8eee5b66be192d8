// SHA-1 (FIPS 180-4), only for UUIDv5: the browser's own is asynchronous, and an id is needed inside a render. Pure.

/** @param {number} x @param {number} n */
const rotated = (x, n) => (x << n) | (x >>> (32 - n));

const ROUNDS = [0x5a827999, 0x6ed9eba1, 0x8f1bbcdc, 0xca62c1d6];

/** @param {number} round @param {number} b @param {number} c @param {number} d */
function mixed(round, b, c, d) {
  if (round === 0) return (b & c) | (~b & d);
  if (round === 2) return (b & c) | (b & d) | (c & d);
  return b ^ c ^ d;
}

/**
 * @param {Uint8Array} bytes
 * @returns {Uint8Array} 20 bytes
 */
export function sha1(bytes) {
  const padded = new Uint8Array(((bytes.length + 8) >> 6) * 64 + 64);
  padded.set(bytes);
  padded[bytes.length] = 0x80;
  const view = new DataView(padded.buffer);
  view.setUint32(padded.length - 8, Math.floor(bytes.length / 2 ** 29));
  view.setUint32(padded.length - 4, bytes.length << 3);
  const state = [0x67452301, 0xefcdab89, 0x98badcfe, 0x10325476, 0xc3d2e1f0];
  const words = new Int32Array(80);
  for (let at = 0; at < padded.length; at += 64) {
    for (let i = 0; i < 16; i += 1) words[i] = view.getInt32(at + 4 * i);
    for (let i = 16; i < 80; i += 1) {
      words[i] = rotated(words[i - 3] ^ words[i - 8] ^ words[i - 14] ^ words[i - 16], 1);
    }
    let [a, b, c, d, e] = state;
    for (let i = 0; i < 80; i += 1) {
      const round = Math.floor(i / 20);
      const next = (rotated(a, 5) + mixed(round, b, c, d) + e + ROUNDS[round] + words[i]) | 0;
      [a, b, c, d, e] = [next, a, rotated(b, 30), c, d];
    }
    [a, b, c, d, e].forEach((value, i) => {
      state[i] = (state[i] + value) | 0;
    });
  }
  const digest = new DataView(new ArrayBuffer(20));
  state.forEach((value, i) => {
    digest.setInt32(4 * i, value);
  });
  return new Uint8Array(digest.buffer);
}
