// When a new version may be offered: a worker waits, no form is dirty, no exchange runs. All tabs change over together.
import { computed, signal } from "@preact/signals";

/**
 * @param {{container: ServiceWorkerContainer | undefined, isBusy: () => boolean, reload: () => void}} parts
 */
export function createRelease({ container, isBusy, reload }) {
  const waiting = signal(/** @type {ServiceWorker | null} */ (null));
  const mayOffer = computed(() => waiting.value !== null && !isBusy());

  async function register() {
    if (!container) return;
    const registration = await container.register("/sw.js", { updateViaCache: "none" });
    const look = () => {
      if (registration.waiting && container.controller) waiting.value = registration.waiting;
    };
    registration.addEventListener("updatefound", () => {
      registration.installing?.addEventListener("statechange", look);
    });
    look();
    let hadController = Boolean(container.controller);
    container.addEventListener("controllerchange", () => {
      if (hadController) reload();
      hadController = true;
    });
  }

  return {
    mayOffer,
    register,
    takeOver: () => waiting.value?.postMessage({ say: "take over" }),
  };
}
