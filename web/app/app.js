// The composition root of the browser app: store, sync, network, clock and pages meet here and nowhere else.
import { effect } from "@preact/signals";
import { render } from "preact";
import { seedOf } from "./core/chance.js";
import { loadWords } from "./locale/catalogues.js";
import { readDocument } from "./net/document-file.js";
import { api, getFile, getJson, transport } from "./net/http.js";
import { readPhoto } from "./net/photo-file.js";
import { pinHash } from "./net/pin-hash.js";
import { readCode } from "./net/plot-code.js";
import { App } from "./pages/app.js";
import { NoStoragePage } from "./pages/no-storage.js";
import { wallAt } from "./state/moments.js";
import { createRelease } from "./state/release.js";
import { createSettings } from "./state/settings.js";
import { createTepal } from "./state/tepal.js";
import { openStore } from "./store/dexie-store.js";
import { keepFiles } from "./sync/file-keeping.js";
import { sharedId, uuid7 } from "./sync/ids.js";
import { createLoop } from "./sync/loop.js";
import { save } from "./sync/outbox.js";
import { changesBetween, same } from "./sync/overlay.js";
import { keyOf, readMeta, writeMeta } from "./sync/port.js";
import { unsentFile } from "./sync/unsent-file.js";
import { html } from "./ui/html.js";
import { clockTime, zoneInUse } from "./ui/when.js";
import { words } from "./ui/words.js";

const clock = {
  nowMs: () => Date.now(),
  /** @param {number} n */
  randomBytes: (n) => crypto.getRandomValues(new Uint8Array(n)),
  // by the nursery's clock, as everything is shown; by the device's until the nursery is known
  wall: () => wallAt(Date.now(), zoneInUse()),
};

const store = openStore({
  onChange(kinds) {
    if (kinds.includes("label_file") || kinds.includes("product")) keepAt = 0;
    return tepal.changed(kinds);
  },
  onLost: (error) => {
    tepal.storeProblem.value = String(error);
  },
});

/** @param {string} kind @returns {string | null} */
const signedField = (kind) => tepal.forms.value?.kinds[kind]?.signed_field ?? null;

const loop = createLoop({
  store,
  transport,
  clock,
  signedField,
  status,
  async withLock(work, isTaken) {
    // ifAvailable: nobody waits in a line behind a frozen tab
    if (!navigator.locks) {
      await work();
      return true;
    }
    const how = isTaken ? { steal: true } : { ifAvailable: true };
    try {
      return await navigator.locks.request("tepal-exchange", how, async (lock) => {
        if (lock) await work();
        return lock !== null;
      });
    } catch (error) {
      // another tab took the lock: it sends now, and what this round still brings is stored all the same
      if (error instanceof DOMException && error.name === "AbortError") return false;
      throw error;
    }
  },
  isVisible: () => document.visibilityState === "visible",
  setTimer: (work, ms) => setTimeout(work, ms),
  clearTimer: (id) => clearTimeout(id),
  onState(state) {
    tepal.loop.value = state;
    if (state.phase === "idle") afterExchange();
  },
});

/** What the phone says of itself with an exchange. */
async function status() {
  const estimate = await navigator.storage?.estimate?.();
  const waiting = tepal.sync.value;
  return {
    unsent: waiting.unsent,
    oldest_unsent_ms: waiting.oldestUnsentAt,
    photos_waiting: waiting.photosWaiting,
    release: document.querySelector('meta[name="tepal-release"]')?.getAttribute("content") ?? "",
    stored_bytes: estimate?.usage ?? null,
    quota_bytes: estimate?.quota ?? null,
    device_utc: new Date().toISOString(),
  };
}

// A value every two seconds: an exchange after each would read the outbox again and again while the next one is typed.
const UNHURRIED = new Set(["observation", "assessment"]);
const REST_MS = 2_500;
/** @type {ReturnType<typeof setTimeout> | undefined} */
let resting;
function whenItRests() {
  clearTimeout(resting);
  resting = setTimeout(() => loop.now(), REST_MS);
}

// A form that stands open in two tabs is one form: what is kept in the one is read by the other.
const draftNews = new BroadcastChannel("tepal-drafts");
/** @type {Map<string, Set<() => void>>} */
const draftReaders = new Map();
draftNews.onmessage = ({ data }) => {
  for (const heard of draftReaders.get(data) ?? []) heard();
};

const book = {
  /** @param {string} kind */
  ofKind: (kind) => store.read(["records"], (tx) => tx.ofKind(kind)),
  /** @param {string} kind @param {string} id */
  get: (kind, id) => store.read(["records"], (tx) => tx.get("records", keyOf(kind, id))),
  /** @param {string} kind @param {string[]} ids */
  getMany: (kind, ids) =>
    store.read(["records"], (tx) =>
      tx.bulkGet(
        "records",
        ids.map((id) => keyOf(kind, id)),
      ),
    ),
  /** @param {import("./sync/port.js").Act[]} acts @param {any} [also] */
  async save(acts, also = {}) {
    const rows = await save(store, clock, acts, { ...also, signedField });
    for (const key of [also.draft, also.keep?.key]) if (key !== undefined) draftNews.postMessage(key);
    askToKeep();
    if (acts.every(({ kind }) => UNHURRIED.has(kind))) whenItRests();
    else loop.now();
    return rows;
  },
  /** @param {string} key */
  readDraft: (key) => store.read(["drafts"], async (tx) => (await tx.get("drafts", key))?.value ?? null),
  /** @param {string} key @param {any} value */
  async writeDraft(key, value) {
    await store.write(["drafts"], (tx) => tx.put("drafts", { key, value }));
    draftNews.postMessage(key);
  },
  /** @param {string} key */
  async dropDraft(key) {
    await store.write(["drafts"], (tx) => tx.bulkDelete("drafts", [key]));
    draftNews.postMessage(key);
  },
  /** Hear of what another tab keeps under a key. @param {string} key @param {() => void} heard @returns {() => void} to end it */
  followDraft(key, heard) {
    const readers = draftReaders.get(key) ?? new Set();
    draftReaders.set(key, readers.add(heard));
    return () => readers.delete(heard);
  },
  unsent: () => store.read(["outbox"], (tx) => tx.all("outbox")),
  /** @param {string} savedAt */
  unsentFile: (savedAt) => unsentFile(store, savedAt),
  // read after every save, so in one trip, and never the whole outbox: it holds hundreds of values after an hour without signal
  standing: () =>
    store.read(["outbox", "photos", "meta"], async (tx) => {
      const [n, first, photos, meta] = await Promise.all([
        tx.count("outbox"),
        tx.all("outbox", 1),
        tx.all("photos"),
        tx.bulkGet("meta", ["heard", "server_offset_ms", "revoked", "missing", "head"]),
      ]);
      const [heard, offsetMs, revoked, missing, head] = meta.map((row) => row?.value ?? null);
      return {
        unsent: n,
        oldest: first[0]?.saved_at ?? null,
        photosWaiting: photos.filter((photo) => photo.state === "waiting").length,
        heard,
        link: { offsetMs, revoked: revoked ?? false, missing: missing ?? [], head },
      };
    }),
  recentlySent: () => store.read(["sent"], (tx) => tx.all("sent")),
  photos: () => store.read(["photos"], (tx) => tx.all("photos")),
  /** @param {string} sha256 */
  photoBytes: (sha256) =>
    store.read(["photo_bytes"], async (tx) => (await tx.get("photo_bytes", sha256))?.bytes ?? null),
  /** @param {string} key @param {any} [missing] */
  meta: (key, missing = null) => store.read(["meta"], (tx) => readMeta(tx, key, missing)),
  /** @param {Record<string, any>} values */
  setMeta: (values) =>
    store.write(["meta"], async (tx) => {
      for (const [key, value] of Object.entries(values)) await writeMeta(tx, key, value);
    }),
  exchangeNow: () => loop.now(),
  changesBetween,
  newSeed: () => seedOf(clock.randomBytes(7)),
  newId: () => uuid7(clock.nowMs(), clock.randomBytes(10)),
  sharedId,
  readPhoto,
  readDocument,
  readCode,
  pinHash,
};

const tepal = createTepal({ book, api, nowMs: clock.nowMs, wall: clock.wall });
const settings = createSettings({
  read: (key) => localStorage.getItem(key),
  write: (key, value) => localStorage.setItem(key, value),
  root: document.documentElement,
  prefersDark: matchMedia("(prefers-color-scheme: dark)"),
});
const release = createRelease({
  container: navigator.serviceWorker,
  isBusy: () => tepal.loop.value.phase === "exchanging" || tepal.isDirty.value,
  reload: () => location.reload(),
});

let askedToKeep = false;
function askToKeep() {
  if (askedToKeep) return;
  askedToKeep = true;
  navigator.storage?.persist?.();
}

const PINS_MS = 5 * 60_000;
let pinsAskedAt = 0;

/** Form specs and PIN verifiers follow the server; both are kept for starts without signal. */
async function afterExchange() {
  if (await book.meta("revoked", false)) return;
  const wanted = await book.meta("forms_version");
  if (wanted !== null && wanted !== tepal.forms.value?.version) {
    const got = await api.get("/forms");
    if (got.ok) {
      tepal.forms.value = got.reply;
      await book.setMeta({ forms: got.reply });
    }
  }
  if (clock.nowMs() - pinsAskedAt > PINS_MS) {
    pinsAskedAt = clock.nowMs();
    const got = await api.get("/pins");
    if (got.ok) await book.setMeta({ pins: got.reply.pins });
  }
  await keepDocuments();
}

const KEEP_AGAIN_MS = 5 * 60_000;
let isKeeping = false;
let keepAt = 0; // when to look next; Infinity: not before a product or a label changes

/** Labels and safety data sheets for reading without signal: looked after where their records changed, and again after a
 * while where something could not be fetched. */
async function keepDocuments() {
  if (isKeeping || clock.nowMs() < keepAt) return;
  isKeeping = true;
  keepAt = Number.POSITIVE_INFINITY;
  try {
    const kept = await keepFiles(store, {
      getFile,
      async digest(bytes) {
        const found = await crypto.subtle.digest("SHA-256", bytes);
        return [...new Uint8Array(found)].map((b) => b.toString(16).padStart(2, "0")).join("");
      },
      async freeBytes() {
        const estimate = await navigator.storage?.estimate?.();
        return estimate?.quota === undefined ? null : estimate.quota - (estimate.usage ?? 0);
      },
    });
    if (kept.left > 0) keepAt = clock.nowMs() + KEEP_AGAIN_MS;
    if (!same(kept, tepal.files.value)) {
      tepal.files.value = kept;
      await book.setMeta({ files_kept: kept });
    }
  } finally {
    isKeeping = false;
  }
}

effect(() => {
  const language = settings.language.value;
  loadWords(language, getJson).then((loaded) => {
    words.value = loaded;
  });
});

/** What this phone keeps; false where the browser refuses to keep anything. */
async function readKept() {
  try {
    tepal.forms.value = await book.meta("forms");
    tepal.session.value = await book.meta("session");
    tepal.files.value = await book.meta("files_kept");
    await tepal.refresh();
    return true;
  } catch {
    return false;
  }
}

async function start() {
  const isKept = await readKept();
  words.value = await loadWords(settings.language.value, getJson);
  const root = /** @type {HTMLElement} */ (document.getElementById("app"));
  root.textContent = "";
  if (!isKept) {
    // nothing may be started that could not be kept: no sign-in, no form
    render(html`<${NoStoragePage} />`, root);
    return;
  }
  render(html`<${App} tepal=${tepal} settings=${settings} release=${release} />`, root);
  // the first use of the calendar costs a slow phone 60 ms: now, not while the page after the sign-in is drawn
  setTimeout(() => clockTime(clock.nowMs()), 0);
  if (tepal.session.value === null) {
    const got = await api.get("/session");
    if (got.ok) tepal.isSetUp.value = got.reply.is_set_up;
  }
  loop.now();
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") loop.now();
  });
  window.addEventListener("online", () => loop.now());
  setInterval(() => {
    tepal.nowTick.value = clock.nowMs();
  }, 30_000);
  await release.register();
}

start();
