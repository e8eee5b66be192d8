// The lower part of a page: drawn once the upper part stands on the screen, so that a slow phone is never held up for long.
import { useEffect, useState } from "preact/hooks";

/** Only for what stands below or apart, or comes with the keys: nothing may move under a finger. @param {{ children?: any }} props */
export function Later({ children }) {
  const [isHere, setHere] = useState(false);
  useEffect(() => {
    const timer = setTimeout(() => setHere(true), 0); // effects run after the paint
    return () => clearTimeout(timer);
  }, []);
  return isHere ? children : null;
}
