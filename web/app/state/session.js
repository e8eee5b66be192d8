// Signing in and out. The store's device id comes first: an empty store always takes a new one, so that numbers never
// repeat; signing in again keeps id and outbox.

/** @typedef {import("./tepal.js").Tepal} Tepal */

/**
 * @param {Tepal} tepal
 * @param {string} path "/sign-in", "/set-up", or "/enrol" (a device without a person)
 * @param {Record<string, any>} body without the device
 * @param {string} label a name for this device
 */
export async function signIn(tepal, path, body, label) {
  const kept = await tepal.book.meta("device");
  const device = kept ?? { id: tepal.book.newId(), label };
  const got = await tepal.api.post(path, { ...body, device });
  if (!got.ok) return got;
  const { device: there, member, establishment } = got.reply;
  const session = { device: there, member, establishment, method: member ? "password" : null };
  // the office let it in: whether it was revoked before is no longer so
  const named = { id: device.id, label: there?.label ?? device.label };
  await tepal.book.setMeta({ device: named, session, revoked: false });
  tepal.session.value = session;
  tepal.isSetUp.value = true;
  await tepal.refresh();
  tepal.book.exchangeNow();
  return got;
}

/** End the person session; what is on the phone stays. @param {Tepal} tepal */
export async function signOut(tepal) {
  const session = tepal.session.value;
  await tepal.api.post("/sign-out", {});
  const left = session ? { ...session, member: null, method: null } : null;
  await tepal.book.setMeta({ session: left });
  tepal.session.value = left;
}

/**
 * The device's sign-in has ended: back to the sign-in page. Device id, outbox and drafts stay.
 * @param {Tepal} tepal
 */
export async function signInAgain(tepal) {
  await tepal.book.setMeta({ session: null });
  tepal.session.value = null;
}
