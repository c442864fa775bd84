// @ts-check
// One check over the services: its chart, what its trend says, and the same figures as a table.

import { createChart } from "./chart.js";
import { el } from "./dom.js";
import { figureText, marked, table, wide } from "./marks.js";
import { chanceWords, COUNTS, grouped, linkTo, placeNumber, placeWords } from "./records.js";
import { number } from "./units.js";
import { checkName, outcomeWord } from "./verdict.js";
import { t } from "./words.js";

/**
 * @param {string} name
 * @param {any} check of /api/history
 * @param {any} sooner to when the trends put the next inspection forward; undefined: they do not
 * @param {import("./units.js").LengthUnit} unit
 */
export function checkSection(name, check, sooner, unit) {
  const title = checkName(name);
  const said = sentences(check, sooner !== undefined, unit);
  const caption = t("{check}: figures over the services, {unit}", { check: title, unit: unit.name });
  const label = `${caption}. ${said.join(" ")} ${t("The table beside it has the same figures.")}`;
  const chart = createChart(check, marks(check, sooner), unit, label);
  return el(
    "section",
    { class: "panel check", "data-check": name },
    el("h2", {}, caption),
    el("div", {}, ...(chart === null ? [] : [chart]), ...(check.trend.line ? [key()] : [])),
    el("div", {}, el("ul", { class: "says" }, ...said.map((line) => el("li", {}, line))), visits(check, unit, caption)),
  );
}

/** What is drawn upright in the chart. @param {any} check @param {any} sooner */
function marks({ trend }, sooner) {
  if (trend.due === undefined) return [];
  const isSooner = sooner?.[trend.by] !== undefined && sooner[trend.by] !== trend.due;
  const due = { at: placeNumber(trend.due), words: isSooner ? t("interval ends") : t("next due") };
  return isSooner ? [due, { at: placeNumber(sooner[trend.by]), words: t("put forward") }] : [due];
}

function key() {
  return el(
    "p",
    { class: "soft key" },
    t("Upright strokes: the uncertainty of each figure. Grey band: where a service would read with 95 %. Dashed: past the last figure."),
  );
}

/** @param {any} check @param {import("./units.js").LengthUnit} unit @param {string} caption */
function visits(check, unit, caption) {
  // What is the same at all of them is said elsewhere: on top of the page, and in the chart.
  const differs = (/** @type {"engine" | "limit_mm"} */ key) => new Set(check.visits.map((/** @type {any} */ visit) => visit[key])).size > 1;
  const [isMoved, isOther] = [differs("engine"), differs("limit_mm")];
  const heads = [t("Date"), ...(isMoved ? [t("Engine")] : []), "km", "h", t("Figure"), ...(isOther ? [t("Limit")] : []), t("Outcome"), t("Gauge")];
  const rows = [...check.visits].reverse().map((visit) => [
    visit.date,
    ...(isMoved ? [el("a", { href: linkTo(visit.engine) }, visit.engine)] : []),
    visit.distance_km === undefined ? null : grouped(visit.distance_km),
    visit.hours_h === undefined ? null : grouped(visit.hours_h),
    figureText(unit, visit) ?? t("no figure"),
    ...(isOther ? [number(unit, visit.limit_mm)] : []),
    marked(visit.outcome, outcomeWord(visit.outcome)),
    visit.gauge ?? null,
  ]);
  const numbers = (isOther ? [1, 2, 3, 4] : [1, 2, 3]).map((column) => column + (isMoved ? 1 : 0));
  return wide(caption, table(caption, heads, rows, { numbers, isHidden: true }));
}

/** What the trend says. @param {any} check @param {boolean} isSooner @param {import("./units.js").LengthUnit} unit @returns {string[]} */
function sentences({ trend, limit_mm: limitMm }, isSooner, unit) {
  if (!trend.rate_mm) return [t("No trend yet: it takes the figures of two services.")];
  const by = /** @type {import("./records.js").By} */ (trend.by);
  const [rate, low, high] = trend.rate_mm.map((/** @type {number} */ mm) => number(unit, mm, { sign: "+", more: 1 }));
  const per = by === "date" ? t("a year") : t("per {n}", { n: `${grouped(trend.rate_per)}${COUNTS[by].sign}` });
  const said = [t("By {count}: {rate} {unit} {per} ({low} to {high}, 95 %).", { count: COUNTS[by].name(), rate, unit: unit.name, per, low, high })];
  if (trend.why_by) said.push(t("Not by hours or distance: they are not known of every service, or do not add up."));
  if (trend.due !== undefined && trend.at_due_mm) {
    const [mid, from, to] = trend.at_due_mm.map((/** @type {number} */ mm) => number(unit, Math.max(mm, 0)));
    const due = { place: placeWords(by, trend.due), mid, unit: unit.name, from, to, p: chanceWords(trend.p_over_at_due) };
    if (isSooner) said.push(t("At the end of the interval ({place}): {mid} {unit} ({from} to {to}), chance of being over {p}.", due));
    else said.push(t("At the next due ({place}): {mid} {unit} ({from} to {to}), chance of being over {p}.", due));
  }
  said.push(...met(by, trend, `${number(unit, limitMm)} ${unit.name}`));
  return said;
}

/** @param {import("./records.js").By} by @param {any} trend @param {string} limit @returns {string[]} */
function met(by, trend, limit) {
  const said = [];
  if (trend.met !== undefined) said.push(t("Limit of {limit} met: most likely at {place}.", { limit, place: placeWords(by, trend.met) }));
  else if (trend.rising) said.push(t("Limit of {limit} met: not in sight.", { limit }));
  else said.push(t("Limit of {limit} met: not in sight, as the slope may be none.", { limit }));
  const early = trend.met_early;
  if (early === undefined) return said;
  const isNow = placeNumber(early) <= placeNumber(trend.latest);
  if (isNow) said.push(t("It may be over by now: the chance is 5 % or more."));
  else said.push(t("The chance of it comes to 5 % at {place}.", { place: placeWords(by, early) }));
  const far = placeNumber(trend.latest) + trend.interval * (by === "date" ? 86_400 : 1);
  if ([trend.met, early].some((place) => place !== undefined && placeNumber(place) > far)) {
    said.push(t("Further than one usual interval ahead it is an extrapolation."));
  }
  return said;
}
