// @ts-check
// The head of the page: where the walk is, who walks, sound, settings, the way out.

import { el, icon, setShown, setText } from "./dom.js";
import { post } from "./post.js";
import { settingsPanel, soundButton } from "./settingsPanel.js";
import { forgetTab } from "./tab.js";
import { t } from "./words.js";

/** @type {Record<string, () => string>} */
const ROLES = { look: () => t("may look"), work: () => t("may inspect"), own: () => t("may do all") };

/** The session is over: name and password are asked, and what is typed stays. */
export function enterAnew() {
  location.assign(`/enter?${new URLSearchParams({ next: location.pathname })}`);
}

/** @param {{title: HTMLElement, onLeave: () => void}} with_ */
export function createTop({ title, onLeave }) {
  const name = el("span", { class: "who-name" });
  const role = el("span", { class: "who-role" });
  const outWords = el("span");
  const out = el("button", { type: "button", class: "plain out" }, icon("log-out"), outWords);
  const touch = el("button", { type: "button", class: "touch" }, icon("hand"), el("span"));
  const panel = settingsPanel();
  const sound = soundButton();
  const node = el("header", { class: "bench-top" }, title, touch, el("p", { class: "who" }, name, role), sound.button, panel.button, out);
  let isLooking = false;
  let may = "";

  out.addEventListener("click", async () => {
    await post("/leave", "");
    onLeave();
    forgetTab();
    location.assign("/enter?next=/bench");
  });

  function write() {
    sound.write();
    panel.write();
    setText(role, ROLES[may]?.() ?? "");
    setText(outWords, t("log out"));
    setText(touch.children[1], t("Touch here for sound"));
  }

  return {
    node, dialog: panel.dialog, touch, write,
    /** @param {boolean} isWaiting whether sound waits for a touch */
    show: (isWaiting) => setShown(touch, isWaiting),
    /** Ask the server who is in; nobody: whoever is there is asked. */
    async look() {
      if (isLooking) return;
      isLooking = true;
      try {
        const answer = await fetch("/api/me");
        const me = await answer.json();
        if (me.person === null) enterAnew();
        setText(name, me.person ?? "");
        may = me.role ?? "";
        write();
      } catch {
        // the server is away, which the page says by itself
      } finally {
        isLooking = false;
      }
    },
  };
}
