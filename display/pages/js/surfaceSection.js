// @ts-check
// Rim and face of two inspections laid over each other: this one and the one before, or any two that are chosen.

import { el } from "./dom.js";
import { figureText, marked, table, wide } from "./marks.js";
import { nearest, overlay, sample } from "./overlay.js";
import { ask } from "./records.js";
import { number } from "./units.js";
import { checkName, outcomeWord } from "./verdict.js";
import { t } from "./words.js";

/** Every so many degrees a profile is told in its table. */
const TOLD_DEG = 30;
const SWEPT = ["rim", "face"];

/**
 * @param {any[]} inspections latest first
 * @returns {Promise<(unit: import("./units.js").LengthUnit) => Node[]>}
 */
export async function createSurfaces(inspections) {
  const swept = inspections.filter((one) => one.state !== "abandoned" && SWEPT.some((name) => name in one.outcomes));
  /** @type {Map<string, any>} */
  const kept = new Map();
  const of = async (/** @type {string} */ id) => {
    if (!kept.has(id)) kept.set(id, await ask(`/api/surfaces/${encodeURIComponent(id)}`).catch(() => []));
    return kept.get(id);
  };
  let [now, before] = [swept[0], swept[1]];
  await Promise.all([now, before].filter(Boolean).map((one) => of(one.inspection)));

  return (unit) => {
    if (now === undefined) return [];
    const pictures = el("div", { class: "surfaces" });
    const draw = async () => {
      const [ours, theirs] = [await of(now.inspection), before ? await of(before.inspection) : []];
      pictures.replaceChildren(...SWEPT.flatMap((name) => pair(name, ours, theirs, { now, before, unit })));
      if (pictures.childElementCount === 0) pictures.append(el("p", { class: "soft" }, t("Of this one nothing can be drawn.")));
    };
    const choose = (/** @type {string} */ words, /** @type {any} */ chosen, /** @type {(one: any) => void} */ take, /** @type {boolean} */ orNone) => {
      const options = swept.map((one) => el("option", { value: one.inspection, selected: one === chosen }, `${one.date}, ${one.engine}`));
      if (orNone) options.push(el("option", { value: "", selected: chosen === undefined }, t("none")));
      const select = /** @type {HTMLSelectElement} */ (el("select", {}, ...options));
      select.addEventListener("change", () => {
        take(swept.find((one) => one.inspection === select.value));
        draw();
      });
      return el("label", { class: "choose" }, el("span", {}, words), select);
    };
    draw();
    return [
      el(
        "section",
        { class: "panel" },
        el("h2", {}, t("The surface, this time and the time before")),
        el(
          "div",
          { class: "choosing" },
          choose(t("This one"), now, (one) => { now = one; }, false),
          choose(t("Before"), before, (one) => { before = one; }, true),
        ),
        pictures,
        el("p", { class: "soft" }, t("Seen from the front of the damper, the crank at 0° (the timing mark at its pointer), the gauge's place drawn at the top, the engine running clockwise.")),
        el("p", { class: "soft" }, t("Much magnified: the band between the dashed circles is the limit, and the bar shows the scale. Each surface is drawn about its own middle. Arrowheads mark high spots: bar to that angle and it is under the plunger.")),
      ),
    ];
  };
}

/**
 * @param {string} name @param {any[]} ours @param {any[]} theirs
 * @param {{now: any, before: any, unit: import("./units.js").LengthUnit}} chosen
 */
function pair(name, ours, theirs, { now, before, unit }) {
  const [mine, other] = [ours, theirs].map((all) => all.find((one) => one.check === name));
  if (mine === undefined) return [];
  const caption = `${checkName(name)}, ${unit.name}`;
  const label = t("Polar picture of the {check}; the table below has the same figures.", { check: checkName(name) });
  const said = other === undefined ? [t("There is no sweep of before to lay over it.")] : changed(mine, other, now, before, unit);
  return [
    el(
      "figure",
      { "data-check": name },
      el("figcaption", {}, el("h3", {}, caption)),
      overlay({ now: mine, before: other ?? null, limitMm: mine.limit_mm, unit, label }),
      el("ul", { class: "says" }, ...said.map((line) => el("li", {}, line))),
      wide(caption, figures(mine, other, now, before, unit, caption)),
      profiles(mine, other, unit),
    ),
  ];
}

/** @param {any} mine @param {any} other @param {any} now @param {any} before @param {import("./units.js").LengthUnit} unit */
function changed(mine, other, now, before, unit) {
  const said = [];
  if (mine.figure_mm !== undefined && other.figure_mm !== undefined) {
    said.push(t("Run-out {change} {unit} since.", { change: number(unit, mine.figure_mm - other.figure_mm, { sign: "+" }), unit: unit.name }));
  }
  if (mine.high_spot_deg !== undefined && other.high_spot_deg !== undefined) {
    const turn = ((mine.high_spot_deg - other.high_spot_deg + 540) % 360) - 180;
    said.push(t("The high spot stands {deg}° from where it stood.", { deg: Math.abs(turn).toFixed(0) }));
  }
  if (now.engine !== before.engine) said.push(t("It was on another engine: their angles are not of one crank."));
  else said.push(t("Only where it was not taken off and turned between are the angles of the same place."));
  return said;
}

/**
 * @param {any} mine @param {any} other @param {any} now @param {any} before
 * @param {import("./units.js").LengthUnit} unit @param {string} caption
 */
function figures(mine, other, now, before, unit, caption) {
  const heads = [t("Sweep"), t("Run-out"), t("High spot"), t("Outcome"), t("Drawn from")];
  const rows = [[now, mine, "now"], [before, other, "before"]]
    .filter(([, one]) => one !== undefined)
    .map(([looked, one, kind]) => [
      el("span", {}, looked.date, el("small", {}, sample(/** @type {"now"} */ (kind)), kind === "now" ? t("solid") : t("dashed"))),
      figureText(unit, one) ?? t("no figure"),
      one.high_spot_deg === undefined ? null : `${one.high_spot_deg.toFixed(0)}°`,
      marked(one.outcome, outcomeWord(one.outcome)),
      one.from_readings ? t("the readings") : t("the shape on record"),
    ]);
  return table(caption, heads, rows, { numbers: [1, 2], isHidden: true });
}

/** @param {any} mine @param {any} other @param {import("./units.js").LengthUnit} unit */
function profiles(mine, other, unit) {
  const about = (/** @type {any} */ surface) => {
    const middle = (Math.max(...surface.value_mm) + Math.min(...surface.value_mm)) / 2;
    return (/** @type {number} */ deg) => number(unit, nearest(surface, deg) - middle, { sign: "+" });
  };
  const heads = [t("Angle"), t("This one"), ...(other === undefined ? [] : [t("Before")])];
  const [ours, theirs] = [about(mine), other === undefined ? null : about(other)];
  const rows = [];
  for (let deg = 0; deg < 360; deg += TOLD_DEG) rows.push([`${deg}°`, ours(deg), ...(theirs === null ? [] : [theirs(deg)])]);
  const caption = t("From the middle of the surface, outwards positive, {unit}", { unit: unit.name });
  return el("details", {}, el("summary", {}, t("The profile in figures")), table(caption, heads, rows, { numbers: [0, 1, 2] }));
}
