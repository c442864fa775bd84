// @ts-check
// A picture of what is looked at, by the tablet's camera: seen, sent, and what came of it in one line.

import { el, icon, setAttr, setShown, setText } from "./dom.js";
import { REFUSED, said } from "./post.js";
import { told } from "./told.js";
import { t } from "./words.js";

/** As the server takes them. */
const BYTES_MAX = 20_000_000;
/** Milliseconds after which no answer comes any more: the server waits less for the picture, and for the bay. */
const MOST_MS = 100_000;

/** @param {{tab: string, noteOf: (check: string, item: string) => string, onOut: () => void}} with_ */
export function createPhoto({ tab, noteOf, onOut }) {
  const input = /** @type {HTMLInputElement} */ (el("input", { type: "file", accept: "image/*", capture: "environment" }));
  const words = el("span", { class: "act-head" });
  const button = el("label", { class: "button act photo" }, input, icon("camera"), words);
  const image = /** @type {HTMLImageElement} */ (el("img", { alt: "" }));
  const line = el("p", { role: "status" });
  const done = el("progress", { max: 1, value: 0 });
  const taken = el("figure", { class: "photo-told", hidden: true }, image, el("figcaption", {}, line, done));
  /** @type {{check: string, item: string, inspection: string} | null} */
  let of = null;
  /** What the camera was taken up for: the page may be of another by the time the picture is taken. */
  let asked = of;
  let isSending = false;
  let isOff = true;

  input.addEventListener("click", () => {
    asked = of;
  });
  image.addEventListener("error", () => setShown(image, false));
  input.addEventListener("change", () => {
    const file = input.files?.[0];
    input.value = ""; // the same once more is a change too
    const which = asked ?? of;
    asked = null;
    if (file !== undefined && which !== null && !isSending) send(file, which);
  });

  function write() {
    setAttr(button, "aria-disabled", isOff || isSending ? "true" : null);
    input.disabled = isOff || isSending;
  }

  /** @param {boolean} now */
  function setSending(now) {
    isSending = now;
    write();
  }

  /** @param {string} text @param {"" | "bad" | "good"} kind */
  function tell(text, kind) {
    setShown(taken, true);
    setText(line, text);
    setAttr(line, "class", kind);
  }

  /** @param {File} file @param {{check: string, item: string, inspection: string}} which */
  function send(file, which) {
    if (image.src) URL.revokeObjectURL(image.src);
    setShown(image, true);
    image.src = URL.createObjectURL(file);
    if (file.size > BYTES_MAX) {
      setShown(done, false);
      tell(t("The picture is larger than {most} MB: take a smaller one.", { most: BYTES_MAX / 1e6 }), "bad");
      return;
    }
    setSending(true); // another one waits until it is there
    setShown(done, true);
    tell(t("The picture is on its way …"), "");
    const asked = new URLSearchParams({ tab, ...which, note: noteOf(which.check, which.item) });
    const request = new XMLHttpRequest(); // fetch tells nothing of how far it is
    request.timeout = MOST_MS;
    request.open("POST", `/bench/photo?${asked}`);
    request.setRequestHeader("X-Ringtrue", "1");
    request.setRequestHeader("Content-Type", "application/octet-stream");
    request.upload.addEventListener("progress", (event) => {
      if (event.lengthComputable) setAttr(done, "value", event.loaded / event.total);
    });
    request.addEventListener("loadend", () => {
      setSending(false);
      setShown(done, false);
      if (request.status === 204) tell(t("The picture is kept."), "good");
      else if (request.status === REFUSED) onOut();
      else if (request.status === 0) tell(t("NOT KEPT: the server does not answer. Take it again when it is back."), "bad");
      else tell(t("NOT KEPT. {why}", { why: told(said(request.responseText, request.status).error).text }), "bad");
    });
    request.send(file);
  }

  return {
    button, told: taken,
    /** @param {{check: string, item: string, inspection: string} | null} picture @param {boolean} isOffNow */
    show(picture, isOffNow) {
      isOff = isOffNow;
      const isOther = picture?.check !== of?.check || picture?.item !== of?.item || picture?.inspection !== of?.inspection;
      if (isOther && !isSending) setShown(taken, false);
      of = picture;
      setShown(button, picture !== null);
      setText(words, t("take a picture"));
      write();
    },
  };
}
