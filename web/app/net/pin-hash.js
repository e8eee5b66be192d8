// PBKDF2-HMAC-SHA-256 of a PIN, as the server makes the verifiers (services/enrolment.py).

/**
 * @param {string} pin @param {string} saltHex @param {number} rounds
 * @returns {Promise<string>} 64 hex characters
 */
export async function pinHash(pin, saltHex, rounds) {
  const salt = new Uint8Array((saltHex.match(/../g) ?? []).map((pair) => Number.parseInt(pair, 16)));
  const key = await crypto.subtle.importKey("raw", new TextEncoder().encode(pin), "PBKDF2", false, [
    "deriveBits",
  ]);
  const bits = await crypto.subtle.deriveBits(
    { name: "PBKDF2", hash: "SHA-256", salt, iterations: rounds },
    key,
    256,
  );
  return [...new Uint8Array(bits)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}
