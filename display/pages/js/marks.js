// @ts-check
// Small parts that the pages of the records are made of: a shape with its word, a figure on its scale, a table.

import { el, svg } from "./dom.js";
import { number } from "./units.js";
import { kindOf, shape } from "./verdict.js";

/** A shape and its word. @param {string} outcome @param {string} word */
export function marked(outcome, word) {
  const drawn = shape();
  drawn.show(outcome);
  return el("span", { class: `marked ${kindOf(outcome)}` }, drawn.node, el("b", {}, word));
}

/**
 * Figure and uncertainty.
 * @param {import("./units.js").LengthUnit} unit
 * @param {any} visit
 */
export function figureText(unit, visit) {
  if (visit.figure_mm === undefined || visit.u_expanded_mm === undefined) return null;
  return `${number(unit, visit.figure_mm)} ± ${number(unit, visit.u_expanded_mm)}`;
}

const SCALE = { width: 132, height: 16, to: 1.3 };

/**
 * A figure between nothing and its limit: a dot with its uncertainty, the limit a thick stroke. What is further
 * than a third above is drawn at the end. For the eye: the figure stands beside it.
 * @param {any} visit
 */
export function scale(visit) {
  const x = (/** @type {number} */ mm) => 3 + Math.min(Math.max(mm / visit.limit_mm, 0), SCALE.to) * ((SCALE.width - 6) / SCALE.to);
  const node = svg("svg", { class: "scale", viewBox: `0 0 ${SCALE.width} ${SCALE.height}`, "aria-hidden": "true" });
  const [low, high] = [visit.figure_mm - visit.u_expanded_mm, visit.figure_mm + visit.u_expanded_mm];
  node.append(
    svg("path", { class: "scale-line", d: `M3 8H${SCALE.width - 3}` }),
    svg("path", { class: "scale-limit", d: `M${x(visit.limit_mm).toFixed(1)} 0V16` }),
    svg("path", { class: "scale-u", d: `M${x(low).toFixed(1)} 8H${x(high).toFixed(1)}` }),
    svg("circle", { class: "scale-at", cx: x(visit.figure_mm).toFixed(1), cy: 8, r: 4 }),
  );
  return node;
}

/**
 * A table whose cells say their column where it is narrow. Roles are told, as a style takes them away there.
 * @param {string} caption
 * @param {string[]} heads
 * @param {(Node | string | null)[][]} rows the first of each is its head
 * @param {{numbers?: number[], isHidden?: boolean}} [how] numbers: columns of figures; isHidden: of the caption
 */
export function table(caption, heads, rows, { numbers = [], isHidden = false } = {}) {
  const kind = (/** @type {number} */ column) => (numbers.includes(column) ? "figure" : null);
  const head = el("tr", { role: "row" });
  heads.forEach((text, column) => head.append(el("th", { scope: "col", role: "columnheader", class: kind(column) }, text)));
  const body = rows.map((cells) => {
    const row = el("tr", { role: "row" });
    cells.forEach((cell, column) => {
      const kinds = [kind(column), cell === null ? "empty" : null].filter(Boolean).join(" ");
      const attrs = { class: kinds || null, "data-head": heads[column] };
      const inside = cell === null ? "–" : cell;
      row.append(
        column === 0
          ? el("th", { scope: "row", role: "rowheader", ...attrs }, inside)
          : el("td", { role: "cell", ...attrs }, inside),
      );
    });
    return row;
  });
  return el(
    "table",
    { role: "table" },
    el("caption", { class: isHidden ? "unseen" : null }, caption),
    el("thead", { role: "rowgroup" }, head),
    el("tbody", { role: "rowgroup" }, ...body),
  );
}

/**
 * A table that may be wider than its place, which then is moved by keys too.
 * @param {string} label
 * @param {HTMLElement} inside
 */
export const wide = (label, inside) => el("div", { class: "wide", tabindex: 0, role: "group", "aria-label": label }, inside);
