// @ts-check
// The dial of the crank, by hand in SVG: where the gauge stands on the damper, what is covered, where it is high,
// where to stop next, and what was read so far, much magnified.

import { setAttr, setShown, setText, svg } from "./dom.js";
import { arc, at, line, MIDDLE, radiusOf, SIZE, spoke, turned } from "./geometry.js";
import { highestDeg, sectors } from "./trace.js";
import { t } from "./words.js";

/**
 * bins, changes: of the trace. joinDeg: see sectors. deg: where the gauge stands on the damper; null: not known now. crankDeg: where the crank is. next: the
 * mark to stop at. isUntold: 0 degrees is only where an encoder counts from. what: whose dial it is with its figure, where there are two. name: of what is shown while the crank is not known. high: where it is high by the grade; null: where it was read highest so far.
 * @typedef {{bins: (number | null)[] | null, changes: number, joinDeg: number, deg: number | null, crankDeg: number | null,
 *   name: string, what: {of: string, figure: string} | null, valueMm: number | null, minMm: number | null, maxMm: number | null, limitMm: number | null,
 *   nextDeg: number | null, highDeg: number | null, isAbove: boolean, isUntold: boolean}} DialShown
 */

/** Radii, from outside: the timing mark's name, beyond the sign of a stop there, the covered ring and its width, the surface's middle, half its band. */
const ANGLES_R = 255;
const RING_R = 220;
const RING_WIDE = 16;
/** Where 90, 180 and 270 stand: within the ring, outside of what is drawn of the surface. */
const INNER_R = 196;
const MID_R = 138;
const HALF_R = 24;
/** Of half-bands, how far outside a reading is drawn at most. */
const MOST_HALVES = 2;
/** Where the caption stands, and how far beneath it the figure, where there are two dials. */
const CAPTION_Y = SIZE + 34;
const FIGURE_DY = 42;
/** What is drawn: from above the mark's name to beneath the caption. */
const TOP = -34;
/** The arrow of running: clockwise, seen from the front, as the report's. */
const RUNS = { from: 336, to: 316, r: 248 };

const text = (/** @type {string} */ kind, x = 0, y = 0) =>
  svg("text", { class: kind, x: x.toFixed(1), y: y.toFixed(1), "text-anchor": "middle" });

export function createDial() {
  const ring = svg("path", { class: "dial-covered", "stroke-width": RING_WIDE, fill: "none" });
  const surface = svg("path", { class: "dial-trace", fill: "none" });
  const bands = [HALF_R, -HALF_R].map((off) =>
    svg("circle", { class: "dial-band", cx: MIDDLE, cy: MIDDLE, r: MID_R + off, fill: "none" }),
  );
  const needle = svg(
    "g",
    { class: "dial-needle" },
    svg("path", { d: spoke(0, 74, RING_R - RING_WIDE / 2 - 2) }),
    // The plunger's tip, pointing at the damper from outside, where the gauge sits.
    svg("path", { class: "dial-tip", d: `M${MIDDLE} ${MIDDLE - RING_R + 10}l-15 -30h30z` }),
  );
  const tip = svg("circle", { class: "dial-now", r: 8 });
  const stop = svg(
    "g",
    { class: "dial-stop" },
    svg("path", { d: spoke(0, RING_R - 24, RING_R + 24) }),
    svg("path", { d: `M${MIDDLE - 16} ${MIDDLE - RING_R - 24}h32M${MIDDLE - 16} ${MIDDLE - RING_R + 24}h32` }),
  );
  const stopText = text("dial-stop-text");
  const high = svg("path", { class: "dial-high", d: `M${MIDDLE} ${MIDDLE - MID_R - MOST_HALVES * HALF_R - 2}l-10 -17h20z` });
  const highText = text("dial-high-text", MIDDLE, MIDDLE + 52);
  const degrees = text("dial-deg", MIDDLE, MIDDLE + 6);
  const under = text("dial-under", MIDDLE, MIDDLE + 29);
  const of = svg("tspan");
  const figure = svg("tspan", { class: "dial-figure", x: MIDDLE, dy: FIGURE_DY });
  const caption = text("dial-caption", MIDDLE, CAPTION_Y);
  caption.append(of, figure);
  const runs = text("dial-runs", MIDDLE + 203, 24);
  const mark = text("dial-angle");

  const node = svg(
    "svg",
    { class: "dial", role: "img" },
    svg("circle", { class: "dial-track", cx: MIDDLE, cy: MIDDLE, r: RING_R, "stroke-width": RING_WIDE, fill: "none" }),
    ring,
    svg("path", { class: "dial-ticks", d: ticks(), fill: "none" }),
    ...bands,
    surface,
    svg("path", { class: "dial-zero", d: spoke(0, RING_R - 20, RING_R + 12) }),
    ...[90, 180, 270].map((deg) => angle(deg)),
    mark,
    svg("path", { class: "dial-arrow", d: arrow(), fill: "none" }),
    runs,
    high,
    stop,
    stopText,
    needle,
    tip,
    highText, // over the needle, which may pass there
    degrees,
    under,
    caption,
  );

  let drawn = "";
  return {
    node,
    /** @param {DialShown} shown */
    show(shown) {
      const { bins, joinDeg, deg, valueMm, minMm, maxMm, limitMm, nextDeg } = shown;
      const isScaled = limitMm !== null && minMm !== null && maxMm !== null;
      const scale = {
        midMm: ((minMm ?? 0) + (maxMm ?? 0)) / 2, limitMm: limitMm || 1, midR: MID_R, halfR: HALF_R, mostHalves: MOST_HALVES,
      };
      const radius = (/** @type {number} */ value) => radiusOf(value, scale);
      const key = `${shown.changes} ${bins === null} ${joinDeg} ${scale.midMm} ${limitMm}`;
      if (key !== drawn) {
        drawn = key;
        setAttr(ring, "d", (bins === null ? [] : sectors(bins, joinDeg)).map(([a, b]) => arc(a, Math.max(b, a + 1), RING_R)).join(""));
        setAttr(surface, "d", bins === null || !isScaled ? "" : line(bins, joinDeg, radius));
      }
      for (const band of bands) setShown(band, limitMm !== null);
      setAttr(node, "data-above", shown.isAbove);

      const topDeg = shown.highDeg ?? (bins === null ? null : highestDeg(bins));
      setShown(high, topDeg !== null);
      setShown(highText, topDeg !== null);
      if (topDeg !== null) {
        setAttr(high, "transform", turned(topDeg));
        const said = { deg: topDeg.toFixed(0) };
        setText(highText, shown.highDeg === null ? t("highest: {deg}°", said) : t("high spot {deg}°", said));
      }
      setShown(stop, nextDeg !== null);
      setShown(stopText, nextDeg !== null);
      if (nextDeg !== null) {
        setAttr(stop, "transform", turned(nextDeg));
        place(stopText, nextDeg, MID_R + HALF_R, t("stop at {deg}°", { deg: +(nextDeg % 360).toFixed(1) }));
      }
      setShown(needle, deg !== null);
      if (deg !== null) setAttr(needle, "transform", turned(deg));
      const isTipped = deg !== null && valueMm !== null && isScaled;
      setShown(tip, isTipped);
      if (isTipped) {
        const { x, y } = at(deg, radius(valueMm));
        setAttr(tip, "cx", x.toFixed(1));
        setAttr(tip, "cy", y.toFixed(1));
      }
      setText(degrees, shown.crankDeg === null ? "" : `${(Math.floor(shown.crankDeg) % 360).toFixed(0)}°`);
      setText(under, shown.crankDeg === null ? shown.name : t("crank"));
      setText(runs, t("engine runs"));
      const isOfTwo = shown.what !== null;
      setText(of, isOfTwo ? `${shown.what?.of}: ` : t("seen from the front, magnified; dashed: the limit"));
      setText(figure, shown.what?.figure ?? "");
      // Where there are two they are small: less is said, larger.
      setAttr(node, "data-two", isOfTwo);
      setAttr(node, "viewBox", `-14 ${TOP} ${SIZE + 28} ${CAPTION_Y - TOP + (isOfTwo ? FIGURE_DY : 0) + 10}`);
      setText(mark, shown.isUntold ? t("0° of the encoder") : t("0° timing mark"));
      setAttr(mark, "x", MIDDLE);
      setAttr(mark, "y", MIDDLE - ANGLES_R);
      setAttr(node, "aria-label", t("Dial of the crank, seen from the front"));
    },
  };
}

/** @param {SVGElement} node @param {number} deg @param {number} r @param {string} said */
function place(node, deg, r, said) {
  const { x, y } = at(deg, r);
  setAttr(node, "x", x.toFixed(1));
  setAttr(node, "y", (y + 6).toFixed(1));
  setText(node, said);
}

/** @param {number} deg */
function angle(deg) {
  const { x, y } = at(deg, INNER_R - (deg === 180 ? 0 : deg === 90 ? 5 : 9));
  const node = text("dial-angle", x, y + 7);
  node.textContent = `${deg}°`;
  return node;
}

function ticks() {
  let path = "";
  for (let deg = 0; deg < 360; deg += 10) path += spoke(deg, RING_R + 10, RING_R + (deg % 30 === 0 ? 20 : 15));
  return path;
}

/** Towards falling angles, with its head at the end. */
function arrow() {
  const { from, to, r } = RUNS;
  const head = at(to, r);
  const back = [at(to + 4, r + 7), at(to + 4, r - 7)];
  return (
    arc(to, from, r) +
    back.map(({ x, y }) => `M${head.x.toFixed(1)} ${head.y.toFixed(1)}L${x.toFixed(1)} ${y.toFixed(1)}`).join("")
  );
}
