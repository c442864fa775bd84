// @ts-check
// A key that is pressed goes to the server once: until the page tells that it was taken, no other does.

import { post, REFUSED, UNHEARD } from "./post.js";
import { told } from "./told.js";
import { t } from "./words.js";

/** Milliseconds after which an answer of the stream is waited for no longer. */
const STREAM_MAX_MS = 5000;

/**
 * @param {{tab: string, onChange: () => void, onLine: (line: string) => void, onOut: () => void}} with_
 * onLine: what went wrong, in one line; empty once something is pressed anew. onOut: the session is over.
 */
export function createActs({ tab, onChange, onLine, onOut }) {
  /** @type {{taken: number | null} | null} */
  let pressed = null;
  let timer = 0;

  /** @param {{taken: number | null} | null} now */
  function setPressed(now) {
    clearTimeout(timer);
    pressed = now;
    if (now !== null && now.taken !== null) timer = setTimeout(() => setPressed(null), STREAM_MAX_MS);
    onChange();
  }

  return {
    isSending: () => pressed !== null,
    /** The stream has told the page as it is now. @param {any} page */
    heard(page) {
      if (pressed !== null && pressed.taken !== null && page.taken !== pressed.taken) setPressed(null);
    },
    /**
     * @param {any} page as it is shown
     * @param {string} key
     * @param {Record<string, string>} typed
     */
    async press(page, key, typed) {
      if (pressed !== null) return false;
      setPressed({ taken: page.taken });
      clearTimeout(timer); // the answer is waited for first, however long it takes
      onLine("");
      const answer = await post("/bench/act", JSON.stringify({ tab, name: page.name, key, unit: page.unit, typed, taken: page.taken }));
      if (answer.status === 204) {
        if (pressed !== null) setPressed(pressed);
        return true;
      }
      setPressed(null);
      if (answer.status === REFUSED) onOut();
      else onLine(answer.status === UNHEARD ? t("NOT SENT: the server does not answer. Look, then press again.") : told(answer.error).text);
      return false;
    },
  };
}
