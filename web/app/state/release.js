// A new version waits until the person takes it, and is offered only when no form is dirty and no exchange runs.
// Everything from outside (worker container, reload, channel) is handed in by app.js.
import { computed, signal } from "@preact/signals";

/**
 * Watch for a new version.
 * @param {{
 *   workers: ServiceWorkerContainer,
 *   channel: BroadcastChannel,
 *   reload: () => void,
 *   isDirty: () => boolean,
 *   isExchanging: () => boolean,
 * }} outside
 *   channel       All tabs of this app share it: they save their drafts and reload together.
 *   isDirty       Reads a signal: some form holds what is not yet saved.
 *   isExchanging  Reads a signal: an exchange runs.
 */
export function watchRelease({ workers, channel, reload, isDirty, isExchanging }) {
  const waiting = signal(/** @type {ServiceWorker | null} */ (null));
  let isTaken = false;

  /** @param {ServiceWorkerRegistration} registration */
  function follow(registration) {
    const note = () => {
      // without a controller this is the first install: there is no old version to replace
      if (registration.waiting && workers.controller) waiting.value = registration.waiting;
    };
    note();
    registration.addEventListener("updatefound", () => {
      registration.installing?.addEventListener("statechange", note);
    });
  }

  workers.addEventListener("controllerchange", () => {
    if (isTaken) reload();
  });
  channel.addEventListener("message", (event) => {
    if (event.data === "take over") isTaken = true;
  });

  return {
    /** Whether the bar may stand on the page now. */
    isOffered: computed(() => waiting.value !== null && !isDirty() && !isExchanging()),
    /** Register the worker; resolves when the browser has it. */
    async start() {
      // updateViaCache "none": the worker's own scripts are asked for from the server as well
      follow(await workers.register("/sw.js", { updateViaCache: "none" }));
    },
    /** The person agreed: this and every other tab switch together. */
    take() {
      isTaken = true;
      channel.postMessage("take over");
      waiting.value?.postMessage({ say: "take over" });
    },
  };
}
