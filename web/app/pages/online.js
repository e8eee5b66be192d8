// Views of the whole book that only the office server has. A page shows what came, what failed, and asks again.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { useTepal } from "../state/context.js";

/**
 * @typedef {object} Online
 * @property {any} reply     What the server last answered for this path; null until it did.
 * @property {any} failed    The failed request (`failureText` has its words); null while asking or after an answer.
 * @property {boolean} isAsking
 * @property {() => void} again
 */

/**
 * Ask the server for a view: when the page opens, when the path changes, when this phone's entries have gone out, and
 * when `moved` changes (such as the revision of the record looked at).
 * @param {string | null} path  Below /api/v1; null asks nothing.
 * @param {unknown} [moved]
 * @returns {Online}
 */
export function useOnline(path, moved) {
  const tepal = useTepal();
  const state = useSignal({ path, reply: /** @type {any} */ (null), failed: /** @type {any} */ (null) });
  const asked = useSignal(0);
  const { unsent } = tepal.sync.value;

  useEffect(() => {
    if (path === null) return;
    let isHere = true;
    const kept = state.value.path === path ? state.value.reply : null;
    state.value = { path, reply: kept, failed: null };
    tepal.api.get(path).then((got) => {
      if (isHere) state.value = { path, reply: got.ok ? got.reply : kept, failed: got.ok ? null : got };
    });
    return () => {
      isHere = false;
    };
  }, [path, unsent, moved, asked.value]);

  const { reply, failed } = state.value.path === path ? state.value : { reply: null, failed: null };
  return {
    reply,
    failed,
    isAsking: path !== null && reply === null && failed === null,
    again: () => {
      asked.value += 1;
    },
  };
}

/** @type {MediaQueryList | undefined} asked once: a page asks with every drawing */
let wide;

/** A screen of the office: wide enough for a table. Follows the window. */
export function useWide() {
  wide ??= matchMedia("(min-width: 60em)");
  const query = wide;
  const isWide = useSignal(query.matches);
  useEffect(() => {
    const follow = () => {
      isWide.value = query.matches;
    };
    query.addEventListener("change", follow);
    return () => query.removeEventListener("change", follow);
  }, []);
  return isWide.value;
}
