// @ts-check
// The fleet: who is due, who is drifting, what each damper read last. The most urgent stand first.

import { el, icon, setAttr, setText, svg } from "./dom.js";
import { figureText, marked, scale, table } from "./marks.js";
import { linkTo } from "./records.js";
import { get } from "./settings.js";
import { toldNode } from "./told.js";
import { UNITS } from "./units.js";
import { CONTRADICTED, UNCOUNTED, checkName, outcomeWord, signedAgainst, verdictWord } from "./verdict.js";
import { t } from "./words.js";

/** @type {Record<string, () => string>} */
const DUE = {
  overdue: () => t("overdue"),
  due: () => t("due now"),
  unknown: () => t("cannot tell"),
  "due-soon": () => t("due soon"),
  ok: () => t("not due yet"),
};
/** Which rows a choice takes. @type {[string, () => string, (row: any) => boolean][]} */
const CHOICES = [
  ["all", () => t("All"), () => true],
  ["due", () => t("Due, or cannot tell"), isDue],
  ["soon", () => t("Due soon"), (row) => row.due?.state === "due-soon"],
  ["drifting", () => t("Drifting"), (row) => row.drifting !== undefined],
];
const CHECKS = ["rim", "face", "thickness"];

/** An engine that the register lacks may be due; a damper on none is where it is not to stay on. @param {any} row */
function isDue(row) {
  const { decision, verdict, contradicted, uncounted } = row.last ?? {};
  const isAmiss = contradicted || uncounted || ["replace", "measure-again"].includes(decision ?? verdict);
  if (row.due === undefined) return isAmiss || row.engine !== undefined;
  return ["overdue", "due", "unknown"].includes(row.due.state) || isAmiss;
}

/** @param {any} fleet as /api/fleet gives it @param {string} [chosen] which rows, as before */
export function createFleet(fleet, chosen = "all") {
  let text = "";
  /** @type {HTMLElement} */
  let body;
  /** @type {HTMLElement} */
  let none;
  /** @type {HTMLElement[]} */
  let buttons = [];

  function sift() {
    const takes = CHOICES.find(([key]) => key === chosen)?.[2] ?? (() => true);
    let left = 0;
    fleet.rows.forEach((/** @type {any} */ row, /** @type {number} */ index) => {
      const said = `${row.engine ?? ""} ${row.fleet} ${row.damper ?? ""}`.toLowerCase();
      const isShown = takes(row) && said.includes(text.trim().toLowerCase());
      setAttr(body.children[index], "hidden", !isShown);
      left += isShown ? 1 : 0;
    });
    setText(none, left === 0 ? t("None of {n} rows is such a one.", { n: fleet.rows.length }) : "");
    buttons.forEach((button) => setAttr(button, "aria-pressed", String(button.dataset.key === chosen)));
  }

  function view() {
    buttons = CHOICES.map(([key, word, takes]) => {
      const count = el("b", {}, String(fleet.rows.filter(takes).length));
      const button = el("button", { type: "button", "data-key": key }, count, word());
      button.addEventListener("click", () => {
        chosen = key;
        sift();
      });
      return button;
    });
    const unit = UNITS[get().unit];
    const heads = [
      t("Engine"), t("Damper"), t("Inspection due"), t("Latest inspection"),
      ...CHECKS.map((check) => `${checkName(check)}, ${unit.name}`), t("Drift"),
    ];
    const caption = t("Engines and dampers on record, the most urgent first");
    const drawn = table(caption, heads, fleet.rows.map((/** @type {any} */ row) => cells(row, unit)), { isHidden: true });
    drawn.classList.add("fleet", "cards");
    body = /** @type {HTMLElement} */ (drawn.querySelector("tbody"));
    none = el("p", { role: "status", class: "soft" });
    const notes = fleet.notes.map((/** @type {string} */ note) => toldNode("li", note));
    const head = [
      el("h1", {}, t("Fleet")),
      el("p", { class: "soft" }, t("As of {day}, by method {method}.", { day: fleet.today, method: fleet.method })),
      el("p", {}, el("a", { href: "/history?compared", class: "button" }, t("All bays together"))),
      el("div", { class: "choices", role: "group", "aria-label": t("Which rows") }, ...buttons),
    ];
    if (fleet.rows.length === 0) {
      none.textContent = t("Nothing is on record yet: a register is imported with `ringtrue register import`, and results come by themselves.");
      body.replaceChildren();
      return [...head.slice(0, 3), none];
    }
    sift();
    return [...head, none, drawn, el("ul", { class: "notes" }, ...notes)];
  }

  const serials = fleet.rows.flatMap((/** @type {any} */ row) => [row.engine, row.damper]).filter(Boolean);
  return {
    view,
    chosen: () => chosen,
    /** The one engine or damper that is meant by this: its serial, or all that is left by its name. @param {string} typed */
    meant(typed) {
      const sought = typed.trim().toLowerCase();
      const exact = serials.find((/** @type {string} */ serial) => serial.toLowerCase() === sought);
      const rows = fleet.rows.filter((/** @type {any} */ row) => row.fleet.toLowerCase() === sought);
      return exact ?? (rows.length === 1 ? rows[0].engine : null);
    },
    serials: /** @type {string[]} */ ([...new Set(serials)]),
    /** @param {string} typed */
    narrow(typed) {
      text = typed;
      if (fleet.rows.length > 0) sift();
    },
  };
}

/** @param {any} row @param {import("./units.js").LengthUnit} unit @returns {(Node | string | null)[]} */
function cells(row, unit) {
  return [
    row.engine === undefined ? el("span", { class: "soft" }, t("on no engine")) : named(row.engine, row.fleet),
    row.damper === undefined ? null : named(row.damper, ""),
    due(row),
    latest(row.last),
    ...CHECKS.map((check) => figure(row.checks[check], row.last, unit)),
    row.drifting === undefined ? null : drift(row.drifting),
  ];
}

/** @param {string} serial @param {string} also */
const named = (serial, also) => el("span", {}, el("a", { href: linkTo(serial) }, serial), el("small", {}, also));

/** @param {any} row */
function due(row) {
  if (row.engine === undefined && row.amiss.length === 0) return null;
  if (row.due === undefined) {
    const lacking = row.engine === undefined ? "" : el("span", { class: "soft" }, t("not in the register"));
    return el("span", { class: "due" }, lacking, ...row.amiss.map((/** @type {string} */ why) => toldNode("small", why)));
  }
  const { state, day, predicted, by, sentences, parts } = row.due;
  const said = [...sentences, ...parts.map((/** @type {any} */ part) => part.said), ...row.amiss];
  const words = day === undefined ? "" : predicted ? t("about {day}", { day }) : day;
  const why = el(
    "details",
    {},
    by === undefined ? el("summary", {}, t("why")) : toldNode("summary", by),
    el("ul", {}, ...said.map((line) => toldNode("li", line))),
  );
  return el(
    "span",
    { class: "due" },
    el("b", { class: `pill ${state}` }, ...(state === "ok" ? [] : [icon("timer")]), DUE[state]?.() ?? state),
    el("span", {}, words),
    said.length > 0 ? why : toldNode("small", by ?? ""),
  );
}

/** @param {any} looked */
function latest(looked) {
  if (looked === undefined) return el("span", { class: "soft" }, t("none on record"));
  const ended = looked.decision ?? looked.verdict;
  const state = { open: t("still open"), closed: t("not signed"), signed: "", abandoned: t("given up") }[/** @type {"open"} */ (looked.state)];
  const isNone = looked.contradicted || looked.uncounted;
  const shown = looked.contradicted ? CONTRADICTED() : looked.uncounted ? UNCOUNTED() : { kind: ended, word: verdictWord(ended) };
  const against = !isNone && ended !== looked.verdict ? [el("small", {}, signedAgainst(looked.verdict, looked.signed_by))] : [];
  return el("span", {}, marked(shown.kind, shown.word), ...against, el("small", {}, looked.date, state ? `, ${state}` : ""));
}

/**
 * Where it is older than the latest inspection, its day is told.
 * @param {any} visit @param {any} last @param {import("./units.js").LengthUnit} unit
 */
function figure(visit, last, unit) {
  if (visit === undefined) return null;
  const text = figureText(unit, visit);
  const mark = marked(visit.outcome, outcomeWord(visit.outcome));
  const day = el("small", {}, visit.inspection === last?.inspection ? "" : t("of {day}", { day: visit.date }));
  if (text === null) return el("span", {}, el("span", { class: "number" }, t("no figure")), mark, day);
  return el("span", {}, el("span", { class: "number" }, text), scale(visit), mark, day);
}

/** @param {string} why */
function drift(why) {
  const rising = svg("svg", { class: "shape", viewBox: "0 0 24 24", "aria-hidden": "true" });
  rising.append(svg("path", { d: "M3 19L19 5M10 5H19V14", fill: "none", stroke: "currentColor", "stroke-width": 3.5 }));
  return el("span", {}, el("span", { class: "marked doubt" }, rising, el("b", {}, t("drifting"))), toldNode("small", why));
}
