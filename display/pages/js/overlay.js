// @ts-check
// One surface at two inspections, one over the other: by hand in SVG, seen from the front, the timing mark at the
// top. This one is a solid line, the one before a dashed one; each high spot has an arrowhead and its angle.

import { svg } from "./dom.js";
import { arc, at, MIDDLE, radiusOf, SIZE, spoke } from "./geometry.js";
import { t } from "./words.js";

/** Radii: the surface's middle, half its band, where spokes begin, where angles are written. */
const MID_R = 150;
const HALF_R = 30;
const SPOKES_R = 76;
const ANGLES_R = 234;
/** Of half-bands, how far outside a reading is drawn at most. */
const MOST_HALVES = 2.2;
/** Neighbours further apart than this, and than this many usual steps, are a gap and are not joined, as in the report. */
const GAP = { deg: 10, steps: 3 };
/** Between stops the line goes round with the surface, by steps of so much. */
const ROUND_DEG = 5;
/** How far off its profile an arrowhead stands, how long it is and half as wide. */
const ARROW = { off: 5, long: 19, half: 7 };
/** Which way the engine runs, clockwise: angles of its two ends. */
const RUNS = { from: 337, to: 313, r: 246 };
/** Longest bar of the scale. */
const BAR_MAX = 2 * HALF_R;

/**
 * @param {{now: any, before: any | null, limitMm: number, unit: import("./units.js").LengthUnit, label: string}} shown
 *   now, before: of /api/surfaces
 */
export function overlay({ now, before, limitMm, unit, label }) {
  const node = svg("svg", { class: "overlay", viewBox: `-20 -24 ${SIZE + 40} ${SIZE + 48}`, role: "img", "aria-label": label });
  node.append(
    svg("path", { class: "overlay-band", d: arc(0, 360, MID_R + HALF_R) + arc(0, 360, MID_R - HALF_R), "fill-rule": "evenodd" }),
    ...[HALF_R, -HALF_R].map((off) => svg("circle", { class: "overlay-limit", cx: MIDDLE, cy: MIDDLE, r: MID_R + off })),
    ...spokes([now, before].some((one) => one?.angle_zero === "encoder")),
    running(),
  );
  const drawn = before === null ? [] : [profile(before, limitMm, "before", -1)];
  node.append(...drawn.flat(), ...profile(now, limitMm, "now", 1), ...scaleBar(limitMm, unit));
  return node;
}

/** A short line as it is drawn, for the words beside. @param {"now" | "before"} kind */
export function sample(kind) {
  const line = svg("path", { class: `overlay-${kind}`, d: "M2 8H46" });
  return svg("svg", { class: "sample", viewBox: "0 0 48 16", "aria-hidden": "true" }, line);
}

/** @param {boolean} isUntold the timing mark was not told: 0 degrees is only where an encoder counts from */
function spokes(isUntold) {
  const parts = [];
  for (let deg = 0; deg < 360; deg += 30) {
    parts.push(svg("path", { class: "overlay-grid", d: spoke(deg, SPOKES_R, MID_R + MOST_HALVES * HALF_R) }));
    if (deg % 90 === 0) {
      const { x, y } = at(deg, ANGLES_R);
      const words = deg === 0 ? (isUntold ? t("0° of the encoder") : t("0° timing mark")) : `${deg}°`;
      parts.push(svg("text", { x: x.toFixed(1), y: (y + 6).toFixed(1), "text-anchor": "middle" }, words));
    }
  }
  parts.push(svg("path", { class: "overlay-zero", d: spoke(0, ANGLES_R - 26, ANGLES_R - 12) }));
  return parts;
}

function running() {
  const from = at(RUNS.from, RUNS.r);
  const to = at(RUNS.to, RUNS.r);
  const turn = (RUNS.to * Math.PI) / 180;
  const [alongX, alongY] = [Math.cos(turn), -Math.sin(turn)]; // clockwise there
  const tip = `M${to.x + alongX * 12} ${to.y + alongY * 12}`;
  const sides = `L${to.x - alongY * 6} ${to.y + alongX * 6}L${to.x + alongY * 6} ${to.y - alongX * 6}Z`;
  const path = svg("path", { class: "overlay-runs", d: `M${from.x} ${from.y}A${RUNS.r} ${RUNS.r} 0 0 1 ${to.x} ${to.y}` });
  const { x, y } = at((RUNS.from + RUNS.to) / 2, RUNS.r + 10);
  const words = svg("text", { class: "small", x: x.toFixed(1), y: y.toFixed(1), "text-anchor": "start" }, t("runs"));
  return svg("g", {}, path, svg("path", { class: "overlay-tip", d: tip + sides }), words);
}

/**
 * @param {any} surface @param {number} limitMm @param {"now" | "before"} kind
 * @param {1 | -1} side of its arrowhead: outside, or inside
 */
function profile(surface, limitMm, kind, side) {
  const values = /** @type {number[]} */ (surface.value_mm);
  const midMm = (Math.max(...values) + Math.min(...values)) / 2;
  const radius = (/** @type {number} */ value) =>
    radiusOf(value, { midMm, limitMm, midR: MID_R, halfR: HALF_R, mostHalves: MOST_HALVES });
  const angles = /** @type {number[]} */ (surface.angle_deg);
  const gap = gapOf(angles);
  let path = "";
  angles.forEach((deg, index) => {
    const step = index === 0 ? Infinity : deg - angles[index - 1];
    const isJoined = Math.abs(step) <= gap;
    const pieces = isJoined ? Math.max(1, Math.ceil(Math.abs(step) / ROUND_DEG)) : 1;
    for (let left = pieces - 1; left >= 0; left -= 1) {
      const back = isJoined ? left / pieces : 0;
      const value = back === 0 ? values[index] : values[index] + back * (values[index - 1] - values[index]);
      const { x, y } = at(back === 0 ? deg : deg - back * step, radius(value));
      path += `${isJoined ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`;
    }
  });
  const parts = [svg("path", { class: `overlay-${kind}`, d: path })];
  const high = surface.high_spot_deg;
  if (high === undefined) return parts;
  const r = radius(nearest(surface, high)) + side * ARROW.off;
  const tip = at(high, r);
  const end = at(high, r + side * ARROW.long);
  const [dx, dy] = [((end.y - tip.y) / ARROW.long) * ARROW.half, ((tip.x - end.x) / ARROW.long) * ARROW.half];
  const corners = [tip, { x: end.x + dx, y: end.y + dy }, { x: end.x - dx, y: end.y - dy }];
  const points = corners.map(({ x, y }) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" ");
  const place = at(high, r + side * (ARROW.long + 20));
  const words = svg("text", { class: "overlay-angle", x: place.x.toFixed(1), y: (place.y + 6).toFixed(1), "text-anchor": "middle" }, `${high.toFixed(0)}°`);
  return [...parts, svg("polygon", { class: `overlay-high-${kind}`, points }), words];
}

/** How far apart neighbours may be and are joined yet. @param {number[]} angles */
function gapOf(angles) {
  const steps = angles.slice(1).map((deg, index) => Math.abs(deg - angles[index])).sort((a, b) => a - b);
  return steps.length === 0 ? GAP.deg : Math.max(GAP.deg, GAP.steps * steps[steps.length >> 1]);
}

/** What was read nearest to an angle. @param {any} surface @param {number} deg */
export function nearest(surface, deg) {
  let best = 0;
  let least = Infinity;
  surface.angle_deg.forEach((/** @type {number} */ angle, /** @type {number} */ index) => {
    const apart = Math.abs(((((angle - deg + 180) % 360) + 360) % 360) - 180);
    if (apart < least) [best, least] = [index, apart];
  });
  return surface.value_mm[best];
}

/** How far a profile moves outwards for a round length. @param {number} limitMm @param {import("./units.js").LengthUnit} unit */
function scaleBar(limitMm, unit) {
  const perUnit = (2 * HALF_R) / limitMm / unit.perMm;
  const power = 10 ** Math.floor(Math.log10(BAR_MAX / perUnit));
  const bar = [5, 2, 1].map((factor) => factor * power).find((length) => length * perUnit <= BAR_MAX * 1.001) ?? power;
  const right = bar * perUnit - 8;
  return [
    svg("path", { class: "overlay-bar", d: `M-8 ${SIZE - 6}v12M-8 ${SIZE}H${right.toFixed(1)}m0 -6v12` }),
    svg("text", { x: (right + 8).toFixed(1), y: SIZE + 6 }, `${Number(bar.toPrecision(1))} ${unit.name}`),
  ];
}
