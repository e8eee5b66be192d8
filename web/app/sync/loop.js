// When exchanges happen: after a save, at start, when the page becomes visible, when the network
// says it is back, on the button, and on a timer while something waits. One round at a time.

import { exchangeRound } from "./exchange.js";
import { dropOldBytes, markStored, uploadPhotos } from "./photo-upload.js";

/** @typedef {import("./port.js").StorePort} StorePort */
/** @typedef {import("./port.js").TransportPort} TransportPort */
/** @typedef {import("./port.js").ClockPort} ClockPort */
/** @typedef {import("./exchange.js").RoundResult} RoundResult */

/**
 * @typedef {{phase: "idle" | "exchanging" | "offline" | "signed-out" | "busy" | "refused" |
 *   "elsewhere" | "store-failed", code: string | null}} LoopState
 */

const FIRST_WAIT_MS = 2_000;
const LONGEST_WAIT_MS = 60_000;
// A round is cut at 30 s; a tab that holds the lock for longer is frozen and would hold it for ever. To take
// the lock from a tab that is alive after all costs a request and nothing else: each entry counts once.
const PATIENCE_MS = 30_000;
const LOOK_MS = 10_000; // the office, while visible: a no-op exchange costs one query

/**
 * @param {{store: StorePort, transport: TransportPort, clock: ClockPort,
 *   signedField: (kind: string) => string | null,
 *   status: () => Promise<Record<string, unknown> | null>,
 *   withLock: (work: () => Promise<void>, isTaken: boolean) => Promise<boolean>,
 *   isVisible: () => boolean, setTimer: (work: () => void, ms: number) => unknown,
 *   clearTimer: (id: any) => void, onState: (state: LoopState) => void}} parts
 *   `withLock` runs the work under the cross-tab lock and says whether it could have it; `isTaken`: even
 *   where another tab holds it.
 */
export function createLoop(parts) {
  let running = false;
  let again = false;
  let failures = 0;
  /** @type {unknown} */
  let timer = null;
  /** @type {number | null} since when another tab has had the lock at every look */
  let elsewhereSince = null;

  async function nudge() {
    if (running) {
      again = true;
      return;
    }
    running = true;
    if (timer !== null) parts.clearTimer(timer);
    timer = null;
    try {
      await drain();
    } catch (error) {
      failures += 1;
      parts.onState({ phase: "store-failed", code: String(error) });
    } finally {
      running = false;
      plan();
    }
  }

  /** Rounds until nothing is left to send or fetch; the lock is held for one round at a time. */
  async function drain() {
    parts.onState({ phase: "exchanging", code: null });
    let result;
    /** @type {import("./exchange.js").Asked | null} */
    let ahead = null;
    do {
      again = false;
      result = await lockedRound(ahead);
      if (result === null) {
        parts.onState({ phase: "elsewhere", code: null });
        return;
      }
      if (!result.ok) {
        failures += 1;
        parts.onState({ phase: result.cause, code: result.code });
        return;
      }
      if (result.acknowledged > 0) failures = 0;
      ahead = result.ahead;
    } while (again || result.more || (result.left > 0 && result.acknowledged > 0));
    await takePhotos(result);
  }

  /** One round under the cross-tab lock; null where another tab has it.
   * @param {import("./exchange.js").Asked | null} ahead */
  async function lockedRound(ahead) {
    /** @type {RoundResult[]} */
    const results = [];
    const had = await locked(async () => {
      results.push(await exchangeRound(parts, ahead));
    });
    return had ? results[0] : null;
  }

  /** @param {() => Promise<void>} work */
  async function locked(work) {
    const nowMs = parts.clock.nowMs();
    const isTaken = elsewhereSince !== null && nowMs - elsewhereSince >= PATIENCE_MS;
    const had = await parts.withLock(work, isTaken);
    elsewhereSince = had ? null : (elsewhereSince ?? nowMs);
    return had;
  }

  /** Photos follow once the entries that announce them are in. @param {Extract<RoundResult, {ok: true}>} result */
  async function takePhotos(result) {
    let all = true;
    await locked(async () => {
      await markStored(parts.store, result.photosStored, result.now);
      all = await uploadPhotos(parts.store, parts.transport, result.photosOwed, result.now);
      if (result.photosStored.length > 0) await dropOldBytes(parts.store, result.now);
    });
    failures = all && result.left === 0 ? 0 : failures + 1;
    parts.onState({ phase: "idle", code: null });
  }

  /** Look again soon while something went wrong, else at the office's pace while visible. */
  function plan() {
    if (again) {
      again = false;
      timer = parts.setTimer(nudge, 0);
      return;
    }
    const jitter = 0.75 + (parts.clock.randomBytes(1)[0] / 255) * 0.5;
    const backoff = Math.min(FIRST_WAIT_MS * 2 ** (failures - 1), LONGEST_WAIT_MS) * jitter;
    if (failures === 0 && !parts.isVisible()) return;
    const left =
      elsewhereSince === null ? LOOK_MS * jitter : elsewhereSince + PATIENCE_MS - parts.clock.nowMs();
    timer = parts.setTimer(nudge, failures === 0 ? Math.max(0, Math.min(LOOK_MS * jitter, left)) : backoff);
  }

  return {
    nudge,
    /** A person or the system asks: forget the backoff and go. */
    now() {
      failures = 0;
      return nudge();
    },
    stop() {
      if (timer !== null) parts.clearTimer(timer);
      timer = null;
    },
  };
}
