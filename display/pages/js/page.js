// @ts-check
// One page of the walk: cautions before all else, then what is said, one figure, rows, what is typed, what is done.

import { createChoices } from "./choices.js";
import { el, fill, icon, setAttr, setShown, setText } from "./dom.js";
import { createFields } from "./fields.js";
import { createCautions } from "./says.js";
import { shape, kindOf } from "./verdict.js";

const WARNS = "! ";
/** Pixels by which the end may be out of sight; the share of what is seen by which it is read on. */
const END_PX = 8;
const READ_SHARE = 0.8;
const STEP = /^(\d+)\. (.*)$/s;

/** Milliseconds for which a page that has just come, or has taken a key, takes nothing: who taps twice means once. */
const FRESH_MS = 250;

/**
 * @param {{press: (key: string) => void, texts: ReturnType<typeof import("./texts.js").createTexts>, beside: Element}} with_
 * beside: as in createChoices.
 */
export function createPage({ press, texts, beside }) {
  const title = el("h1", { id: "title", tabindex: "-1", "aria-live": "polite" });
  const cautions = createCautions();
  cautions.node.tabIndex = 0; // where they are long they are scrolled, by keys too
  const mark = shape();
  const headWords = el("p");
  const head = el("div", { class: "head" }, mark.node, headWords);
  const says = el("div", { class: "says" });
  const big = el("p", { class: "big" });
  const warnings = el("section", { class: "warnings" }, icon("octagon-alert"), el("ul"));
  const rows = el("ul", { class: "rows" });
  const fields = createFields(texts);
  const choices = createChoices(press, beside);
  const notice = el("p", { class: "notice", role: "status" });
  const sheet = el("section", { class: "sheet" }, warnings, head, says, big, rows, fields.node, choices.list);
  let built = "";
  let named = "";
  let taken = 0;
  let isFirst = true;
  let cameAt = 0;

  // Whoever has typed on it has seen it.
  fields.node.addEventListener("input", () => {
    cameAt = -FRESH_MS;
  });

  return {
    title, cautions: cautions.node, sheet, notice, choices, fields,
    /** Read on, where cautions reach beyond the screen; false where their end is in sight. */
    readOn() {
      for (const part of [cautions.node, cautions.node.parentElement]) {
        if (part === null || part.scrollHeight - part.clientHeight - part.scrollTop < END_PX) continue;
        part.scrollBy({ top: part.clientHeight * READ_SHARE });
        return true;
      }
      return false;
    },
    /** Whether it is another page than a moment ago. */
    isFresh: () => performance.now() - cameAt < FRESH_MS,
    /**
     * @param {any} page
     * @param {{isLocked: boolean, isLive: boolean, hasFigure: boolean, line: string, isServed: boolean}} now
     * isLocked: nothing may be pressed. hasFigure: rows and figure are drawn elsewhere. line: of this browser.
     * isServed: some of what was typed has served.
     */
    show(page, { isLocked, isLive, hasFigure, line, isServed }) {
      const turned = shapeOf(page);
      const isTurned = turned !== built;
      // A key that was taken makes a page new too: a switch that bounces pressed once.
      if (named !== page.name || taken !== page.taken) cameAt = performance.now();
      [named, taken] = [page.name, page.taken];
      if (isTurned) {
        built = turned;
        fields.build(page.fields);
        choices.build(inOrder(page));
      } else if (isServed) fields.write(page.fields);
      choices.write(page.choices, isLocked || this.isFresh(), !isLive);
      setText(title, page.title);
      setAttr(sheet, "data-page", page.name.split(" ")[0]);
      cautions.show(page.cautions.map((/** @type {string} */ text) => ({ text })));

      const isHeaded = page.tells !== "" && page.says.length > 0;
      setShown(head, isHeaded);
      if (isHeaded) {
        mark.show(page.tells);
        setText(headWords, page.says[0]);
        setAttr(headWords, "class", kindOf(page.tells));
      }
      fill(says, isHeaded ? page.says.slice(1) : page.says, () => el("p"), write);
      setShown(big, page.big !== null && !hasFigure);
      setText(big, isLive ? page.big ?? "" : "–");
      setAttr(big, "data-rings", page.rings !== null);
      const warned = page.rows.filter((/** @type {string} */ row) => row.startsWith(WARNS));
      const plain = page.rows.filter((/** @type {string} */ row) => !row.startsWith(WARNS));
      setShown(warnings, warned.length > 0);
      fill(warnings.children[1], warned, () => el("li"), (item, row) => setText(item, row.slice(WARNS.length)));
      // Figures of something that runs are old as soon as nothing is heard.
      const told = hasFigure || (!isLive && page.name.startsWith("run ")) ? [] : plain;
      setShown(rows, told.length > 0);
      fill(rows, told, () => el("li"), setText);
      const said = line || page.notice;
      setShown(notice, said !== "");
      setText(notice, said);
      fields.wrong(isTurned || isServed || page.entry !== null ? page.entry : null);
      if (isTurned || isServed) focus(page);
    },
  };

  /** Where the next key belongs; a reader's voice begins with the title. @param {any} page */
  function focus(page) {
    if (page.entry !== null) return;
    sheet.parentElement?.scrollTo(0, 0);
    if (page.fields.length > 0) fields.first()?.focus({ preventScroll: !page.name.startsWith("run ") });
    else if (!isFirst) title.focus({ preventScroll: true });
    isFirst = false;
  }
}

/** What is built anew where it differs; all else is only written anew. @param {any} page */
function shapeOf(page) {
  const fields = page.fields.map((/** @type {any} */ one) => [one.id, one.label, one.hint]);
  return JSON.stringify([page.name, fields, page.choices.map((/** @type {any} */ one) => [one.key, one.main, one.tells])]);
}

/** Of a question no comes first: yes must not lie where the question was asked. @param {any} page */
function inOrder({ name, choices }) {
  return name.startsWith("question ") ? [...choices].reverse() : choices;
}

/** @param {Element} node @param {string} text */
function write(node, text) {
  const step = STEP.exec(text);
  setAttr(node, "data-step", step?.[1] ?? null);
  setText(node, step?.[2] ?? text);
}
