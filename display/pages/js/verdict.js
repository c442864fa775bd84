// @ts-check
// What checks and verdicts are called and look like: each outcome has a word and a shape, so that no colour is
// needed to tell them apart.

import { svg } from "./dom.js";
import { number } from "./units.js";
import { t } from "./words.js";

/** @type {Record<string, () => string>} */
const CHECKS = {
  suitability: () => t("does it belong here"),
  visual: () => t("look on the engine"),
  rim: () => t("rim run-out"),
  face: () => t("face wobble"),
  "visual-bench": () => t("look on the bench"),
  thickness: () => t("thickness"),
  penetrant: () => t("penetrant test"),
  "warm-leak": () => t("warm leak test"),
  lifts: () => t("repeatability of the gauge"),
};

/** @type {Record<string, () => string>} */
const OUTCOMES = {
  within: () => t("within"),
  good: () => t("good"),
  over: () => t("OVER"),
  bad: () => t("BAD"),
  unclear: () => t("unclear"),
  invalid: () => t("invalid"),
  missing: () => t("not done yet"),
};

/** @type {Record<string, () => string>} */
const VERDICTS = {
  keep: () => t("KEEP"),
  replace: () => t("REPLACE"),
  "measure-again": () => t("MEASURE AGAIN"),
  incomplete: () => t("INCOMPLETE"),
};

/** @type {Record<string, () => string>} */
const MEANINGS = {
  keep: () => t("the damper may stay on"),
  replace: () => t("the damper must not stay on"),
  "measure-again": () => t("it is not settled"),
  incomplete: () => t("something is not done"),
};

/** A daemon that is newer may have words of its own: they are shown as they come. */
const said = (/** @type {Record<string, () => string>} */ words, /** @type {string} */ key) => (Object.hasOwn(words, key) ? words[key]() : key);

export const checkName = (/** @type {string} */ check) => said(CHECKS, check);
export const outcomeWord = (/** @type {string} */ outcome) => said(OUTCOMES, outcome);
export const verdictWord = (/** @type {string} */ verdict) => said(VERDICTS, verdict);
export const verdictMeaning = (/** @type {string} */ verdict) => said(MEANINGS, verdict);

/** Of an outcome or a verdict. @type {Record<string, string>} */
const KINDS = {
  within: "good", good: "good", keep: "good", over: "bad", bad: "bad", replace: "bad", unclear: "doubt",
  "measure-again": "doubt", invalid: "void", missing: "open", incomplete: "open",
};

/** The class that colours it. @param {string} outcome */
export const kindOf = (outcome) => (Object.hasOwn(KINDS, outcome) ? KINDS[outcome] : "open");

/** @type {Record<string, () => SVGElement[]>} */
const SHAPES = {
  good: () => [svg("circle", { cx: 12, cy: 12, r: 8, fill: "none", "stroke-width": 4.5 })],
  bad: () => [
    svg("rect", { x: 2, y: 2, width: 20, height: 20, fill: "currentColor", stroke: "none" }),
    svg("rect", { x: 5.5, y: 10, width: 13, height: 4, fill: "var(--panel)", stroke: "none" }),
  ],
  doubt: () => [svg("path", { d: "M12 2.5L21.5 12L12 21.5L2.5 12Z", fill: "none", "stroke-width": 3 })],
  void: () => [
    svg("path", { d: "M12 3L22 21H2Z", fill: "none", "stroke-width": 2.4 }),
    svg("path", { d: "M9 12.5H15M7 16.5H17", "stroke-width": 2.2 }),
  ],
  open: () => [
    svg("circle", { cx: 12, cy: 12, r: 9, fill: "none", "stroke-width": 3, "stroke-dasharray": "2.2 3.455" }),
  ],
};

/**
 * A node that shows one shape at a time; made anew only when it is another.
 */
export function shape() {
  const node = svg("svg", { class: "shape", viewBox: "0 0 24 24", "aria-hidden": "true", stroke: "currentColor" });
  let shown = "";
  return {
    node,
    /** @param {string} outcome */
    show(outcome) {
      const kind = kindOf(outcome);
      if (kind === shown) return;
      shown = kind;
      node.setAttribute("class", `shape ${kind}`);
      node.replaceChildren(...SHAPES[kind]());
    },
  };
}

/**
 * The figure that was decided with its unit, and its limit in the same; of what is not judged no figure.
 * @param {any} check
 * @param {import("./units.js").LengthUnit} unit
 * @returns {{figure: string, limit: string}}
 */
export function checkFigures(check, unit) {
  if (check.limit_mm === undefined) return { figure: "", limit: "" };
  const best = check.true_tir_mm ?? check.true_spread_mm ?? check.tir_mm ?? check.spread_mm;
  let figure = "";
  if (check.outcome !== "invalid" && best !== undefined && best !== null) {
    const u = check.u_expanded_mm ?? null;
    figure = `${number(unit, best)}${u === null ? "" : ` ± ${number(unit, u)}`} ${unit.name}`;
  }
  return { figure, limit: t("limit {limit}", { limit: number(unit, check.limit_mm) }) };
}

/** What stands in a verdict's place where bays issued results that contradict each other. */
export const CONTRADICTED = () => ({ word: t("CONTRADICTED"), kind: "measure-again" });

/** What stands in the place of a `keep` that does not stand. */
export const UNCOUNTED = () => ({ word: t("DOES NOT COUNT"), kind: "measure-again" });

/**
 * What the verdict says, as it is to be shown: of an inspection that goes on it is none yet, and a signer's own
 * decision stands before it. Of one whose results contradict each other there is none.
 * @param {any} result
 * @returns {{word: string, kind: string, label: string, meaning: string}}
 */
export function verdictOf(result) {
  // The wall, which anybody sees, is not told who signed.
  const { state, verdict, decision, signed_by: name = "" } = result;
  if (state === "abandoned" && result.closed && ["replace", "measure-again"].includes(verdict)) {
    return { word: t("ABANDONED"), kind: verdict, label: t("What it found stands: {verdict}", { verdict: verdictWord(verdict) }), meaning: verdictMeaning(verdict) };
  }
  if (state === "abandoned") {
    return { word: t("ABANDONED"), kind: "incomplete", label: t("It does not count"), meaning: "" };
  }
  if (result.contradicted) {
    return { ...CONTRADICTED(), label: t("It does not count"), meaning: "" };
  }
  if (result.uncounted) return { ...UNCOUNTED(), label: "", meaning: "" };
  if (decision) {
    return { word: verdictWord(decision), kind: decision, label: signedAgainst(verdict, name), meaning: verdictMeaning(decision) };
  }
  const labels = {
    open: t("Verdict so far, not closed yet"),
    closed: t("Verdict, not signed yet"),
    signed: name ? t("Verdict, signed by {name}", { name }) : t("Verdict, signed"),
  };
  return { word: verdictWord(verdict), kind: verdict, label: labels[/** @type {"open"} */ (state)] ?? state, meaning: verdictMeaning(verdict) };
}

/** What stands beside a signer's own decision. @param {string} verdict @param {string} [name] */
export function signedAgainst(verdict, name = "") {
  const said = { name, verdict: verdictWord(verdict) };
  return name ? t("Signed by {name}, against the verdict {verdict}", said) : t("Signed, against the verdict {verdict}", said);
}

/** @param {any} due */
export function dueWords(due) {
  const grouped = (/** @type {number} */ number) => number.toFixed(0).replace(/\B(?=(\d{3})+$)/g, "\u202f");
  const parts = [];
  if (due.hours_h !== undefined && due.hours_h !== null) parts.push(`${grouped(due.hours_h)} h`);
  if (due.distance_km !== undefined && due.distance_km !== null) parts.push(`${grouped(due.distance_km)} km`);
  // Joined, so that a date is not broken at its hyphens.
  if (due.date) parts.push(due.date.replaceAll("-", "\u2060-\u2060"));
  const all = parts.join(t(" or "));
  return parts.length > 1 ? t("{due}, whichever comes first", { due: all }) : all;
}
