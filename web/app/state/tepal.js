// The app's state: who is here, what is on this phone, what the office last said. Signals that pages read, and the
// acts that pages may do. Handed its book (store and sync), its network and its clock; knows none of them itself.
import { batch, computed, signal } from "@preact/signals";

/** @typedef {import("../sync/port.js").RecordRow} RecordRow */
/** @typedef {import("../sync/port.js").EntryRow} EntryRow */
/** @typedef {import("../sync/port.js").PhotoRow} PhotoRow */
/** @typedef {import("../sync/port.js").Act} Act */
/** @typedef {import("../sync/port.js").Sent} Sent */

/**
 * Who is here. `member` stays on a shared phone when the password session has ended: it is the author's mark.
 * `method` says how the person showed who they are.
 * @typedef {{device: any, member: any, establishment: any, method: string | null} | null} Session
 *
 * @typedef {object} BookPort
 * @property {(kind: string) => Promise<RecordRow[]>} ofKind
 * @property {(kind: string, id: string) => Promise<RecordRow | undefined>} get
 * @property {(acts: Act[], also?: {draft?: string, keep?: {key: string, value: any}, photos?: (PhotoRow & {bytes: ArrayBuffer})[]}) => Promise<EntryRow[]>} save
 * @property {(key: string) => Promise<any>} readDraft
 * @property {(key: string, value: any) => Promise<unknown>} writeDraft
 * @property {(key: string) => Promise<unknown>} dropDraft
 * @property {(key: string, heard: () => void) => () => void} followDraft  Calls when another tab keeps or drops it; ends by what it returns.
 * @property {(kind: string, ids: string[]) => Promise<(RecordRow | undefined)[]>} getMany
 * @property {() => Promise<EntryRow[]>} unsent
 * @property {() => Promise<{unsent: number, oldest: string | null, photosWaiting: number,
 *   heard: {server: string, device_ms: number} | null,
 *   link: {offsetMs: number | null, revoked: boolean, missing: number[][], head: any}}>} standing
 * @property {(savedAt: string) => Promise<string[]>} unsentFile  What waits here, entries and photos, as the pieces of a file.
 * @property {(...parts: (string | number)[]) => string} sharedId
 * @property {(picture: any) => Promise<string | null>} readCode  What a QR code in a picture or a camera's frame says.
 * @property {() => Promise<EntryRow[]>} recentlySent
 * @property {() => Promise<PhotoRow[]>} photos
 * @property {(sha256: string) => Promise<ArrayBuffer | null>} photoBytes
 * @property {(key: string, missing?: any) => Promise<any>} meta
 * @property {(values: Record<string, any>) => Promise<unknown>} setMeta
 * @property {() => Promise<any>} exchangeNow
 * @property {(seen: Record<string, any>, wanted: Record<string, any>) => Record<string, {was: any, to: any}>} changesBetween
 * @property {() => string} newId
 * @property {() => number} newSeed  For a layout that is drawn by chance on the phone; below 2**53.
 * @property {(pin: string, saltHex: string, rounds: number) => Promise<string>} pinHash
 * @property {(file: Blob, burnt?: string[]) => Promise<Omit<PhotoRow, "of_id" | "saved_at"> & {bytes: ArrayBuffer, fields: Record<string, any>}>} readPhoto
 * @property {(file: File) => Promise<Omit<PhotoRow, "of_id" | "saved_at"> & {bytes: ArrayBuffer, fields: Record<string, any>}>} readDocument
 *
 * @typedef {object} ApiPort
 * @property {(path: string) => Promise<any>} get
 * @property {(path: string, body: any) => Promise<any>} post
 * @property {(path: string) => string} url
 * @property {(path: string, name: string) => Promise<any>} download
 */

/**
 * @param {{book: BookPort, api: ApiPort, nowMs: () => number,
 *   wall: () => {local: string, offset_min: number, zone: string}}} parts
 */
export function createTepal({ book, api, nowMs, wall }) {
  /** @type {import("@preact/signals").Signal<Session>} */
  const session = signal(null);
  const isSetUp = signal(true);
  const forms = signal(/** @type {any} */ (null));
  const nowTick = signal(nowMs());
  const loop = signal({ phase: "idle", code: /** @type {string | null} */ (null) });
  const counts = signal({ unsent: 0, oldestUnsentAt: /** @type {number | null} */ (null), photosWaiting: 0 });
  const heard = signal(/** @type {{server: string, device_ms: number} | null} */ (null));
  const link = signal({
    offsetMs: /** @type {number | null} */ (null),
    revoked: false,
    missing: /** @type {number[][]} */ ([]),
    head: /** @type {any} */ (null),
  });
  const storeProblem = signal(/** @type {string | null} */ (null));
  /** What is kept of labels and safety data sheets; null until this phone looked. */
  const files = signal(/** @type {import("../sync/file-keeping.js").KeptFiles | null} */ (null));
  /** How many forms hold changes that are not saved yet. */
  const dirtyForms = signal(0);

  /** Grows with every write of observations. A trial has thousands: they are read by their ids, never as a list. */
  const observed = signal(0);

  /** @type {Map<string, import("@preact/signals").Signal<RecordRow[] | null>>} */
  const lists = new Map();

  /** @param {string} kind */
  function list(kind) {
    let found = lists.get(kind);
    if (!found) {
      found = signal(/** @type {RecordRow[] | null} */ (null));
      lists.set(kind, found);
      setTimeout(() => reload(kind), 0); // a page asks for eight kinds while it is drawn: the phone draws first
    }
    return found;
  }

  /** @param {string} kind */
  async function reload(kind) {
    const rows = await book.ofKind(kind);
    const target = lists.get(kind);
    if (target) target.value = rows.filter((row) => row.shown !== null);
  }

  /** After each complete write, in this tab or another. @param {string[]} kinds */
  async function changed(kinds) {
    if (kinds.includes("observation")) observed.value += 1;
    await Promise.all([...kinds.filter((kind) => lists.has(kind)).map(reload), refresh()]);
  }

  async function refresh() {
    const now = await book.standing();
    batch(() => {
      const oldestUnsentAt = now.oldest === null ? null : Date.parse(now.oldest);
      replace(counts, { unsent: now.unsent, oldestUnsentAt, photosWaiting: now.photosWaiting });
      replace(heard, now.heard);
      replace(link, now.link);
      if (now.link.revoked) {
        session.value = null; // the kept one is gone with the book (sync/revoked.js)
        files.value = null;
      }
      nowTick.value = nowMs();
    });
  }

  /** Every write ends here: what stayed as it was must not draw a page again.
   * @template T @param {import("@preact/signals").Signal<T>} target @param {T} value */
  function replace(target, value) {
    if (JSON.stringify(target.peek()) !== JSON.stringify(value)) target.value = value;
  }

  /** The clock on the wall, for what a page says of today: a new value once a minute. */
  const minute = computed(() => Math.floor(nowTick.value / 60_000));

  /** @param {string} kind */
  const open = (kind) =>
    (list(kind).value ?? []).filter((row) => row.shown.fields.decision === undefined).length;

  const sync = computed(() => ({
    phase: /** @type {"idle" | "exchanging" | "offline" | "error"} */ (
      storeProblem.value !== null || loop.value.phase === "store-failed"
        ? "error"
        : ["idle", "exchanging"].includes(loop.value.phase)
          ? loop.value.phase
          : loop.value.phase === "elsewhere"
            ? "exchanging"
            : "offline"
    ),
    code: loop.value.code,
    cause: loop.value.phase,
    ...counts.value,
    // without the forms nothing can be written down here: the line does not say yet that all is well
    heardAt: forms.value === null ? null : (heard.value?.server ?? null),
    conflicts: open("conflict"),
    held: open("held"),
    ...link.value,
  }));

  /** @param {string} kind */
  const formVersion = (kind) => forms.value?.kinds[kind]?.version ?? 1;

  function author() {
    const member = session.value?.member;
    if (!member) throw new Error("nobody is signed in on this phone");
    return member.id;
  }

  /**
   * @param {string} kind @param {string} record @param {string} action
   * @param {Record<string, {was: any, to: any}>} changes @param {string | null} [reason]
   * @returns {Act}
   */
  const act = (kind, record, action, changes, reason = null) => ({
    kind,
    record,
    action,
    changes,
    reason,
    member: author(),
    form_version: formVersion(kind),
  });

  /** The acts of pages: each resolves only after the strict transaction is complete. */
  const save = {
    /** @param {string} kind @param {Record<string, any>} fields
     * @param {{id?: string, draft?: string, keep?: {key: string, value: any}}} [also] */
    async create(kind, fields, also = {}) {
      const { id = book.newId(), ...together } = also;
      await book.save([act(kind, id, "create", book.changesBetween({}, fields))], together);
      return id;
    },
    /** `seen` is the row the person looked at. @param {RecordRow} seen @param {Record<string, any>} wanted */
    async change(seen, wanted, also = {}, reason = /** @type {string | null} */ (null)) {
      const changes = book.changesBetween(seen.shown.fields, wanted);
      if (Object.keys(changes).length > 0) {
        await book.save([act(seen.kind, seen.id, "change", changes, reason)], also);
      }
    },
    /** @param {RecordRow} seen @param {Record<string, any>} wanted @param {string} reason */
    async amend(seen, wanted, reason, also = {}) {
      const changes = book.changesBetween(seen.shown.fields, wanted);
      if (Object.keys(changes).length > 0) {
        await book.save([act(seen.kind, seen.id, "amend", changes, reason)], also);
      }
    },
    /** @param {RecordRow} seen @param {string} reason */
    void: (seen, reason) => book.save([act(seen.kind, seen.id, "void", {}, reason)]),
    /** @param {RecordRow} seen @param {any} decision @param {string | null} [reason] */
    decide: (seen, decision, reason = null) =>
      book.save([act(seen.kind, seen.id, "decide", { decision: { was: null, to: decision } }, reason)]),
    /** Several acts of one moment. @param {Act[]} acts @param {{draft?: string, keep?: {key: string, value: any}, photos?: (PhotoRow & {bytes: ArrayBuffer})[]}} [also] */
    all: (acts, also) => book.save(acts, also),
    act,
  };

  return {
    session,
    isSetUp,
    forms,
    loop,
    sync,
    heard,
    nowTick,
    minute,
    storeProblem,
    dirtyForms,
    files,
    isDirty: computed(() => dirtyForms.value > 0),
    list,
    observed,
    changed,
    refresh,
    save,
    book,
    api,
    nowMs,
    wall,
    /** Server time now, by the last measured offset; device time where none was measured. */
    serverNowMs: () => nowMs() + (link.value.offsetMs ?? 0),
  };
}

/** @typedef {ReturnType<typeof createTepal>} Tepal */
