// @ts-check
// The figure that matters, to be read from afar: what a sweep has come to so far against its limit, and how far
// to bar yet.

import { el, setAttr, setShown, setText } from "./dom.js";
import { told } from "./told.js";
import { length, number } from "./units.js";
import { checkName, shape } from "./verdict.js";
import { t } from "./words.js";

/** Barred back by less is a hand that rests. */
const BACK_SHOWN_DEG = 1;
/** Share of the scale at which the limit stands: beyond it is room for what is above. */
const LIMIT_AT = 0.75;

export function createFigure() {
  const name = el("h1", { class: "figure-check" });
  const what = el("p", { class: "figure-what" });
  const digits = el("span", { class: "figure-digits" });
  const unitNode = el("span", { class: "figure-unit" });
  const block = shape();
  block.show("over");
  const aboveWords = el("span");
  const above = el("p", { class: "above" }, block.node, aboveWords);
  const filled = el("div", { class: "scale-filled" });
  const limitWords = el("p", { class: "scale-words" });
  const scale = el("div", { class: "scale" }, filled, el("div", { class: "scale-limit" }));
  const bar = el("p", { class: "bar-on" });
  const beside = el("p", { class: "figure-beside" });
  const node = el(
    "section",
    { class: "figure" },
    el("header", {}, name, what),
    el("p", { class: "figure-big" }, digits, unitNode),
    above,
    el("div", { class: "scale-row" }, scale, limitWords),
    bar,
    beside,
  );
  return {
    node,
    /**
     * @param {import("./bayView.js").BayView} view
     * @param {import("./units.js").LengthUnit} unit
     */
    show(view, unit) {
      const big = view.mode === "lifts" ? lifts(view.live) : number(unit, view.deviationMm);
      setText(name, checkName(view.check ?? ""));
      setText(what, whatOf(view));
      setText(digits, big);
      // How many letters must find room beside each other.
      node.style.setProperty("--letters", String(Math.max(4, big.length)));
      setText(unitNode, view.mode === "lifts" || view.deviationMm === null ? "" : unit.name);
      setAttr(node, "data-above", view.isAbove);
      setShown(above, view.isAbove);
      setText(aboveWords, t("ABOVE THE LIMIT"));
      const hasLimit = view.limitMm !== null && view.mode !== "lifts";
      setShown(/** @type {Element} */ (scale.parentElement), hasLimit);
      if (hasLimit) {
        const share = Math.min(1, ((view.deviationMm ?? 0) / /** @type {number} */ (view.limitMm)) * LIMIT_AT);
        filled.style.setProperty("transform", `scaleX(${share.toFixed(4)})`);
        setText(limitWords, t("limit {limit}", { limit: length(unit, view.limitMm) }));
      }
      const next = nextWords(view);
      setText(bar, next.text);
      setAttr(bar, "lang", next.en ? "en" : null);
      setAttr(bar, "data-sentence", view.mode === "lifts");
      setShown(bar, next.text !== "");
      setText(beside, besideWords(view, unit).join("  ·  "));
    },
  };
}

/** @param {any} live */
const lifts = (live) => `${live.lifts ?? 0}/${live.lifts_wanted ?? "–"}`;

/** @param {import("./bayView.js").BayView} view */
function whatOf({ mode }) {
  return { turn: t("so far"), places: t("spread so far"), lifts: t("lifts") }[/** @type {"turn"} */ (mode)] ?? "";
}

/**
 * What to do next, large.
 * @param {import("./bayView.js").BayView} view
 * @returns {{text: string, en?: boolean}}
 */
export function nextWords({ mode, live, gaugeAway, crankAway }) {
  if (mode === "lifts") return told(live.next_step ?? "");
  if (mode === "places") return { text: placeWords(live) };
  // Somebody may be at the plug.
  if (gaugeAway !== null || crankAway !== null) return { text: t("stop barring") };
  // Rounded so that nobody stops too soon.
  if (live.to_bar_deg !== null && live.to_bar_deg !== undefined) {
    return { text: t("bar {deg}° more", { deg: Math.ceil(live.to_bar_deg) }) };
  }
  if (live.next_mark_deg !== null && live.next_mark_deg !== undefined) {
    return { text: t("bar on to {deg}°", { deg: +(live.next_mark_deg % 360).toFixed(1) }) };
  }
  return { text: "" };
}

/** @param {any} live */
function placeWords(live) {
  if (live.next_station_deg === null || live.next_station_deg === undefined) return t("every place is measured");
  if (live.next_radius === "zero") return t("next: zero, closed or on its standard");
  const where = live.next_radius === "outer" ? t("outer") : t("inner");
  return t("next: {deg}° {where}", { deg: +live.next_station_deg.toFixed(1), where });
}

/**
 * @param {import("./bayView.js").BayView} view
 * @param {import("./units.js").LengthUnit} unit
 */
function besideWords({ mode, live, valueMm, deviationMm }, unit) {
  const said = [];
  if (mode === "turn" && valueMm !== null) said.push(t("now {value}", { value: length(unit, valueMm, { sign: "+" }) }));
  if (mode === "lifts" && deviationMm !== null) said.push(t("they differ by {length}", { length: length(unit, deviationMm) }));
  if (mode === "turn" && live.covered_deg !== null) said.push(t("covered {deg}°", { deg: Math.floor(live.covered_deg) }));
  if (live.back_deg !== null && live.back_deg >= BACK_SHOWN_DEG) said.push(t("barred back {deg}°", { deg: live.back_deg.toFixed(0) }));
  if (mode !== "lifts") said.push(t("readings: {number}", { number: live.readings }));
  if (live.lost > 0) said.push(t("lost: {number}", { number: live.lost }));
  return said;
}
