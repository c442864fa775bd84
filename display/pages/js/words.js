// @ts-check
// Texts for people, from the one catalogue (display/words.json): the English text is the key. A text that has
// no translation is shown in English.

import { get } from "./settings.js";

/** @type {Record<string, string>} */
let catalogue = {};
/** @type {string} */
let loaded = "en";

/** Fetches the catalogue of the language that is set; the one before stays where that cannot be had. */
export async function loadWords() {
  const { lang } = get();
  if (lang === loaded) return;
  if (lang === "en") {
    catalogue = {};
    loaded = "en";
    return;
  }
  try {
    const answer = await fetch(`/words/${lang}.json`);
    if (!answer.ok) return;
    catalogue = await answer.json();
    loaded = lang;
  } catch {
    // the server is away: the page says so by itself
  }
}

/**
 * A text in the language that is set, with what stands in braces put in.
 * @param {string} text
 * @param {Record<string, string | number>} [values]
 */
export function t(text, values = {}) {
  const said = Object.hasOwn(catalogue, text) ? catalogue[text] : text;
  return said.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));
}

/**
 * Every element with data-t is given its text in the language that is set.
 * @param {ParentNode} root
 */
export function translate(root) {
  for (const node of /** @type {NodeListOf<HTMLElement>} */ (root.querySelectorAll("[data-t]"))) {
    node.dataset.t ||= (node.textContent ?? "").trim();
    node.textContent = t(node.dataset.t);
  }
}
