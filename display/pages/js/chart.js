// @ts-check
// A check's figures over the services: each with its uncertainty, against the limit, with the trend and its band.
// uPlot keeps scales and axes; what stands in them is drawn here, as no shape may be told by colour alone.

import { el } from "./dom.js";
import { COUNTS, grouped, placeNumber, placeOf } from "./records.js";
import { number } from "./units.js";
import { kindOf } from "./verdict.js";
import { t } from "./words.js";

/** Above what is highest, of the height, so that nothing touches the frame. */
const HEADROOM = 1.12;
const HEIGHT_PX = 380;
const FONT = '"Atkinson Hyperlegible", "DejaVu Sans", Arial, sans-serif';
/** Half a mark and half a cap, in CSS pixels. */
const MARK_PX = 5.5;
const CAP_PX = 9;

const colour = (/** @type {string} */ name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

/**
 * A place for the chart, which fills it once it is in the page.
 * @param {any} check of /api/history
 * @param {{at: number, words: string}[]} marks what is drawn upright
 * @param {import("./units.js").LengthUnit} unit
 * @param {string} label for who cannot see it
 */
export function createChart(check, marks, unit, label) {
  const host = el("div", { class: "chart", role: "img", "aria-label": label });
  const by = /** @type {import("./records.js").By} */ (check.trend.by);
  const visits = check.visits
    .map((/** @type {any} */ visit) => ({ ...visit, x: placeOf(by, visit) }))
    .filter((/** @type {any} */ visit) => visit.x !== undefined);
  if (visits.length === 0) return null;
  const line = (check.trend.line ?? []).map((/** @type {any} */ point) => ({ ...point, x: placeNumber(point.at) }));
  const xs = [...visits.map((/** @type {any} */ visit) => visit.x), ...line.map((/** @type {any} */ point) => point.x)];
  const [first, last] = [Math.min(...xs), Math.max(...xs)];
  const margin = (last - first) * 0.04 || (by === "date" ? 30 * 86_400 : 100);
  const tops = [
    check.limit_mm,
    ...visits.map((/** @type {any} */ visit) => (visit.figure_mm ?? 0) + (visit.u_expanded_mm ?? 0)),
    ...line.map((/** @type {any} */ point) => Math.min(point.high_mm, 1.6 * check.limit_mm)),
  ];
  const top = Math.max(...tops) * HEADROOM * unit.perMm;
  const ink = colour("--ink");
  const axis = { stroke: ink, font: `15px ${FONT}`, grid: { stroke: colour("--faint"), width: 1 }, ticks: { stroke: colour("--line") } };
  const options = {
    width: 600,
    height: HEIGHT_PX,
    legend: { show: false },
    cursor: { show: false },
    scales: {
      x: { time: by === "date", range: () => [first - margin, last + margin] },
      y: { range: () => [0, top] },
    },
    axes: [
      {
        ...axis,
        space: 96,
        label: by === "date" ? t("date of the service") : `${COUNTS[by].name()},${COUNTS[by].sign}`,
        labelFont: `15px ${FONT}`,
        values: (/** @type {any} */ _, /** @type {number[]} */ splits) =>
          splits.map((at) => (by === "date" ? new Date(at * 1000).toISOString().slice(0, 7) : grouped(at))),
      },
      {
        ...axis,
        size: 70,
        values: (/** @type {any} */ _, /** @type {number[]} */ splits) => splits.map((at) => at.toFixed(unit.decimals - 1)),
      },
    ],
    series: [{}, { paths: () => null, points: { show: false } }],
    hooks: { draw: [(/** @type {any} */ plot) => paint(plot, { check, marks, unit, visits, line })] },
  };
  const data = [visits.map((/** @type {any} */ visit) => visit.x), visits.map((/** @type {any} */ visit) => visit.figure_mm ?? null)];
  /** @type {any} */
  let plot = null;
  new ResizeObserver(() => {
    const width = host.clientWidth;
    if (width === 0) return;
    if (plot === null) plot = new /** @type {any} */ (globalThis).uPlot({ ...options, width }, data, host);
    else if (plot.width !== width) plot.setSize({ width, height: HEIGHT_PX });
  }).observe(host);
  document.fonts.ready.then(() => plot?.redraw());
  return host;
}

/**
 * @param {any} plot
 * @param {{check: any, marks: {at: number, words: string}[], unit: import("./units.js").LengthUnit, visits: any[], line: any[]}} shown
 */
function paint(plot, { check, marks, unit, visits, line }) {
  const { ctx, bbox } = plot;
  const px = devicePixelRatio;
  const x = (/** @type {number} */ at) => plot.valToPos(at, "x", true);
  const y = (/** @type {number} */ mm) => plot.valToPos(mm * unit.perMm, "y", true);
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  trend(ctx, px, line, visits, x, y);
  limit(ctx, px, bbox, y(check.limit_mm), t("limit {limit}", { limit: `${number(unit, check.limit_mm)} ${unit.name}` }));
  marks.forEach(({ at, words }, index) => upright(ctx, px, bbox, x(at), words, index));
  for (const visit of visits) {
    if (visit.figure_mm === undefined) mark(ctx, px, x(visit.x), bbox.top + bbox.height - 14 * px, "invalid");
    else {
      mark(ctx, px, x(visit.x), y(visit.figure_mm), visit.outcome);
      bars(ctx, px, x(visit.x), y(visit.figure_mm - visit.u_expanded_mm), y(visit.figure_mm + visit.u_expanded_mm));
    }
  }
  ctx.restore();
}

/**
 * The band, and the line: dashed where it goes on past the last figure.
 * @param {CanvasRenderingContext2D} ctx @param {number} px @param {any[]} line @param {any[]} visits
 * @param {(at: number) => number} x @param {(mm: number) => number} y
 */
function trend(ctx, px, line, visits, x, y) {
  if (line.length === 0) return;
  ctx.beginPath();
  line.forEach((point, index) => ctx[index === 0 ? "moveTo" : "lineTo"](x(point.x), y(Math.max(point.low_mm, 0))));
  [...line].reverse().forEach((point) => ctx.lineTo(x(point.x), y(point.high_mm)));
  ctx.closePath();
  ctx.fillStyle = colour("--faint");
  ctx.globalAlpha = 0.7;
  ctx.fill();
  ctx.globalAlpha = 1;
  const last = Math.max(...visits.filter((visit) => visit.figure_mm !== undefined).map((visit) => visit.x));
  ctx.strokeStyle = colour("--soft");
  ctx.lineWidth = 2 * px;
  for (const [part, dash] of [
    [line.filter((point) => point.x <= last), []],
    [line.filter((point, index) => point.x > last || (line[index + 1]?.x ?? -Infinity) > last), [7 * px, 6 * px]],
  ]) {
    ctx.setLineDash(/** @type {number[]} */ (dash));
    ctx.beginPath();
    part.forEach((/** @type {any} */ point, /** @type {number} */ index) =>
      ctx[index === 0 ? "moveTo" : "lineTo"](x(point.x), y(point.median_mm)),
    );
    ctx.stroke();
  }
  ctx.setLineDash([]);
}

/**
 * @param {CanvasRenderingContext2D} ctx @param {number} px @param {{left: number, width: number}} box
 * @param {number} at @param {string} words
 */
function limit(ctx, px, box, at, words) {
  ctx.strokeStyle = ctx.fillStyle = colour("--bad");
  ctx.lineWidth = 3 * px;
  ctx.beginPath();
  ctx.moveTo(box.left, at);
  ctx.lineTo(box.left + box.width, at);
  ctx.stroke();
  ctx.font = `bold ${16 * px}px ${FONT}`;
  ctx.textAlign = "left";
  ctx.textBaseline = "bottom";
  ctx.fillText(words, box.left + 8 * px, at - 5 * px);
}

/**
 * @param {CanvasRenderingContext2D} ctx @param {number} px
 * @param {{left: number, top: number, width: number, height: number}} box @param {number} at @param {string} words
 * @param {number} row of its words, from below
 */
function upright(ctx, px, box, at, words, row) {
  ctx.strokeStyle = ctx.fillStyle = colour("--ink");
  ctx.lineWidth = 1.5 * px;
  ctx.setLineDash([2 * px, 4 * px]);
  ctx.beginPath();
  ctx.moveTo(at, box.top);
  ctx.lineTo(at, box.top + box.height);
  ctx.stroke();
  ctx.setLineDash([]);
  ctx.font = `${15 * px}px ${FONT}`;
  const isRight = at > box.left + box.width / 2;
  ctx.textAlign = isRight ? "right" : "left";
  ctx.textBaseline = "bottom";
  ctx.fillText(words, at + (isRight ? -6 : 6) * px, box.top + box.height - (6 + 20 * row) * px);
}

/** @param {CanvasRenderingContext2D} ctx @param {number} px @param {number} at @param {number} low @param {number} high */
function bars(ctx, px, at, low, high) {
  const cap = CAP_PX * px;
  ctx.strokeStyle = colour("--ink");
  ctx.lineWidth = 2 * px;
  ctx.beginPath();
  if (Math.abs(low - high) > 4 * MARK_PX * px) {
    ctx.moveTo(at, low);
    ctx.lineTo(at, high);
  }
  for (const end of [low, high]) {
    ctx.moveTo(at - cap, end);
    ctx.lineTo(at + cap, end);
  }
  ctx.stroke();
}

/**
 * The shape of an outcome, as everywhere: a ring, a filled square with a bar, a diamond, a striped triangle.
 * @param {CanvasRenderingContext2D} ctx @param {number} px @param {number} x @param {number} y @param {string} outcome
 */
function mark(ctx, px, x, y, outcome) {
  const kind = kindOf(outcome);
  const r = MARK_PX * px;
  ctx.strokeStyle = colour({ good: "--good", bad: "--bad", doubt: "--doubt", void: "--void" }[kind] ?? "--ink");
  ctx.fillStyle = kind === "bad" ? ctx.strokeStyle : colour("--panel");
  ctx.lineWidth = 3 * px;
  ctx.beginPath();
  if (kind === "bad") ctx.rect(x - r, y - r, 2 * r, 2 * r);
  else if (kind === "good") ctx.arc(x, y, 0.85 * r, 0, 2 * Math.PI);
  else {
    const corners = kind === "doubt" ? [[0, -1.2], [1.2, 0], [0, 1.2], [-1.2, 0]] : [[0, -1.1], [1.1, 0.9], [-1.1, 0.9]];
    corners.forEach(([dx, dy], index) => ctx[index === 0 ? "moveTo" : "lineTo"](x + dx * r, y + dy * r));
    ctx.closePath();
  }
  ctx.fill();
  ctx.stroke();
  if (kind === "bad") {
    ctx.fillStyle = colour("--panel");
    ctx.fillRect(x - 0.65 * r, y - 0.2 * r, 1.3 * r, 0.4 * r);
  }
}
