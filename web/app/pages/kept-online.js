// An online view whose last answer stays on this device: read-only, and named as kept.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { useTepal } from "../state/context.js";
import { useOnline } from "./online.js";

/** @param {string} path */
const keyOf = (path) => `online ${path}`;

/**
 * As `useOnline`, with `kept` true where the reply is the last one this device heard.
 * @param {string | null} path @param {unknown} [moved]
 * @returns {import("./online.js").Online & { isKept: boolean }}
 */
export function useKeptOnline(path, moved) {
  const tepal = useTepal();
  const online = useOnline(path, moved);
  const kept = useSignal({ path, reply: /** @type {any} */ (null) });
  useEffect(() => {
    if (path === null) return;
    if (online.reply !== null) tepal.book.setMeta({ [keyOf(path)]: online.reply });
    else if (online.failed)
      tepal.book.meta(keyOf(path)).then((/** @type {any} */ reply) => {
        kept.value = { path, reply };
      });
  }, [path, online.reply, online.failed]);
  if (online.reply === null && kept.value.path === path && kept.value.reply !== null)
    return { ...online, reply: kept.value.reply, isKept: true };
  return { ...online, isKept: false };
}
