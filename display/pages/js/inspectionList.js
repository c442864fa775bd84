// @ts-check
// Every inspection of a damper, latest first, with its report, its picture and its photos.

import { el } from "./dom.js";
import { marked, table } from "./marks.js";
import { linkTo } from "./records.js";
import { toldNode } from "./told.js";
import { checkName, verdictOf } from "./verdict.js";
import { t } from "./words.js";

/**
 * @param {any[]} inspections
 * @param {import("./units.js").LengthUnit} unit
 */
export function createInspections(inspections, unit) {
  const heads = [t("Date"), t("Inspection"), t("Engine"), t("Verdict"), t("Papers"), t("Photos")];
  const rows = inspections.map((one) => {
    const { word, kind, label } = verdictOf(one);
    return [
      one.date,
      `${one.inspection}, ${t("revision {n}", { n: one.revision })}`,
      el("a", { href: linkTo(one.engine) }, one.engine),
      el("span", {}, marked(kind, word), el("small", {}, label), ...notes(one)),
      papers(one, unit),
      one.photos.length === 0 ? null : photos(one.photos),
    ];
  });
  const title = t("Inspections");
  const listed = table(title, heads, rows, { isHidden: true });
  listed.classList.add("cards");
  return el("section", { class: "panel" }, el("h2", {}, title), listed);
}

/** Why it does not count, and what speaks against a check. @param {any} one */
function notes(one) {
  const all = Object.entries(/** @type {Record<string, string[]>} */ (one.warnings));
  const why = one.uncounted ? [el("small", {}, toldNode("span", one.uncounted))] : [];
  const said = all.flatMap(([name, said]) => said.map((text) => el("small", {}, `${checkName(name)}: `, toldNode("span", text))));
  return [...why, ...said];
}

/** @param {any} one @param {import("./units.js").LengthUnit} unit */
function papers(one, unit) {
  const id = encodeURIComponent(one.inspection);
  const report = el("a", { class: "button", href: `/report/${id}.pdf?unit=${unit.name}`, target: "_blank", rel: "noopener" }, t("Report"));
  report.setAttribute("aria-label", t("Report of {inspection}", { inspection: one.inspection }));
  if (!("rim" in one.outcomes || "face" in one.outcomes)) return report;
  const picture = el("a", { class: "button", href: `/picture/${id}.svg`, target: "_blank", rel: "noopener" }, t("Picture"));
  picture.setAttribute("aria-label", t("Picture of {inspection}", { inspection: one.inspection }));
  return el("span", { class: "row" }, report, picture);
}

/** @param {any[]} taken */
function photos(taken) {
  const all = taken.map(({ file, check, item, note }) => {
    const words = [checkName(check), item, note].filter(Boolean).join(", ");
    const href = `/photo/${encodeURIComponent(file)}`;
    return el("a", { href, target: "_blank", rel: "noopener" }, el("img", { src: href, alt: words, loading: "lazy", title: words }));
  });
  return el("span", { class: "photos" }, ...all);
}
