// People who share a phone: each picks the own name and enters a PIN, without signal too. A PIN is an author's mark and
// a screen lock, not a proof; it never makes a password session.

/** @typedef {import("./tepal.js").Tepal} Tepal */
/** @typedef {{member: string, salt: string, hash: string, rounds: number}} Verifier */
/** @typedef {{n: number, last_ms: number}} Tries */

const FREE_TRIES = 5; // access.md: five, then doubling waits
const LONGEST_WAIT_MS = 15 * 60_000;

/**
 * How long this name still has to wait. A clock that was put back never shortens it below one step.
 * @param {Tries | undefined} tries @param {number} nowMs
 */
export function waitMs(tries, nowMs) {
  if (!tries || tries.n < FREE_TRIES) return 0;
  const step = Math.min(1000 * 2 ** (tries.n - FREE_TRIES), LONGEST_WAIT_MS);
  const since = nowMs - tries.last_ms;
  return since < 0 ? step : Math.max(0, step - since);
}

/**
 * Who may take this phone by PIN: active members whose verifier is here.
 * @param {Tepal} tepal
 * @returns {Promise<{id: string, name: string, role: string}[]>}
 */
export async function pinMembers(tepal) {
  /** @type {Verifier[]} */
  const pins = await tepal.book.meta("pins", []);
  const rows = await tepal.book.ofKind("member");
  const known = new Set(pins.map((pin) => pin.member));
  return rows
    .filter((row) => known.has(row.id) && row.shown?.state !== "void" && row.shown?.fields.active !== false)
    .map((row) => ({ id: row.id, name: row.shown.fields.name ?? "", role: row.shown.fields.role ?? "" }))
    .sort((a, b) => a.name.localeCompare(b.name));
}

/**
 * Enter a PIN. A right one makes that person the author on this phone.
 * @param {Tepal} tepal @param {string} member @param {string} pin
 * @returns {Promise<{ok: true} | {ok: false, waitMs: number}>}
 */
export async function enterPin(tepal, member, pin) {
  /** @type {Record<string, Tries>} */
  const tries = await tepal.book.meta("pin_tries", {});
  const wait = waitMs(tries[member], tepal.nowMs());
  if (wait > 0) return { ok: false, waitMs: wait };
  /** @type {Verifier[]} */
  const pins = await tepal.book.meta("pins", []);
  const verifier = pins.find((one) => one.member === member);
  const isRight =
    verifier !== undefined &&
    (await tepal.book.pinHash(pin, verifier.salt, verifier.rounds)) === verifier.hash;
  if (!isRight) {
    const counted = { n: (tries[member]?.n ?? 0) + 1, last_ms: tepal.nowMs() };
    await tepal.book.setMeta({ pin_tries: { ...tries, [member]: counted } });
    return { ok: false, waitMs: waitMs(counted, tepal.nowMs()) };
  }
  const { [member]: _, ...others } = tries;
  const row = await tepal.book.get("member", member);
  const session = {
    device: tepal.session.value?.device ?? null,
    establishment: tepal.session.value?.establishment ?? null,
    member: { id: member, ...(row?.shown.fields ?? {}) },
    method: "pin",
  };
  await tepal.book.setMeta({ pin_tries: others, session });
  tepal.session.value = session;
  return { ok: true };
}
