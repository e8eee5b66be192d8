// htm bound to Preact's h: the one place where the two meet. `htm/preact/standalone` would bring a second Preact.
import htm from "htm";
import { h } from "preact";
import "./let-go.js";

export const html = htm.bind(h);
