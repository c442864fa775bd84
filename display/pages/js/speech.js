// @ts-check
// Figures spoken by the browser's own speech, where it has one. Off by the same switch as the tones.

import { get } from "./settings.js";

/** Sentences that wait at most: what is older than these is no news any more. */
const WAITING_MAX = 3;

/**
 * @param {SpeechSynthesis | undefined} synth
 * @param {(text: string) => SpeechSynthesisUtterance} [utter]
 */
export function createSpeech(synth = globalThis.speechSynthesis, utter = (text) => new SpeechSynthesisUtterance(text)) {
  let waiting = 0;
  return {
    isThere: () => synth !== undefined,
    /**
     * @param {string} text
     * @param {string} [lang] the daemon's own sentences are English
     */
    say(text, lang = get().lang) {
      if (synth === undefined || !get().sound || text === "") return;
      if (waiting >= WAITING_MAX) {
        synth.cancel();
        waiting = 0;
      }
      const utterance = utter(text);
      utterance.lang = lang === "de" ? "de-DE" : "en-GB";
      waiting += 1;
      const done = () => {
        waiting = Math.max(0, waiting - 1);
      };
      utterance.onend = done;
      utterance.onerror = done;
      synth.speak(utterance);
    },
  };
}
