// Reads QR codes out of a raw RGBA picture with the phone's own decoder: node read-code.mjs FILE WIDTH HEIGHT X:Y:W:H ...
import { readFileSync } from "node:fs";
import jsQR from "../../../web/app/vendor/jsqr.js";

const [file, width, , ...pieces] = process.argv.slice(2);
const pixels = readFileSync(file);
const found = pieces.map((piece) => {
  const [x, y, w, h] = piece.split(":").map(Number);
  const part = new Uint8ClampedArray(w * h * 4);
  for (let row = 0; row < h; row += 1) {
    const from = ((y + row) * Number(width) + x) * 4;
    part.set(pixels.subarray(from, from + w * 4), row * w * 4);
  }
  return jsQR(part, w, h)?.data ?? null;
});
process.stdout.write(JSON.stringify(found));
