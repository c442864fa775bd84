// @ts-check
// The map of a casing's thickness, seen from the front: two places at each station, filled as they are measured,
// the next one picked out. Stations lie as crank angles do.

import { fill, setAttr, setShown, setText, svg } from "./dom.js";
import { at, MIDDLE, SIZE } from "./geometry.js";
import { number } from "./units.js";
import { t } from "./words.js";

/**
 * @typedef {{station_deg: number, radius: "outer" | "inner", value_mm: number}} Place
 * @typedef {{places: readonly Place[], next: {station: number, radius: string} | null,
 *   unit: import("./units.js").LengthUnit}} MapShown
 */

/** Where most methods have their stations; others come as they are heard of. */
const USUAL = [0, 90, 180, 270];
const EDGE_R = 238;
const BORE_R = 30;
const R = { outer: 180, inner: 82 };
const BOX = { wide: 97, high: 58 };

export function createMap() {
  const lines = svg("g", { class: "map-lines" });
  const boxes = svg("g");
  const names = svg("g");
  const zero = svg(
    "g",
    { class: "map-zero" },
    svg("circle", { cx: MIDDLE, cy: MIDDLE, r: BORE_R }),
    svg("text", { x: MIDDLE, y: MIDDLE + 7, "text-anchor": "middle" }),
  );
  const caption = svg("text", { class: "map-caption", x: MIDDLE, y: SIZE + 42, "text-anchor": "middle" });
  const node = svg(
    "svg",
    { class: "map", viewBox: `-24 -32 ${SIZE + 48} ${SIZE + 82}`, role: "img" },
    svg("circle", { class: "map-casing", cx: MIDDLE, cy: MIDDLE, r: EDGE_R }),
    lines,
    zero,
    boxes,
    names,
    caption,
  );
  return {
    node,
    /** @param {MapShown} shown */
    show({ places, next, unit }) {
      const heard = [...places.map((place) => place.station_deg), ...(next === null ? [] : [next.station])];
      const stations = [...new Set([...USUAL.filter(() => !heard.some((deg) => !USUAL.includes(deg))), ...heard])].sort((a, b) => a - b);
      const values = places.map((place) => place.value_mm);
      const high = Math.max(...values);
      const low = Math.min(...values);
      fill(lines, stations, () => svg("line"), (line, deg) => {
        const [from, to] = [at(deg, BORE_R), at(deg, EDGE_R + 8)];
        for (const [name, value] of Object.entries({ x1: from.x, y1: from.y, x2: to.x, y2: to.y })) setAttr(line, name, value.toFixed(1));
      });
      fill(names, stations, () => svg("text", { class: "map-station", "text-anchor": "middle" }), (name, deg) => {
        const { x, y } = at(deg, EDGE_R + (deg % 180 === 0 ? 16 : 0));
        const aside = deg % 180 === 0 ? 0 : -(BOX.high / 2 + 14);
        setAttr(name, "x", x.toFixed(1));
        setAttr(name, "y", (y + aside + (deg === 180 ? 12 : 0)).toFixed(1));
        setText(name, deg === 0 ? t("0° timing mark") : `${+deg.toFixed(1)}°`);
      });
      const cells = stations.flatMap((station) => /** @type {const} */ (["outer", "inner"]).map((radius) => ({ station, radius })));
      fill(boxes, cells, box, (group, { station, radius }) => {
        const found = places.find((place) => place.station_deg === station && place.radius === radius);
        const isNext = next !== null && next.station === station && next.radius === radius;
        const word = isNext ? t("next") : found === undefined || high === low ? "" : { [high]: t("highest"), [low]: t("lowest") }[found.value_mm] ?? "";
        const { x, y } = at(station, R[radius]);
        setAttr(group, "transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})`);
        setAttr(group, "data-next", isNext);
        setAttr(group, "data-empty", found === undefined);
        setText(group.children[1], number(unit, found?.value_mm));
        setText(group.children[2], word);
        setAttr(group.children[1], "y", word === "" ? 9 : 0);
      });
      const isZero = next?.radius === "zero";
      setAttr(zero, "data-next", isZero);
      setShown(zero.children[1], isZero);
      setText(zero.children[1], t("zero"));
      setText(caption, t("seen from the front"));
      setAttr(node, "aria-label", t("Map of the casing's thickness, seen from the front"));
    },
  };
}

function box() {
  return svg(
    "g",
    { class: "map-place" },
    svg("rect", { x: -BOX.wide / 2, y: -BOX.high / 2, width: BOX.wide, height: BOX.high, rx: 5 }),
    svg("text", { class: "map-value", "text-anchor": "middle" }),
    svg("text", { class: "map-word", "text-anchor": "middle", y: 22 }),
  );
}
