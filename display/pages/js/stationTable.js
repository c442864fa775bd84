// @ts-check
// The casing's thickness at each station, this time and the time before.

import { el } from "./dom.js";
import { table, wide } from "./marks.js";
import { number } from "./units.js";
import { t } from "./words.js";

/**
 * @param {any[]} inspections latest first
 * @param {import("./units.js").LengthUnit} unit
 * @returns {Node[]} nothing where no casing was measured
 */
export function stations(inspections, unit) {
  const [now, before] = inspections.filter((one) => one.stations && one.state !== "abandoned");
  if (now === undefined) return [];
  const places = now.stations.flatMap((/** @type {any} */ one) => [one.outer_mm, one.inner_mm]);
  const [high, low] = [Math.max(...places), Math.min(...places)];
  const written = (/** @type {number} */ mm) => {
    const word = high === low ? "" : { [high]: t("highest"), [low]: t("lowest") }[mm];
    return word ? el("span", {}, el("b", {}, number(unit, mm)), " ", el("small", {}, word)) : number(unit, mm);
  };
  const heads = [t("Station"), t("Outer"), t("Inner"), t("Taper")];
  if (before) heads.push(t("Outer since"), t("Inner since"));
  const rows = now.stations.map((/** @type {any} */ one) => {
    const cells = [`${one.station_deg}°`, written(one.outer_mm), written(one.inner_mm), number(unit, one.taper_mm, { sign: "+" })];
    if (!before) return cells;
    const then = before.stations.find((/** @type {any} */ other) => other.station_deg === one.station_deg);
    const since = (/** @type {"outer_mm" | "inner_mm"} */ key) => (then ? number(unit, one[key] - then[key], { sign: "+" }) : null);
    return [...cells, since("outer_mm"), since("inner_mm")];
  });
  const title = t("Thickness of the casing, {unit}", { unit: unit.name });
  const when = before
    ? t("Measured {now}; “since” is against {before}.", { now: now.date, before: before.date })
    : t("Measured {now}.", { now: now.date });
  return [
    el(
      "section",
      { class: "panel stations" },
      el("h2", {}, title),
      el("p", { class: "soft" }, when, " ", t("Station 0° is at the timing mark; counted against the clock, seen from the front.")),
      wide(title, table(title, heads, rows, { numbers: [1, 2, 3, 4, 5], isHidden: true })),
    ),
  ];
}
