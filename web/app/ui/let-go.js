// A page that draws itself again lets go of what it was before.
//
// HAZARD: Preact leaves each drawing's children on the element it was drawn from, and a piece that stays as it is
// (ui/kept.js) stands in the old drawing and in the new one. So the first drawing of a page held all later ones: a phone
// on which plants are measured kept 80 kB of each value, and collecting that garbage held the screen up.
import { options } from "preact";

/** @type {WeakMap<object, any>} */
const before = new WeakMap();
/** The names that Preact gives these are private and stay as they are: its own signals and hooks go by them.
 * @type {any} */
const own = options;
const { __b: beforeDrawn, diffed } = own;

own.__b = (/** @type {any} */ element) => {
  const old = element.__c?.__v; // what the component was drawn from
  if (old && old !== element) before.set(element, old);
  beforeDrawn?.(element);
};

own.diffed = (/** @type {any} */ element) => {
  const old = before.get(element);
  if (old) old.__k = null;
  diffed?.(element);
};
