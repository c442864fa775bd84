// @ts-check
// One bay among several, for who looks after all of them: a button that makes it large.

import { clock } from "./bayView.js";
import { el, fill, setAttr, setShown, setText } from "./dom.js";
import { nextWords } from "./figure.js";
import { gaugeState } from "./says.js";
import { told } from "./told.js";
import { length, number } from "./units.js";
import { checkName, kindOf, outcomeWord, shape, verdictOf } from "./verdict.js";
import { t } from "./words.js";

/** @param {(bay: string) => void} enlarge */
export function createTile(enlarge) {
  const name = el("span", { class: "tile-name" });
  const what = el("span", { class: "tile-what" });
  const mark = shape();
  const digits = el("span", { class: "tile-digits" });
  const unitNode = el("span", { class: "tile-unit" });
  const words = el("span", { class: "tile-words" });
  const checks = el("span", { class: "tile-checks" });
  const said = el("span", { class: "tile-said" });
  const node = el(
    "button",
    { type: "button", class: "tile" },
    el("span", { class: "tile-head" }, name, what),
    el("span", { class: "tile-big" }, mark.node, digits, unitNode),
    words,
    said,
    checks,
  );
  let bay = "";
  node.addEventListener("click", () => enlarge(bay));
  /** @type {WeakMap<Element, ReturnType<typeof shape>>} */
  const marks = new WeakMap();
  const one = () => {
    const own = shape();
    const item = el("span", { class: "tile-check" }, own.node, el("span"));
    marks.set(item, own);
    return item;
  };

  return {
    node,
    /**
     * @param {string} key
     * @param {import("./bayView.js").BayView} view
     * @param {import("./units.js").LengthUnit} unit
     */
    show(key, view, unit) {
      bay = key;
      setText(name, key);
      setAttr(node, "data-mode", view.mode);
      setAttr(node, "data-above", view.isAbove);
      const big = bigOf(view, unit);
      setText(what, big.what);
      setText(digits, big.text);
      setAttr(digits, "class", `tile-digits${big.isWord ? " word" : ""} ${big.kind === "" ? "" : kindOf(big.kind)}`);
      digits.style.setProperty("--letters", String(Math.max(6, big.text.length)));
      setText(unitNode, big.unit);
      setShown(mark.node, big.kind !== "");
      if (big.kind !== "") mark.show(big.kind);
      setText(words, big.words);
      setShown(words, big.words !== "");
      const shown = view.mode === "idle" && view.grading === null && !isOfAnother(view) ? Object.entries(view.result.checks) : [];
      setShown(checks, shown.length > 0);
      fill(checks, grouped(shown), one, (item, { outcome, text }) => {
        marks.get(item)?.show(outcome);
        setText(item.children[1], text);
      });
      const lines = saidOf(view);
      setShown(said, lines !== "");
      setText(said, lines);
    },
  };
}

/**
 * @param {import("./bayView.js").BayView} view
 * @param {import("./units.js").LengthUnit} unit
 */
function bigOf(view, unit) {
  const none = { what: "", text: "", unit: "", kind: "", words: "", isWord: false };
  if (view.away !== null) return { ...none, text: view.away.head, words: told(view.away.why).text, isWord: true };
  if (view.mode === "idle") {
    if (view.grading !== null) return { ...none, what: checkName(view.grading), text: view.grading === "thickness" ? t("being worked out") : t("STOP"), isWord: true };
    if (isOfAnother(view)) return { ...none, text: view.live.inspection ? t("NOTHING DONE YET") : t("NO INSPECTION"), isWord: true };
    const { word, kind, label: whole } = verdictOf(view.result);
    const label = view.result.state === "open" ? t("so far") : whole;
    // By its engine: a bay may hold another by now.
    const engine = view.result.engine?.serial ?? view.result.damper?.serial ?? "";
    const what = view.isPast ? t("No inspection is open") : "";
    return { ...none, what, text: word, kind, words: [engine, label].filter(Boolean).join("  ·  "), isWord: true };
  }
  const next = nextWords(view).text;
  const { live } = view;
  if (view.mode === "lifts") return { ...none, what: checkName("lifts"), text: `${live.lifts ?? 0}/${live.lifts_wanted ?? "–"}`, words: next };
  const limit = view.limitMm === null ? "" : t("limit {limit}", { limit: length(unit, view.limitMm) });
  // By its engine: who looks after several bays asks which one is barred.
  const engine = isOfAnother(view) ? "" : view.result.engine?.serial ?? view.result.damper?.serial ?? "";
  return {
    what: [engine, checkName(view.check ?? "")].filter(Boolean).join("  ·  "),
    text: number(unit, view.deviationMm),
    unit: view.deviationMm === null ? "" : unit.name,
    kind: view.isAbove ? "over" : "",
    words: [view.isAbove ? t("ABOVE THE LIMIT") : limit, next].filter(Boolean).join("  ·  "),
    isWord: false,
  };
}

/** Whether nothing was heard yet of what the inspection that is open came to. @param {import("./bayView.js").BayView} view */
function isOfAnother({ result, isPast, live }) {
  return result === null || (isPast && Boolean(live.inspection));
}

/**
 * What is done and good, and what is not begun, are numbers; all else is named.
 * @param {[string, any][]} checks
 * @returns {{outcome: string, text: string}[]}
 */
function grouped(checks) {
  const of = (/** @type {string} */ kind) => checks.filter(([, { outcome }]) => kindOf(outcome) === kind);
  const others = checks.filter(([, { outcome }]) => !["good", "open"].includes(kindOf(outcome)));
  return [
    ...others.map(([check, { outcome }]) => ({ outcome, text: `${checkName(check)}: ${outcomeWord(outcome)}` })),
    { outcome: "good", text: t("good: {number}", { number: of("good").length }) },
    { outcome: "missing", text: t("not done yet: {number}", { number: of("open").length }) },
  ].filter(({ outcome }) => others.some(([, other]) => other.outcome === outcome) || of(kindOf(outcome)).length > 0);
}

/** Dwells, warnings and gauges that are needed, in short. @param {import("./bayView.js").BayView} view */
function saidOf(view) {
  const said = view.timers.map((timer) => {
    const state = { "may-end": t("MAY END NOW"), long: t("TOO LONG"), ended: t("ended, record it"), running: "" }[/** @type {"long"} */ (timer.state)];
    return `${timer.item} ${clock(timer.seconds)} ${state}`.trim();
  });
  for (const gauge of new Set([view.gaugeAway, view.crankAway])) if (gauge !== null) said.push(`${gauge.id}: ${gaugeState(gauge.state)}`);
  return [...said, ...view.warnings.map((text) => told(text).text)].join("\n");
}
