// What the person on this phone may do, as far as the phone can know: the lower of the device's ceiling and the person's
// role, as the server judges it (the same table, acts named alike). It only chooses words and buttons: the server decides.

/** @typedef {"yes" | "ask" | "password" | "no"} Word */

const STRICTNESS = { yes: 0, password: 1, ask: 2, no: 3 };

/** @type {Record<string, Record<string, Word>>} */
const TABLE = {
  amend_own: { operator: "ask", technician: "ask", grower: "yes", manager: "yes" },
  amend_other: { operator: "ask", technician: "ask", grower: "password", manager: "password" },
  registers: { operator: "ask", technician: "ask", grower: "yes", manager: "yes" },
  trial_authority: { operator: "ask", technician: "ask", grower: "password", manager: "password" },
  reopen: { operator: "yes", grower: "yes", manager: "yes" },
  decide: { operator: "ask", technician: "ask", grower: "password", manager: "password" },
  admin: { manager: "password" },
};

/**
 * @param {import("../state/tepal.js").Session} session
 * @param {"amend_own" | "amend_other" | "registers" | "reopen" | "trial_authority" | "decide" | "admin"} act
 * @returns {Word}
 */
export function may(session, act) {
  const words = [session?.member?.role, session?.device?.ceiling].map((role) => TABLE[act][role] ?? "no");
  return words.reduce((left, right) => (STRICTNESS[left] >= STRICTNESS[right] ? left : right));
}
