// @ts-check
// All bays together: who drifts, which bay or gauge reads high, what each method came to.

import { el } from "./dom.js";
import { figureText, marked, table, wide } from "./marks.js";
import { chanceWords, linkTo } from "./records.js";
import { get } from "./settings.js";
import { toldNode } from "./told.js";
import { number, UNITS } from "./units.js";
import { checkName, verdictWord } from "./verdict.js";
import { t } from "./words.js";

/** Below this a chance is acted upon. */
const ACTED_ON = 0.05;
/** @type {Record<string, () => string>} */
const ENDINGS = {
  unclear: () => t("a check unclear"),
  invalid: () => t("a check invalid"),
};

/** @param {any} fleet as /api/fleet/compared gives it */
export function createCompared(fleet) {
  return () => {
    const unit = UNITS[get().unit];
    return [
      el("h1", {}, t("All bays together")),
      el("p", {}, el("a", { href: "/history", class: "button" }, t("Back to the fleet"))),
      drifting(fleet.drifts, unit),
      compared(t("Bays compared"), t("Bay"), fleet.bays, unit),
      compared(t("Gauges compared"), t("Gauge"), fleet.gauges, unit),
      methods(fleet.methods),
      ...fleet.notes.map((/** @type {string} */ note) => el("p", { class: "soft" }, toldNode("span", note))),
    ];
  };
}

/** @param {any} drifts @param {import("./units.js").LengthUnit} unit */
function drifting(drifts, unit) {
  const said = t("{n} dampers have a trend, {m} were read once. The nearest to its limit stands first; 5 %, 50 %: by when the chance of being over comes to that, at the pace so far.", { n: drifts.dampers, m: drifts.once });
  const heads = [
    t("Damper"), t("Check"), t("Latest, {unit}", { unit: unit.name }), t("Limit"),
    t("Growth an interval, {unit}", { unit: unit.name }), "5 %", "50 %", t("At the next due"),
  ];
  const rows = drifts.rows.map((/** @type {any} */ row) => [
    el("span", {}, el("a", { href: linkTo(row.damper) }, row.damper), el("small", {}, row.engine), ...(row.uncounted ?? []).map((/** @type {string} */ why) => toldNode("small", why))),
    checkName(row.check),
    figureText(unit, row.latest),
    number(unit, row.latest.limit_mm),
    between(row.growth_mm, unit) + (row.rising ? "" : ` ${t("(may be none)")}`),
    when(row.early, row.day_early),
    when(row.met, row.day),
    row.p_over_at_due === undefined ? null : chanceWords(row.p_over_at_due),
  ]);
  return section(t("Who drifts"), said, rows.length === 0 ? [] : [cards(t("Who drifts"), heads, rows, [2, 3, 4, 7])]);
}

/** @param {number | undefined} intervals @param {string | undefined} day */
function when(intervals, day) {
  if (intervals === undefined) return null;
  if (intervals <= 0) return marked("over", t("by now"));
  return day === undefined ? t("in {n} intervals", { n: intervals.toFixed(1) }) : t("about {day}", { day });
}

/**
 * @param {string} title @param {string} what @param {any[]} checks
 * @param {import("./units.js").LengthUnit} unit
 */
function compared(title, what, checks, unit) {
  const said = t("By the dampers that two and more have read; growth, refitting and uncertainty are allowed for. One that reads high makes the others look low beside it: begin with the farthest.");
  const heads = [what, t("Dampers shared"), t("Reads higher by, {unit}", { unit: unit.name }), t("Chance"), ""];
  const parts = checks.map((one) => {
    const rows = one.readers.map((/** @type {any} */ reader) => [
      reader.reader,
      String(reader.shared),
      reader.offset_mm === undefined ? null : between(reader.offset_mm, unit),
      reader.adjusted === undefined ? null : chanceWords(reader.adjusted),
      verdict(reader),
    ]);
    return cards(checkName(one.check), heads, rows, [1, 2, 3], false);
  });
  return section(title, said, parts);
}

/** @param {any} reader */
function verdict(reader) {
  if (reader.why_none !== undefined) return el("span", { class: "soft" }, t("cannot be compared"), toldNode("small", reader.why_none));
  if (!(reader.adjusted < ACTED_ON)) return null;
  return marked("unclear", reader.reads === "high" ? t("reads high") : t("reads low"));
}

/** @param {any[]} told */
function methods(told) {
  const heads = [t("Ended"), t("Inspections"), t("Share, %"), t("Against the method before, points")];
  const parts = told.map((one) => {
    const rows = Object.entries(one.endings).map(([ending, of]) => [
      ENDINGS[ending]?.() ?? verdictWord(ending),
      String(of.count),
      percent(of.share),
      of.differs === undefined ? null : points(of.differs),
    ]);
    const caption = t("{method} {version}, {from} to {to}: {n} inspections in {bays}", {
      method: one.id, version: one.version, from: one.first, to: one.last, n: one.inspections, bays: one.bays.join(", "),
    });
    return cards(caption, heads, rows, [1, 2, 3], false);
  });
  return section(t("By method"), t("What was closed, with 95 % intervals. Another method is not the only thing that another year brings."), parts);
}

/** @param {number[]} differs */
function points([mid, from, to]) {
  const plain = t("{mid} ({from} to {to})", { mid: signed(mid), from: signed(from), to: signed(to) });
  return from > 0 || to < 0 ? el("span", {}, plain, " ", marked("unclear", t("more than chance"))) : plain;
}

/** @param {number} share */
const signed = (share) => `${share > 0 ? "+" : ""}${(share * 100).toFixed(0)}`;

/** @param {number[]} share */
const percent = ([mid, from, to]) => t("{mid} ({from} to {to})", { mid: (mid * 100).toFixed(0), from: (from * 100).toFixed(0), to: (to * 100).toFixed(0) });

/** @param {number[]} found @param {import("./units.js").LengthUnit} unit */
function between([mid, from, to], unit) {
  const said = (/** @type {number} */ mm) => number(unit, mm, { sign: "+" });
  return t("{mid} ({from} to {to})", { mid: said(mid), from: said(from), to: said(to) });
}

/** @param {string} title @param {string} said @param {Node[]} parts */
function section(title, said, parts) {
  const inside = parts.length > 0 ? parts : [el("p", {}, t("Nothing to be told yet."))];
  return el("section", { class: "panel" }, el("h2", {}, title), el("p", { class: "soft" }, said), ...inside);
}

/** @param {string} caption @param {string[]} heads @param {(Node | string | null)[][]} rows @param {number[]} numbers */
function cards(caption, heads, rows, numbers, isHidden = true) {
  const drawn = table(caption, heads, rows, { numbers, isHidden });
  drawn.classList.add("cards");
  return wide(caption, drawn);
}
