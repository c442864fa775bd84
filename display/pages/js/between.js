// @ts-check
// Between checks: the verdict so far, what each check came to, why, and when it is due again.

import { el, fill, setAttr, setShown, setText } from "./dom.js";
import { told } from "./told.js";
import { checkFigures, checkName, dueWords, kindOf, outcomeWord, shape, verdictOf } from "./verdict.js";
import { t } from "./words.js";

/** Reasons of a check with which nobody has begun: its outcome says so. */
const UNTOUCHED = ["not looked at yet", "not measured yet"];

/** The verdict with its shape, and the checks. */
export function createVerdict() {
  const mark = shape();
  const label = el("p", { class: "verdict-label" });
  const word = el("p", { class: "verdict-word" });
  const meaning = el("p", { class: "verdict-meaning" });
  const rows = el("ul", { class: "checks" });
  const head = el("div", { class: "verdict" }, mark.node, el("div", {}, label, word, meaning));
  const node = el("section", { class: "between" }, head, rows);
  /** @type {WeakMap<Element, ReturnType<typeof shape>>} */
  const marks = new WeakMap();

  function row() {
    const own = shape();
    const item = el(
      "li",
      {},
      own.node,
      el("span", { class: "check-name" }),
      el("span", { class: "check-outcome" }),
      el("span", { class: "check-figure" }),
      el("span", { class: "check-limit" }),
    );
    marks.set(item, own);
    return item;
  }

  return {
    node,
    /**
     * @param {import("./bayView.js").BayView} view
     * @param {import("./units.js").LengthUnit} unit
     */
    show(view, unit) {
      const { result, grading } = view;
      const said = headOf(view);
      mark.show(said.kind);
      setAttr(head, "data-past", view.isPast);
      setText(label, said.label);
      setText(word, said.word);
      word.style.setProperty("--letters", String(Math.max(6, said.word.length)));
      setAttr(word, "class", `verdict-word ${kindOf(said.kind)}`);
      setText(meaning, said.meaning);
      const isTold = result !== null && !(view.isPast && view.live.inspection !== null);
      fill(rows, isTold ? Object.entries(result.checks) : [], row, (item, [name, check]) => {
        const isMaking = name === grading;
        const outcome = isMaking ? "missing" : check.outcome;
        const { figure, limit } = isMaking ? { figure: "", limit: "" } : checkFigures(check, unit);
        marks.get(item)?.show(outcome);
        setText(item.children[1], checkName(name));
        setText(item.children[2], isMaking ? t("being worked out") : outcomeWord(outcome));
        setAttr(item.children[2], "class", `check-outcome ${kindOf(outcome)}`);
        setText(item.children[3], figure);
        setText(item.children[4], figure === "" ? "" : limit);
      });
    },
  };
}

/** @param {import("./bayView.js").BayView} view */
function headOf(view) {
  const { result, live, grading } = view;
  if (grading !== null) {
    if (grading === "thickness") return { kind: "missing", label: checkName(grading), word: t("being worked out"), meaning: "" };
    return { kind: "missing", label: checkName(grading), word: t("STOP"), meaning: t("The sweep is over.") };
  }
  if (live.inspection && (result === null || view.isPast)) {
    return { kind: "missing", label: t("Inspection is open"), word: t("NOTHING DONE YET"), meaning: "" };
  }
  if (result === null) return { kind: "missing", label: "", word: t("NO INSPECTION"), meaning: t("Nothing is open at this bay.") };
  const verdict = verdictOf(result);
  if (!view.isPast || result.state === "open") return verdict;
  const ended = (result.signed ?? result.closed ?? result.opened ?? "").slice(0, 10);
  return { ...verdict, label: t("No inspection is open. The last one, {day}: {label}", { day: ended, label: verdict.label }) };
}

/** Reasons in the method's own words, and when it is due again. */
export function createReasons() {
  const title = el("h2");
  const list = el("ul");
  const dueTitle = el("h2");
  const due = el("p", { class: "due" });
  const dueBox = el("section", { class: "panel due-box" }, dueTitle, due);
  const reasonsBox = el("section", { class: "panel reasons" }, title, list);
  const node = el("div", { class: "reasons-column" }, dueBox, reasonsBox);
  return {
    node,
    /** @param {import("./bayView.js").BayView} view */
    show(view) {
      const isTold = view.result !== null && view.grading === null && !(view.isPast && view.live.inspection !== null);
      const said = isTold ? reasonsOf(view.result) : [];
      setShown(reasonsBox, said.length > 0);
      setText(title, t("Why"));
      setText(dueTitle, t("Next due"));
      fill(list, said, () => el("li", {}, el("b"), el("span")), (item, { check, text }) => {
        setText(item.children[0], check === "" ? "" : `${checkName(check)}: `);
        const { text: words, en } = told(text);
        setText(item.children[1], words);
        setAttr(item.children[1], "lang", en ? "en" : null);
      });
      node.toggleAttribute("hidden", said.length === 0 && !(isTold && view.result.next_due));
      const next = isTold ? view.result.next_due : null;
      setShown(dueBox, Boolean(next));
      setText(due, next ? dueWords(next) : "");
    },
  };
}

/**
 * Each as the check it is of, and its words.
 * @param {any} result
 * @returns {{check: string, text: string}[]}
 */
export function reasonsOf(result) {
  const checks = Object.entries(/** @type {Record<string, any>} */ (result.checks));
  const untouched = new Set(checks.filter(([, check]) => UNTOUCHED.includes(check.reason)).map(([name, check]) => `${name}: ${check.reason}`));
  const said = result.reasons.filter((/** @type {string} */ reason) => !untouched.has(reason));
  for (const [name, check] of checks) {
    const isTold = said.some((/** @type {string} */ reason) => reason.startsWith(`${name}:`));
    if (["invalid", "unclear"].includes(check.outcome) && !isTold) said.push(`${name}: ${check.reason}`);
    for (const warning of check.warnings ?? []) said.push(`${name}: ${warning}`);
  }
  if (result.remark) said.push(result.remark);
  return said.map((/** @type {string} */ reason) => {
    const name = reason.split(":", 1)[0];
    const isOfCheck = Object.hasOwn(result.checks, name);
    return isOfCheck ? { check: name, text: reason.slice(name.length + 1).trim() } : { check: "", text: reason };
  });
}
