// A picture from the camera -> a JPEG of at most 1,600 px, upright, with the digests of both.

const LONGEST_PX = 1600;
const QUALITY = 0.82;

/** @param {ArrayBuffer} bytes */
async function sha256(bytes) {
  const digest = await crypto.subtle.digest("SHA-256", bytes);
  return [...new Uint8Array(digest)].map((b) => b.toString(16).padStart(2, "0")).join("");
}

/**
 * Write lines into the lower edge of a picture: which plot, when, at what scale. They stay with it wherever it goes.
 * @param {CanvasRenderingContext2D} context @param {number} width @param {number} height @param {string[]} lines
 */
function burn(context, width, height, lines) {
  const size = Math.max(14, Math.round(width / 38));
  const band = Math.round(size * (lines.length * 1.3 + 0.6));
  context.fillStyle = "rgb(0 0 0 / 72%)";
  context.fillRect(0, height - band, width, band);
  context.fillStyle = "#fff";
  context.textBaseline = "top";
  context.font = `600 ${size}px "Next", sans-serif`;
  lines.forEach((line, at) => {
    context.fillText(line, size * 0.6, height - band + size * (0.4 + at * 1.3), width - size * 1.2);
  });
}

/**
 * @param {Blob} file
 * @param {string[]} [burnt]  Lines to write into the picture.
 * @param {number} [longestPx]
 * @returns {Promise<{sha256: string, bytes: ArrayBuffer, size: number, state: "waiting", stored_at: null, problem: null,
 *   fields: Record<string, any>}>}
 * @throws {Error} the browser cannot read this file as a picture
 */
export async function readPhoto(file, burnt = [], longestPx = LONGEST_PX) {
  const original = await file.arrayBuffer();
  // imageOrientation: the camera's rotation is in EXIF, which the canvas drops
  const bitmap = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, longestPx / Math.max(bitmap.width, bitmap.height));
  const width = Math.max(1, Math.round(bitmap.width * scale));
  const height = Math.max(1, Math.round(bitmap.height * scale));
  const canvas = document.createElement("canvas");
  canvas.width = width;
  canvas.height = height;
  const context = canvas.getContext("2d");
  context?.drawImage(bitmap, 0, 0, width, height);
  bitmap.close();
  if (context && burnt.length > 0) burn(context, width, height, burnt);
  /** @type {Blob} */
  const jpeg = await new Promise((resolve, reject) =>
    canvas.toBlob(
      (blob) => (blob ? resolve(blob) : reject(new Error("the picture could not be written"))),
      "image/jpeg",
      QUALITY,
    ),
  );
  const bytes = await jpeg.arrayBuffer();
  const digest = await sha256(bytes);
  return {
    sha256: digest,
    bytes,
    size: bytes.byteLength,
    state: "waiting",
    stored_at: null,
    problem: null,
    fields: {
      sha256: digest,
      original_sha256: await sha256(original),
      size: bytes.byteLength,
      width,
      height,
      media_type: "image/jpeg",
    },
  };
}
