// How pages reach the app's state.
import { useSignal } from "@preact/signals";
import { createContext } from "preact";
import { useContext, useEffect, useRef } from "preact/hooks";

/** @typedef {import("./tepal.js").Tepal} Tepal */
/** @typedef {import("../sync/port.js").RecordRow} RecordRow */

export const TepalContext = createContext(/** @type {Tepal | null} */ (null));

/** @returns {Tepal} */
export function useTepal() {
  const tepal = useContext(TepalContext);
  if (tepal === null) throw new Error("no Tepal context around this page");
  return tepal;
}

/**
 * The records of a kind; null while the phone is still reading them.
 * @param {string} kind
 * @returns {RecordRow[] | null}
 */
export const useRecords = (kind) => useTepal().list(kind).value;

/**
 * One record; undefined while reading, null where this phone has none.
 * @param {string} kind @param {string} id
 * @returns {RecordRow | null | undefined}
 */
export function useRecord(kind, id) {
  const rows = useRecords(kind);
  if (rows === null) return undefined;
  return rows.find((row) => row.id === id) ?? null;
}

const DRAFT_MS = 300;

/**
 * A form's value that keeps itself: 300 ms after each change, and at once when asked to (before the camera opens).
 * @template T
 * @param {string} key @param {T} initial
 * @returns {{value: T, ready: boolean, merge: (more: Partial<T>) => void,
 *   withMore: (more: Partial<T>) => {key: string, value: T}, keep: () => Promise<unknown>, clear: () => Promise<unknown>,
 *   together: (more: Partial<T>, save: (keep: {key: string, value: T}) => Promise<unknown>) => Promise<void>}}
 *   withMore  The draft as it will be, for the transaction of a save after which the form goes on.
 *   together  Such a save: `more` is in its transaction, and in the form once that is complete.
 *   merge  Puts changed members over the value as it is now, also after an await.
 */
export function useDraft(key, initial) {
  const { book, storeProblem, dirtyForms } = useTepal();
  const value = useSignal(initial);
  const ready = useSignal(false);
  const timer = useRef(/** @type {ReturnType<typeof setTimeout> | undefined} */ (undefined));
  const isDirty = useRef(false);
  const isSaving = useRef(false);

  const keep = async () => {
    clearTimeout(timer.current);
    if (!isDirty.current || isSaving.current) return;
    settled();
    try {
      await book.writeDraft(key, value.peek());
      storeProblem.value = null;
    } catch (error) {
      isDirty.current = true;
      dirtyForms.value += 1;
      storeProblem.value = String(error);
    }
  };

  /** The form holds nothing that is not kept. */
  function settled() {
    if (isDirty.current) dirtyForms.value -= 1;
    isDirty.current = false;
  }

  useEffect(() => {
    let isHere = true;
    book.readDraft(key).then((kept) => {
      if (!isHere) return;
      if (kept !== null) value.value = { ...initial, ...kept };
      ready.value = true;
    });
    const unfollow = book.followDraft(key, async () => {
      const before = value.peek();
      const kept = await book.readDraft(key);
      // HAZARD: what was read may be older than what this tab has typed or saved since; that stands
      const isOwn = isDirty.current || isSaving.current || value.peek() !== before;
      if (isHere && !isOwn) value.value = { ...initial, ...kept };
    });
    const hidden = () => document.visibilityState === "hidden" && keep();
    document.addEventListener("visibilitychange", hidden);
    return () => {
      isHere = false;
      unfollow();
      document.removeEventListener("visibilitychange", hidden);
      keep();
    };
  }, [key]);

  return {
    value: value.value,
    ready: ready.value,
    merge(more) {
      value.value = { ...value.peek(), ...more };
      if (!isDirty.current) dirtyForms.value += 1;
      isDirty.current = true;
      clearTimeout(timer.current);
      timer.current = setTimeout(keep, DRAFT_MS);
    },
    withMore: (more) => ({ key, value: { ...value.peek(), ...more } }),
    keep,
    async together(more, save) {
      const before = value.peek();
      // HAZARD: what the form was a moment ago must not be written after this transaction and over its draft; a
      // phone that dies then would wake up before the start that is on file, and it would be started twice
      isSaving.current = true;
      try {
        await save({ key, value: { ...before, ...more } });
        if (value.peek() === before) {
          clearTimeout(timer.current);
          settled();
        }
        value.value = { ...value.peek(), ...more };
      } finally {
        isSaving.current = false;
        if (isDirty.current) {
          clearTimeout(timer.current);
          timer.current = setTimeout(keep, DRAFT_MS);
        }
      }
    },
    async clear() {
      clearTimeout(timer.current);
      settled();
      value.value = initial;
      await book.dropDraft(key);
    },
  };
}
