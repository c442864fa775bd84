// @ts-check
// What is heard: which change of a bay is a tone, and which a sentence. The eye may be elsewhere.

import { get } from "./settings.js";
import { told } from "./told.js";
import { number, UNITS } from "./units.js";
import { checkName, outcomeWord, verdictOf } from "./verdict.js";
import { t } from "./words.js";

const TURN_DEG = 360;

/**
 * What of a bay is needed to hear a change: figures only, so that nothing old is kept alive.
 * @param {import("./bayView.js").BayView} view
 */
export function heardOf(view) {
  const { live, result } = view;
  return {
    inspection: live.inspection ?? null,
    check: view.check,
    isAway: view.away !== null,
    isTurn: view.mode === "turn",
    isAbove: view.isAbove,
    isMarked: view.mode === "places" || ["marks", "dwells", "typed"].includes(live.angle_source),
    // At a mark the crank stands: the mark that comes next is another.
    marks: view.mode === "lifts" ? live.lifts ?? 0 : `${["marks", "dwells"].includes(live.angle_source) ? live.next_mark_deg : live.readings}`,
    covered: live.covered_deg ?? 0,
    warnings: view.warnings.join("\n"),
    gaugeAway: view.gaugeAway?.id ?? view.crankAway?.id ?? null,
    revision: result?.revision ?? null,
    ofResult: result?.inspection ?? null,
    isClosed: result !== null && result.state !== "open",
    outcomes: result === null ? "" : Object.entries(result.checks).map(([name, check]) => `${name}=${/** @type {any} */ (check).outcome}/${/** @type {any} */ (check).reason}`).join("\n"),
    rung: view.timers.filter((timer) => timer.state === "may-end").map((timer) => timer.item).join(),
    long: view.timers.filter((timer) => timer.state === "long").map((timer) => timer.item).join(),
  };
}

/** @typedef {ReturnType<typeof heardOf>} Heard */

/**
 * The tones of a change. Of several at once the graver alone is heard: tones upon each other are noise.
 * @param {Heard | null} before
 * @param {Heard} now
 * @returns {"over" | "warning" | "stop" | "turn" | "mark" | null}
 */
export function toneOf(before, now) {
  if (before === null) return null; // what was so when the page came is no news
  const isSame = before.check === now.check && before.inspection === now.inspection;
  if (now.isAbove && !(isSame && before.isAbove)) return "over";
  const isTold = now.warnings !== before.warnings && now.warnings !== "";
  const isLost = now.gaugeAway !== null && now.gaugeAway !== before.gaugeAway;
  if (isTold || isLost || (now.isAway && !before.isAway) || (now.long !== before.long && now.long !== "")) return "warning";
  if (before.check !== null && now.check === null && !now.isAway) return "stop";
  if (now.rung !== before.rung && now.rung !== "") return "turn";
  if (!isSame || now.check === null) return null;
  if (now.isTurn && before.covered < TURN_DEG && now.covered >= TURN_DEG) return "turn";
  const isTaken = (now.isMarked || now.check === "lifts") && now.marks !== before.marks;
  return isTaken ? "mark" : null;
}

/**
 * What is spoken of a change: figures when a check ends, and warnings. en: the daemon's own words.
 * @param {Heard | null} before
 * @param {Heard} now
 * @param {import("./bayView.js").BayView} view
 * @returns {{text: string, en?: boolean}[]}
 */
export function spokenOf(before, now, view) {
  if (before === null) return [];
  /** @type {{text: string, en?: boolean}[]} */
  const said = [];
  if (now.isAbove && !before.isAbove) said.push({ text: t("Above the limit.") });
  const old = new Set(before.warnings.split("\n"));
  for (const warning of view.warnings) if (!old.has(warning)) said.push(told(warning));
  if (now.gaugeAway !== null && now.gaugeAway !== before.gaugeAway) said.push({ text: t("The gauge is not connected.") });
  if (now.rung !== before.rung && now.rung !== "") said.push({ text: t("A dwell may end now.") });
  if (now.long !== before.long && now.long !== "") said.push({ text: t("A dwell is too long.") });
  const isGraded = now.ofResult === before.ofResult && now.revision !== before.revision;
  if (isGraded && now.outcomes !== before.outcomes) {
    const were = new Set(before.outcomes.split("\n"));
    for (const part of now.outcomes.split("\n")) {
      const name = part.slice(0, part.indexOf("="));
      if (!were.has(part)) said.push({ text: checkSpoken(name, view.result.checks[name]) });
    }
  }
  if (now.ofResult === before.ofResult && now.isClosed && !before.isClosed) {
    said.push({ text: t("Verdict: {verdict}.", { verdict: verdictOf(view.result).word.toLowerCase() }) });
  }
  return said;
}

/** @param {string} name @param {any} check */
function checkSpoken(name, check) {
  const unit = UNITS[get().unit];
  const best = check.true_tir_mm ?? check.true_spread_mm ?? check.tir_mm ?? check.spread_mm;
  const head = `${checkName(name)}: ${outcomeWord(check.outcome).toLowerCase()}.`;
  if (check.outcome === "invalid" || best === undefined || best === null) return head;
  const figures = { figure: number(unit, best), limit: number(unit, check.limit_mm), unit: unit.name === "mm" ? t("millimetres") : t("inches") };
  return `${head} ${t("{figure} {unit}, limit {limit}.", figures)}`;
}
