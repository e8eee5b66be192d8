// The only module that calls fetch. What the network does comes back as a value, never as a throw.

/** @typedef {import("../sync/port.js").Sent} Sent */

const ROUND_MS = 30_000;
const FILE_MS = 300_000; // 20 MB at half a megabit a second
const DOWNLOAD_MS = 10 * 60_000; // a book with its photos
const API = "/api/v1";

/** @param {number} status @returns {"signed-out" | "busy" | "refused"} */
function causeOf(status) {
  if (status === 401) return "signed-out";
  if (status === 409 || status === 413 || status === 429 || status >= 500) return "busy";
  return "refused";
}

/**
 * @param {string} path @param {RequestInit} init @param {number} [limitMs]
 * @returns {Promise<Sent & {status?: number, body?: any}>}
 */
async function send(path, init, limitMs = ROUND_MS) {
  let response;
  let body;
  try {
    response = await fetch(`${API}${path}`, {
      credentials: "same-origin",
      cache: "no-store",
      redirect: "error",
      signal: AbortSignal.timeout(limitMs),
      ...init,
    });
    const type = response.headers.get("content-type") ?? "";
    // a captive portal answers 200 with its own page: that is no answer of our server
    if (!type.includes("application/json")) return offline("not_our_server");
    body = await response.json();
  } catch (error) {
    const name = error instanceof Error ? error.name : "";
    return offline(name === "TimeoutError" ? "timed_out" : "no_connection");
  }
  if (response.ok) return { ok: true, reply: body };
  const code = typeof body?.code === "string" ? body.code : `http.${response.status}`;
  return { ok: false, cause: causeOf(response.status), code, status: response.status, body };
}

/** @param {string} code @returns {Sent} */
const offline = (code) => ({ ok: false, cause: "offline", code });

/** @param {Uint8Array} bytes */
async function gzip(bytes) {
  const stream = new Blob([/** @type {BlobPart} */ (bytes)])
    .stream()
    .pipeThrough(new CompressionStream("gzip"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

/** @param {any} body */
async function jsonRequest(body) {
  const bytes = new TextEncoder().encode(JSON.stringify(body));
  const small = bytes.length < 2048 || typeof CompressionStream === "undefined";
  return {
    method: "POST",
    headers: {
      "Content-Type": "application/json",
      ...(small ? {} : { "Content-Encoding": "gzip" }),
    },
    body: /** @type {BodyInit} */ (small ? bytes : await gzip(bytes)),
  };
}

/** sync's TransportPort. */
export const transport = {
  /** @param {any} body */
  exchange: async (body) => send("/exchange", await jsonRequest(body)),

  /** @param {string} sha256 @param {number} n @param {Uint8Array} piece */
  putPiece: (sha256, n, piece) =>
    send(`/photos/${sha256}/${n}`, {
      method: "PUT",
      headers: { "Content-Type": "application/octet-stream" },
      body: /** @type {BodyInit} */ (piece),
    }),
};

/**
 * A stored file's bytes, whole; null where the office did not give them.
 * @param {string} sha256
 */
export async function getFile(sha256) {
  try {
    const response = await fetch(`${API}/photos/${sha256}`, {
      credentials: "same-origin",
      redirect: "error",
      signal: AbortSignal.timeout(FILE_MS),
    });
    return response.ok ? await response.arrayBuffer() : null;
  } catch {
    return null; // offline, cut off or too slow: the next exchange asks again
  }
}

/** Online views and sign-in. */
export const api = {
  /** @param {string} path */
  get: (path) => send(path, { method: "GET" }),
  /** @param {string} path @param {any} body */
  post: async (path, body) => send(path, await jsonRequest(body)),
  /** Ask for a file and hand it to the browser to keep. @param {string} path @param {string} name @returns {Promise<any>} */
  async download(path, name) {
    let response;
    try {
      response = await fetch(`${API}${path}`, {
        ...(await jsonRequest({})),
        credentials: "same-origin",
        cache: "no-store",
        signal: AbortSignal.timeout(DOWNLOAD_MS),
      });
      if (!response.ok) {
        const body = await response.json();
        return { ok: false, cause: causeOf(response.status), code: body.code, status: response.status, body };
      }
      const url = URL.createObjectURL(await response.blob());
      const link = document.createElement("a");
      link.href = url;
      link.download = name;
      link.click();
      URL.revokeObjectURL(url);
    } catch (error) {
      return offline(error instanceof Error && error.name === "TimeoutError" ? "timed_out" : "no_connection");
    }
    return { ok: true, reply: null };
  },
  /** Where a paper or a photo is, for a link or an <img>. @param {string} path */
  url: (path) => `${API}${path}`,
};

/** A file of the app itself, such as a catalogue. @param {URL} url @returns {Promise<Record<string, string>>} */
export async function getJson(url) {
  const response = await fetch(url);
  if (!response.ok) throw new Error(`${url.pathname}: ${response.status}`);
  return response.json();
}
