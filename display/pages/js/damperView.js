// @ts-check
// One damper's page: how it stands, its figures over the services, its surfaces, its casing, its inspections.

import { checkSection } from "./checkSection.js";
import { el } from "./dom.js";
import { createInspections } from "./inspectionList.js";
import { marked } from "./marks.js";
import { linkTo } from "./records.js";
import { get } from "./settings.js";
import { stations } from "./stationTable.js";
import { createSurfaces } from "./surfaceSection.js";
import { toldNode } from "./told.js";
import { UNITS } from "./units.js";
import { CONTRADICTED, UNCOUNTED, dueWords, signedAgainst, verdictWord } from "./verdict.js";
import { t } from "./words.js";

/**
 * @param {any} past as /api/history gives it
 * @returns {Promise<() => Node[]>} what makes the page, again where unit, language or light is another
 */
export async function createDamper(past) {
  const surfaces = await createSurfaces(past.inspections);
  return () => {
    const unit = UNITS[get().unit];
    const checks = Object.entries(past.checks).map(([name, check]) => checkSection(name, check, past.sooner, unit));
    return [
      ...(past.carried ? [carried(past)] : []),
      head(past),
      ...(checks.length > 0 ? checks : [el("p", { class: "panel" }, t("No check was measured on it yet."))]),
      ...surfaces(unit),
      ...stations(past.inspections, unit),
      createInspections(past.inspections, unit),
    ];
  };
}

/** @param {any} past */
function head(past) {
  const built = { rolled: t("rolled edge"), welded: t("welded edge") }[/** @type {"rolled"} */ (past.construction)];
  const places = past.engines.map((/** @type {any} */ spell) =>
    el("li", {}, el("a", { href: linkTo(spell.serial) }, spell.serial), `: ${days(spell)}`),
  );
  const shown = past.amiss ? CONTRADICTED() : { kind: past.verdict, word: verdictWord(past.verdict) };
  const none = uncounted(past).length > 0 ? UNCOUNTED() : undefined;
  const verdict = past.verdict
    ? marked(shown.kind, shown.word)
    : none
    ? marked(none.kind, none.word)
    : el("b", {}, t("no inspection of it was closed yet"));
  const against = past.against && !past.amiss ? [el("p", { class: "care" }, signedAgainst(past.against))] : [];
  return el(
    "section",
    { class: "panel head" },
    el("div", {}, el("h1", {}, t("Damper {serial}", { serial: past.damper })), el("p", { class: "soft" }, built ?? "")),
    el("div", {}, el("h2", {}, t("Latest verdict")), el("p", { class: "large" }, verdict), ...against, ...uncounted(past), ...next(past)),
    el("div", {}, el("h2", {}, t("On engine")), el("ul", {}, ...places)),
  );
}

/** Each `keep` since that does not stand, and why. @param {any} past */
const uncounted = (past) => (past.uncounted ?? []).map((/** @type {string} */ why) => el("p", { class: "care" }, toldNode("span", why)));

/** @param {any} past */
function next(past) {
  if (past.amiss) return [el("p", { class: "care" }, toldNode("span", past.amiss))];
  if (past.sooner) {
    const forward = el("p", { class: "care" }, el("b", {}, t("Put forward:")), " ", toldNode("span", past.why_sooner));
    return [el("p", {}, t("Next due: {when}", { when: dueWords(past.sooner) })), forward];
  }
  if (past.next_due) return [el("p", {}, t("Next due: {when}", { when: dueWords(past.next_due) }))];
  if (!past.verdict && uncounted(past).length > 0) return [];
  if (!past.verdict) return [el("p", {}, t("Next due: not said, as no inspection of it was closed."))];
  if (past.verdict === "keep") return [el("p", {}, t("Next due: not said, as the latest inspection names none; the page of the fleet tells the day."))];
  const ended = verdictWord(past.verdict);
  return [el("p", {}, t("Next due: not said, as the latest inspection ended in {verdict}.", { verdict: ended }))];
}

/** @param {any} past */
function carried(past) {
  const rows = past.carried.map((/** @type {any} */ spell) =>
    el("li", {}, el("a", { href: linkTo(spell.serial) }, spell.serial), `: ${days(spell)}`),
  );
  return el(
    "section",
    { class: "panel" },
    el("h2", {}, t("Engine {serial} has carried", { serial: past.engine })),
    el("ul", {}, ...rows),
    el("p", { class: "soft" }, t("What follows is of the one that was inspected on it last; the fleet tells which is on it now.")),
  );
}

/** @param {any} spell */
function days(spell) {
  const when = spell.first === spell.last ? spell.first : t("{first} to {last}", { first: spell.first, last: spell.last });
  return spell.inspections === 1 ? t("{when}, 1 inspection", { when }) : t("{when}, {n} inspections", { when, n: spell.inspections });
}
