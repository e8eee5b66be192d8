// Wall time as people enter it, as a moment with offset and zone. The device's own zone: the clock on the wall is its clock.

/**
 * @param {string} local  `YYYY-MM-DDTHH:MM`
 * @param {string} zone   IANA name of the device's zone.
 * @returns {{local: string, offset_min: number, zone: string} | null} null where it is no time
 */
export function momentAt(local, zone) {
  if (!/^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}$/.test(local)) return null;
  const at = new Date(local);
  if (Number.isNaN(at.getTime())) return null;
  return { local: `${local}:00`, offset_min: -at.getTimezoneOffset(), zone };
}

/** Now, as an entry field shows it. @param {{local: string}} wall */
export const nowText = (wall) => wall.local.slice(0, 16);

/** A moment as ms since 1970; null where there is none. @param {{local: string, offset_min: number} | null | undefined} moment */
export const msOf = (moment) => (moment ? Date.parse(`${moment.local}Z`) - moment.offset_min * 60_000 : null);
