// A phone's saved file on its way into the office: in parts that the server's limit of a body lets through.

const MOST_CHARS = 6_000_000; // the limit is 16 MB as it ships, and may be set lower

/**
 * The bodies to send, in their order: entries first, since they name the photos. One entry or photo always goes, however long
 * it is. A file without lists goes as it is: the server says what is wrong with it.
 * @param {any} file  what the file holds
 * @param {number} [most]  characters of entries or of photos in one body
 * @returns {any[]}
 */
export function partsToSend(file, most = MOST_CHARS) {
  const { entries, photos = [] } = file ?? {};
  if (!Array.isArray(entries) || !Array.isArray(photos)) return [file];
  const bodies = [
    ...inGroups(entries, (one) => String(one).length, most).map((group) => ({
      ...file,
      entries: group,
      photos: [],
    })),
    ...inGroups(photos, (one) => String(one?.content).length, most).map((group) => ({
      ...file,
      entries: [],
      photos: group,
    })),
  ];
  return bodies.length > 0 ? bodies : [file];
}

/** @param {any[]} all @param {(one: any) => number} sizeOf @param {number} most */
function inGroups(all, sizeOf, most) {
  /** @type {any[][]} */
  const groups = [];
  let size = 0;
  for (const one of all) {
    const more = sizeOf(one);
    if (groups.length === 0 || size + more > most) {
      groups.push([]);
      size = 0;
    }
    groups[groups.length - 1].push(one);
    size += more;
  }
  return groups;
}

/** What the server said of the parts, as one. @param {any[]} replies */
export function together(replies) {
  const [first] = replies;
  /** @param {string} name */
  const sum = (name) => replies.reduce((total, one) => total + (one[name] ?? 0), 0);
  return {
    device: first?.device_label ?? "",
    n: sum("n_entries"),
    waiting: sum("n_quarantined"),
    known: sum("n_known"),
    photos: sum("n_photos"),
    photosKnown: sum("n_photos_known"),
    photosRefused: sum("n_photos_refused"),
  };
}
