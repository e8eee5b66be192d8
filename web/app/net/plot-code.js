// What a QR code on a plot's label says: from a photo or from a frame of the camera.

const LONGEST_PX = 900; // more pixels read no more labels, and take longer than a frame

/**
 * @param {Blob | HTMLVideoElement} picture
 * @returns {Promise<string | null>} null where there is no code to be read
 */
export async function readCode(picture) {
  // loaded when first used: whoever scans nothing never waits for the decoder
  const { default: jsQR } = await import("jsqr");
  const bitmap = await createImageBitmap(picture);
  const scale = Math.min(1, LONGEST_PX / Math.max(bitmap.width, bitmap.height));
  const width = Math.max(1, Math.round(bitmap.width * scale));
  const height = Math.max(1, Math.round(bitmap.height * scale));
  const canvas = document.createElement("canvas");
  canvas.width = width;
  canvas.height = height;
  const context = canvas.getContext("2d", { willReadFrequently: true });
  context?.drawImage(bitmap, 0, 0, width, height);
  bitmap.close();
  const data = context?.getImageData(0, 0, width, height).data;
  return data ? (jsQR(data, width, height)?.data ?? null) : null;
}
