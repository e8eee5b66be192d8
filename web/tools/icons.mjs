// Draws the PNG icons from web/app/icons/mark.svg with the machine's Chromium, since it draws SVG exactly as a phone will.
// Run: node icons.mjs [path to chromium]. The PNG files are committed; nothing at run time needs this.
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const ICONS = join(dirname(fileURLToPath(import.meta.url)), "..", "app", "icons");
const CHROMIUM = process.argv[2] ?? "/usr/bin/chromium-headless-shell";
const PAPER = "#fbfaf5";

/** file -> [size in px, part of the side that the mark takes, ground or none] */
const SIZES = {
  "192.png": [192, 0.92, ""],
  "512.png": [512, 0.92, ""],
  // a maskable icon may lose all but the middle 80 % (W3C manifest, "safe zone")
  "maskable.png": [512, 0.6, PAPER],
  "apple-touch-icon.png": [180, 0.74, PAPER], // iOS fills transparency with black
};

const mark = readFileSync(join(ICONS, "mark.svg"), "utf8");
const folder = mkdtempSync(join(tmpdir(), "tepal-icons-"));
try {
  for (const [file, [size, part, ground]] of Object.entries(SIZES)) {
    const side = Math.round(size * part);
    const page = `<!doctype html><style>html,body{margin:0;height:100%;background:${ground || "transparent"}}
      body{display:grid;place-items:center}svg{width:${side}px;height:${side}px}</style>${mark}`;
    const source = join(folder, "icon.html");
    writeFileSync(source, page);
    execFileSync(
      CHROMIUM,
      [
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--no-first-run",
        "--hide-scrollbars",
        "--force-device-scale-factor=1",
        "--default-background-color=00000000",
        `--user-data-dir=${join(folder, "profile")}`,
        `--window-size=${size},${size}`,
        `--screenshot=${join(ICONS, file)}`,
        `file://${source}`,
      ],
      { stdio: "ignore" },
    );
    console.log(file);
  }
} finally {
  rmSync(folder, { recursive: true, force: true });
}
