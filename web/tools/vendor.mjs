// Rebuilds web/app/vendor and web/app/fonts from the packages pinned in package-lock.json.
// One self-contained file per library; packages shared between libraries stay external and are found
// through the import map of index.html, so that there is exactly one copy of Preact.
// Run: npm ci && npm run vendor. Updating a library is a commit of its own.
import { createHash } from "node:crypto";
import { copyFileSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const TOOLS = dirname(fileURLToPath(import.meta.url));
const APP = join(TOOLS, "..", "app");
const VENDOR = join(APP, "vendor");
const FONTS = join(APP, "fonts");
const MODULES = join(TOOLS, "node_modules");
const LICENCES = join(TOOLS, "..", "..", "server", "LICENSES-VENDORED.md");

const SHARED = ["preact", "preact/hooks", "@preact/signals-core"];

/** ES modules: file -> [package, what is imported]. */
const BUNDLES = {
  "preact.js": ["preact", "preact"],
  "preact-hooks.js": ["preact", "preact/hooks"],
  "htm.js": ["htm", "htm"],
  "signals-core.js": ["@preact/signals-core", "@preact/signals-core"],
  "signals.js": ["@preact/signals", "@preact/signals"],
  "preact-iso.js": ["preact-iso", "preact-iso/router"],
  "dexie.js": ["dexie", "dexie/dist/modern/dexie.mjs"],
  "uplot.js": ["uplot", "uplot"],
  "jsqr.js": ["jsqr", "jsqr"],
};

/** Files taken as they are: target -> [package, path inside it]. */
const COPIES = {
  "workbox-core.js": ["workbox-core", "build/workbox-core.prod.js"],
  "workbox-routing.js": ["workbox-routing", "build/workbox-routing.prod.js"],
  "workbox-strategies.js": ["workbox-strategies", "build/workbox-strategies.prod.js"],
  "workbox-precaching.js": ["workbox-precaching", "build/workbox-precaching.prod.js"],
  "uplot.css": ["uplot", "dist/uPlot.min.css"],
};

/** Variable fonts, upright, weights 200-800: target -> [package, file]. */
const FONT_FILES = {
  "next.woff2": [
    "@fontsource-variable/atkinson-hyperlegible-next",
    "atkinson-hyperlegible-next-latin-wght-normal.woff2",
  ],
  "next-ext.woff2": [
    "@fontsource-variable/atkinson-hyperlegible-next",
    "atkinson-hyperlegible-next-latin-ext-wght-normal.woff2",
  ],
  "mono.woff2": [
    "@fontsource-variable/atkinson-hyperlegible-mono",
    "atkinson-hyperlegible-mono-latin-wght-normal.woff2",
  ],
  "mono-ext.woff2": [
    "@fontsource-variable/atkinson-hyperlegible-mono",
    "atkinson-hyperlegible-mono-latin-ext-wght-normal.woff2",
  ],
};

/** @param {string} name */
const manifest = (name) => JSON.parse(readFileSync(join(MODULES, name, "package.json"), "utf8"));
/** @param {string} path */
const sha256 = (path) => createHash("sha256").update(readFileSync(path)).digest("hex");

rmSync(VENDOR, { recursive: true, force: true });
mkdirSync(VENDOR, { recursive: true });
mkdirSync(FONTS, { recursive: true });

for (const [file, [name, entry]] of Object.entries(BUNDLES)) {
  await build({
    absWorkingDir: TOOLS,
    stdin: { contents: exportsOf(entry), resolveDir: TOOLS },
    outfile: join(VENDOR, file),
    bundle: true,
    format: "esm",
    target: "es2022",
    minify: true,
    charset: "utf8",
    legalComments: "inline",
    conditions: ["browser", "import", "production"],
    plugins: [sharedStayOutside(entry)],
    banner: { js: `/*! ${name} ${manifest(name).version} | ${manifest(name).license} */` },
  });
}

/**
 * Leaves shared packages to the import map, by exact name: esbuild's own `external` would also take
 * "preact/hooks" for a part of "preact" and leave that file empty.
 * @param {string} entry
 * @returns {import("esbuild").Plugin}
 */
function sharedStayOutside(entry) {
  return {
    name: "shared-stay-outside",
    setup(builder) {
      builder.onResolve({ filter: /^[@a-z]/ }, ({ path }) =>
        SHARED.includes(path) && path !== entry ? { path, external: true } : undefined,
      );
    },
  };
}

/**
 * The entry for one library: everything it exports by name, and its default where it has one.
 * @param {string} entry
 */
function exportsOf(entry) {
  const hasDefault = ["htm", "dexie/dist/modern/dexie.mjs", "uplot"].includes(entry);
  // jsqr is no ES module: it has a default and nothing else
  if (entry === "jsqr") return `export { default } from "${entry}";`;
  return `export * from "${entry}";${hasDefault ? `export { default } from "${entry}";` : ""}`;
}

for (const [file, [name, path]] of Object.entries(COPIES)) {
  const text = readFileSync(join(MODULES, name, path), "utf8");
  // the source maps stay behind, so the line that points to them would only make a failed request
  const body = text.replace(/\n?\/\/# sourceMappingURL=.*\s*$/, "\n");
  writeFileSync(
    join(VENDOR, file),
    `/*! ${name} ${manifest(name).version} | ${manifest(name).license} */\n${body}`,
  );
}
for (const [file, [name, path]] of Object.entries(FONT_FILES)) {
  copyFileSync(join(MODULES, name, "files", path), join(FONTS, file));
}

const rows = [
  ...Object.entries({ ...BUNDLES, ...COPIES }).map(([file, [name]]) => ["vendor", file, name]),
  ...Object.entries(FONT_FILES).map(([file, [name]]) => ["fonts", file, name]),
];
const table = rows.map(([folder, file, name]) => {
  const { version, license } = manifest(name);
  return `| ${folder}/${file} | ${name} | ${version} | ${license} | ${sha256(join(APP, folder, file))} |`;
});
writeFileSync(
  join(VENDOR, "VENDOR.md"),
  `# Vendored files

Made by \`npm ci && npm run vendor\` in web/tools; never edited by hand. The fonts are the Latin and Latin Extended
subsets of the variable upright faces. tests/arch/test_vendor.py checks that each file has the hash below.
Licence texts: server/LICENSES-VENDORED.md.

| file | package | version | licence | sha256 |
| --- | --- | --- | --- | --- |
${table.join("\n")}
`,
);

const names = [...new Set(rows.map(([, , name]) => name))];
const texts = names.map((name) => {
  const folder = join(MODULES, name);
  const files = readdirSync(folder)
    .filter((file) => /^(licen[cs]e|notice)/i.test(file))
    .sort();
  const body = files.map((file) => readFileSync(join(folder, file), "utf8").trim()).join("\n\n");
  return `### ${name} ${manifest(name).version} (${manifest(name).license})\n\n\`\`\`text\n${body || manifest(name).license}\n\`\`\``;
});
// Other parts of the project write above the marker; this script owns what stands below it.
const MARKER = "<!-- below: written by web/tools/vendor.mjs -->";
const before = readFileSync(LICENCES, "utf8").split(MARKER)[0].trimEnd();
writeFileSync(LICENCES, `${before}\n\n${MARKER}\n## Browser libraries and fonts\n\n${texts.join("\n\n")}\n`);
console.log(`${rows.length} files, ${names.length} packages`);
