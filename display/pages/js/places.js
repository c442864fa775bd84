// @ts-check
// The pages there are, as links to them.

import { el } from "./dom.js";
import { t } from "./words.js";

/** @param {string} here the page that is shown; empty where one of its own is */
export function placeLinks(here) {
  const pages = [["/wall", t("Wall")], ["/bench", t("Bench")], ["/history", t("Fleet")]];
  return pages.map(([href, name]) => el("a", { href, "aria-current": href === here ? "page" : null }, name));
}
