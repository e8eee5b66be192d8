// Current labels and safety data sheets are kept on this phone, so that they can be read without signal: within a budget,
// and never where the phone itself is nearly full. What is replaced or retired leaves again, once the office has it.

/** @typedef {import("./port.js").StorePort} StorePort */
/** @typedef {import("./port.js").PhotoRow} PhotoRow */
/** @typedef {import("./port.js").RecordRow} RecordRow */
/** @typedef {{ sha256: string, size: number }} WantedFile */
/** @typedef {{ files: number, bytes: number, left: number, why: "budget" | "phone_full" | "not_fetched" | null }} KeptFiles */

export const BUDGET_BYTES = 60 * 1024 * 1024; // of all files together
export const LEAST_FREE_BYTES = 100 * 1024 * 1024; // sync.md: under this nothing is put on the phone that can wait

/**
 * The files to keep, small ones first so that most labels fit: the current ones of products in use.
 * @param {RecordRow[]} files  Of kind label_file.
 * @param {RecordRow[]} products
 * @returns {WantedFile[]}
 */
export function wantedFiles(files, products) {
  const inUse = new Set(
    products
      .filter(({ shown }) => shown?.state !== "void" && shown?.fields.retired !== true)
      .map((row) => row.id),
  );
  /** @type {Map<string, WantedFile>} */
  const found = new Map();
  for (const { shown } of files) {
    if (
      !shown ||
      shown.state === "void" ||
      shown.fields.replaced === true ||
      !inUse.has(shown.fields.product)
    )
      continue;
    const { sha256, size } = shown.fields;
    if (sha256 && size) found.set(sha256, { sha256, size });
  }
  return [...found.values()].sort((a, b) => a.size - b.size || (a.sha256 < b.sha256 ? -1 : 1));
}

/**
 * Bring what is kept in line with what is wanted.
 * @param {StorePort} store
 * @param {{ getFile: (sha256: string) => Promise<ArrayBuffer | null>, digest: (bytes: ArrayBuffer) => Promise<string>,
 *   freeBytes: () => Promise<number | null> }} parts
 *   getFile  null where the office did not give it. freeBytes  null where the browser does not say.
 * @returns {Promise<KeptFiles>}
 */
export async function keepFiles(store, { getFile, digest, freeBytes }) {
  const { files, products, rows } = await store.read(["records", "photos"], async (tx) => ({
    files: await tx.ofKind("label_file"),
    products: await tx.ofKind("product"),
    rows: /** @type {PhotoRow[]} */ (await tx.all("photos")),
  }));
  const wanted = wantedFiles(files, products);
  await letGo(store, rows, new Set(wanted.map((file) => file.sha256)));
  const here = new Set(rows.map((row) => row.sha256));
  let bytes = wanted.filter((file) => here.has(file.sha256)).reduce((sum, file) => sum + file.size, 0);
  let kept = wanted.filter((file) => here.has(file.sha256)).length;
  /** @type {KeptFiles["why"]} */
  let why = null;
  for (const file of wanted) {
    if (here.has(file.sha256)) continue;
    if (bytes + file.size > BUDGET_BYTES) {
      why = "budget";
      break; // they come by size: no later one fits either
    }
    const free = await freeBytes();
    if (free !== null && free - file.size < LEAST_FREE_BYTES) {
      why = "phone_full";
      break;
    }
    const content = await getFile(file.sha256);
    if (content === null || (await digest(content)) !== file.sha256) {
      why = "not_fetched";
      continue;
    }
    await store.write(["photos", "photo_bytes"], async (tx) => {
      await tx.put("photos", rowOf(file, content.byteLength));
      await tx.put("photo_bytes", { sha256: file.sha256, bytes: content });
    });
    bytes += content.byteLength;
    kept += 1;
  }
  return { files: kept, bytes, left: wanted.length - kept, why };
}

/** @param {WantedFile} file @param {number} size @returns {PhotoRow} */
const rowOf = (file, size) => ({
  sha256: file.sha256,
  size,
  state: "stored",
  of_id: "",
  saved_at: "",
  stored_at: null,
  problem: null,
  is_kept: true,
});

/**
 * Files that are no longer wanted, where the office has them. What is still to be sent stays.
 * @param {StorePort} store @param {PhotoRow[]} rows @param {Set<string>} wanted
 */
async function letGo(store, rows, wanted) {
  const old = rows.filter((row) => row.is_kept && row.state === "stored" && !wanted.has(row.sha256));
  if (old.length === 0) return;
  const digests = old.map((row) => row.sha256);
  await store.write(["photos", "photo_bytes"], async (tx) => {
    await tx.bulkDelete("photo_bytes", digests);
    await tx.bulkDelete("photos", digests);
  });
}
