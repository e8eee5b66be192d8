// A label or safety data sheet from the person's files -> bytes with their digest, checked as the office will check them:
// what it would refuse is refused here, with words, before anything is saved.
import { readPhoto } from "./photo-file.js";

export const MOST_BYTES = 20_000_000; // of one file; the form's bound too
const PICTURE_PX = 2560; // small print must stay readable
const ENDS = 1024; // bytes in which a PDF's head and end may stand
const LONGEST_NAME = 120;

/** A file that can't be kept; `code` has its words in the catalogue. */
class DocumentError extends Error {
  /** @param {string} code @param {Record<string, string | number>} [params] */
  constructor(code, params = {}) {
    super(code);
    this.code = code;
    this.params = params;
  }
}

/**
 * The bare name of a file: no folders, nothing that a system treats specially; never empty.
 * @param {string} name @param {string} suffix
 */
export function bareName(name, suffix) {
  const last = name.split(/[/\\]/).pop() ?? "";
  const stem = last
    .normalize("NFC")
    // biome-ignore lint/suspicious/noControlCharactersInRegex: these are what is taken out
    .replace(/[\u0000-\u001f\u007f:*?"<>|]/g, "")
    .replace(/^\.+/, "")
    .replace(/\.[A-Za-z0-9]{1,5}$/, "")
    .trim();
  return `${(stem || "label").slice(0, LONGEST_NAME - suffix.length - 1)}.${suffix}`;
}

/**
 * Whether bytes are a PDF document: its head, and an end that leads to a cross-reference section. Twin of `check_pdf` in
 * server/tepal/photos/intake.py, which names the parts of the standard.
 * @param {Uint8Array} bytes
 */
function isPdf(bytes) {
  const text = (/** @type {number} */ from, /** @type {number} */ to) =>
    String.fromCharCode(...bytes.subarray(Math.max(0, from), to));
  const head = /%PDF-[12]\.[0-9]/.exec(text(0, ENDS));
  const tail = /startxref\s+([0-9]{1,10})\s+%%EOF\s*$/.exec(
    text(bytes.length - ENDS, bytes.length).replace(/\0+$/, ""),
  );
  if (!head || !tail) return false;
  const offset = Number(tail[1]);
  return [offset, offset + head.index].some((start) =>
    /^\s*(?:xref\b|[0-9]{1,10}\s+[0-9]{1,5}\s+obj\b)/.test(text(start, start + 64)),
  );
}

/**
 * @param {File} file  As chosen: a PDF, or a picture of the label.
 * @returns {Promise<{sha256: string, bytes: ArrayBuffer, size: number, state: "waiting", stored_at: null, problem: null,
 *   is_kept: true, fields: Record<string, any>}>}
 * @throws {DocumentError} `photos.file_too_large`, `photos.not_a_pdf`, `photos.not_a_picture`, `photos.file_empty`
 */
export async function readDocument(file) {
  if (file.size === 0) throw new DocumentError("photos.file_empty");
  if (file.size > MOST_BYTES) {
    throw new DocumentError("photos.file_too_large", {
      mb: Math.ceil(file.size / 1e6),
      most: MOST_BYTES / 1e6,
    });
  }
  if (file.type.startsWith("image/")) return readPicture(file);
  const bytes = await file.arrayBuffer();
  if (!isPdf(new Uint8Array(bytes))) throw new DocumentError("photos.not_a_pdf");
  const digest = await crypto.subtle.digest("SHA-256", bytes);
  const sha256 = [...new Uint8Array(digest)].map((b) => b.toString(16).padStart(2, "0")).join("");
  return kept(sha256, bytes, "application/pdf", bareName(file.name, "pdf"));
}

/** @param {File} file */
async function readPicture(file) {
  try {
    const photo = await readPhoto(file, [], PICTURE_PX);
    return kept(photo.sha256, photo.bytes, "image/jpeg", bareName(file.name, "jpg"));
  } catch {
    throw new DocumentError("photos.not_a_picture");
  }
}

/** @param {string} sha256 @param {ArrayBuffer} bytes @param {string} media_type @param {string} file_name */
function kept(sha256, bytes, media_type, file_name) {
  const size = bytes.byteLength;
  return {
    sha256,
    bytes,
    size,
    state: /** @type {"waiting"} */ ("waiting"),
    stored_at: null,
    problem: null,
    is_kept: /** @type {true} */ (true),
    fields: { sha256, size, media_type, file_name },
  };
}
