// A piece of a page that stays as it was drawn until something changes that it goes by.
import { Component } from "preact";

/**
 * HAZARD: not `useMemo` of what was drawn. Such an element holds on to the page it was first drawn in, and two of them
 * that change in turn hold each other's: nothing that was drawn is ever given back.
 * @typedef {{ by: unknown[], draw: () => any }} KeptProps
 *   by    What the piece goes by; signals that `draw` reads need not be among it.
 *   draw  The piece.
 */
export class Kept extends Component {
  /** @param {KeptProps} next */
  shouldComponentUpdate(next) {
    const { by } = /** @type {KeptProps} */ (this.props);
    return next === this.props || next.by.some((one, i) => one !== by[i]); // the same: a signal asks
  }

  /** @param {KeptProps} props */
  render({ draw }) {
    return draw();
  }
}
