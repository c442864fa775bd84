// @ts-check
// What may be done on a page, as targets for a thumb: one large main action, the others, and the ways out.

import { el, setAttr, setText } from "./dom.js";
import { shape } from "./verdict.js";
import { t } from "./words.js";

/** @typedef {{key: string, label: string, main: boolean, off: boolean, tells: string}} Choice */

/** They lead elsewhere and do nothing at the bay. */
const WAYS = new Set(["l", "q", "esc"]);
/** More than these are a list to be scrolled, not a row beneath the thumb. */
const ROW_MAX = 5;

/** @param {Choice} choice */
export const isWay = (choice) => WAYS.has(choice.key);

/**
 * @param {(key: string) => void} press
 * @param {Element} [beside] stands with what may be done
 */
export function createChoices(press, beside) {
  const main = el("div", { class: "main-act" });
  const acts = el("div", { class: "acts" });
  const list = el("div", { class: "acts list" });
  const ways = el("div", { class: "ways" });
  /** @type {Map<string, ReturnType<typeof target>>} */
  const targets = new Map();

  return {
    main, acts, list, ways,
    /** Made anew. @param {Choice[]} choices in the order in which they are to be seen */
    build(choices) {
      targets.clear();
      for (const part of [main, acts, list, ways]) part.replaceChildren();
      const others = choices.filter((one) => !one.main && !isWay(one));
      const home = others.length > ROW_MAX ? list : acts;
      for (const choice of choices) {
        const made = target(choice, press);
        targets.set(choice.key, made);
        (choice.main ? main : isWay(choice) ? ways : home).append(made.node);
      }
      if (beside !== undefined) acts.append(beside);
      for (const part of [main, acts, list, ways]) part.hidden = part.children.length === 0;
    },
    /**
     * @param {Choice[]} choices
     * @param {boolean} isLocked for a moment, as while something is on its way
     * @param {boolean} isOff for longer
     */
    write(choices, isLocked, isOff) {
      for (const choice of choices) targets.get(choice.key)?.show({ ...choice, off: choice.off || isOff }, isLocked);
    },
  };
}

/** @param {Choice} choice @param {(key: string) => void} press */
function target(choice, press) {
  const cap = el("kbd", { "aria-hidden": "true" }, { enter: "⏎", esc: "Esc" }[choice.key] ?? choice.key);
  const head = el("span", { class: "act-head" });
  const rest = el("span", { class: "act-rest" });
  const off = el("span", { class: "act-off" });
  const node = el("button", { type: "button", "data-key": choice.key, class: choice.main ? "act main" : "act" }, cap);
  if (choice.tells !== "") {
    const mark = shape();
    mark.show(choice.tells);
    node.append(mark.node);
    setAttr(node, "data-tells", choice.tells);
  }
  node.append(el("span", { class: "act-words" }, head, rest, off));
  node.addEventListener("click", () => {
    // It keeps the focus while it is off: a second Enter must not fall on another.
    if (node.getAttribute("aria-disabled") !== "true") press(choice.key);
  });
  return {
    node,
    /** @param {Choice} now @param {boolean} isLocked */
    show(now, isLocked) {
      const at = now.label.indexOf(": ");
      setText(head, at < 0 ? now.label : now.label.slice(0, at));
      setText(rest, at < 0 ? "" : now.label.slice(at + 2));
      rest.hidden = at < 0;
      setAttr(node, "aria-disabled", now.off || isLocked ? "true" : null);
      setAttr(node, "data-off", now.off);
      setText(off, now.off ? t("not now") : "");
      off.hidden = !now.off;
    },
  };
}
