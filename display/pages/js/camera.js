// @ts-check
// A serial read by the tablet's camera, where the browser can read codes by itself.

import { el, icon, setShown, setText } from "./dom.js";
import { t } from "./words.js";

/** Milliseconds between two looks at the picture. */
const LOOK_MS = 200;

/** @param {MediaStream | null} stream */
function end(stream) {
  for (const track of stream?.getTracks() ?? []) track.stop();
}

/** @param {(text: string) => void} found */
export function createCamera(found) {
  const words = el("span");
  const button = el("button", { type: "button", class: "scan" }, icon("scan-barcode"), words);
  const video = /** @type {HTMLVideoElement} */ (el("video", { playsinline: true, muted: true }));
  const stop = el("button", { type: "button" });
  const line = el("p", { role: "status" });
  const dialog = /** @type {HTMLDialogElement} */ (el("dialog", { class: "camera" }, video, line, stop));
  const isThere = "BarcodeDetector" in window && navigator.mediaDevices !== undefined;
  let timer = 0;
  let closed = 0;
  setShown(button, false);

  async function look() {
    setText(line, t("Hold the code before the camera."));
    setText(stop, t("Close"));
    dialog.showModal();
    const since = closed;
    try {
      const stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      if (since !== closed) {
        end(stream); // nobody waits for it any more
        return;
      }
      video.srcObject = stream;
      await video.play();
    } catch {
      setText(line, t("The camera cannot be had: allow it for this page, or type the serial."));
      return;
    }
    // Not in every browser's types yet.
    const detector = new /** @type {any} */ (window).BarcodeDetector();
    timer = setInterval(async () => {
      const [code] = await detector.detect(video).catch(() => []);
      if (code === undefined || !dialog.open) return;
      dialog.close();
      found(code.rawValue.trim());
    }, LOOK_MS);
  }

  button.addEventListener("click", look);
  stop.addEventListener("click", () => dialog.close());
  dialog.addEventListener("close", () => {
    closed += 1;
    clearInterval(timer);
    end(/** @type {MediaStream | null} */ (video.srcObject));
    video.srcObject = null;
  });

  return {
    button, dialog,
    /** @param {boolean} isWanted */
    show(isWanted) {
      setShown(button, isThere && isWanted);
      setText(words, t("read a code by the camera"));
    },
  };
}
