// @ts-check
// Sentences of the bay's daemon and of this page's server in the language that is set: as display/told.py reads
// them, which says how, by the same patterns.

import { el } from "./dom.js";
import { get } from "./settings.js";
import { loadWords, t } from "./words.js";

/** @typedef {{came: string, pattern: string | null, values: Record<string, string>, head: string}} Piece */

const HEAD = /^(\S+): (.+)$/s;
/** How the parts of a list are joined, as they come and as they are said. @type {Record<string, [string, Record<string, string>]>} */
const LISTS = { list: [", ", {}], list_and: [" and the ", { de: " und " }] };
const REMEMBERED = 2000;

/** How each pattern is said in the language that is loaded. @type {Record<string, string>} */
let patterns = {};
let loaded = "";
/** @type {[string, RegExp][]} */
let shapes = [];
/** @type {Map<string, string | null>} */
const known = new Map();

/** Fetches both catalogues of the language that is set; those before stay where they cannot be had. */
export async function loadSaid() {
  await Promise.all([loadWords(), loadPatterns()]);
}

async function loadPatterns() {
  const { lang } = get();
  if (lang === loaded) return;
  try {
    const answer = await fetch(`/told/${lang}.json`);
    if (answer.ok) setPatterns(lang, await answer.json());
  } catch {
    // the server is away: the page says so by itself
  }
}

/** @param {string} lang @param {Record<string, string>} said */
function setPatterns(lang, said) {
  const own = (/** @type {string} */ text) => text.replace(/\{\w+\}/g, "").length;
  patterns = said;
  loaded = lang;
  const named = Object.keys(said).filter((text) => /\{\w+\}/.test(text));
  named.sort((a, b) => own(b) - own(a) || (a < b ? -1 : 1));
  shapes = named.map((text) => [text, shapeOf(text)]);
  known.clear();
}

/** @param {string} text */
function shapeOf(text) {
  const literal = (/** @type {string} */ part) => part.replace(/[.*+?^${}()|[\]\\/]/g, "\\$&");
  const parts = text.split(/\{(\w+)\}/);
  return new RegExp(`^${parts.map((part, n) => (n % 2 ? `(?<${part}>.+?)` : literal(part))).join("")}$`, "s");
}

/**
 * The sentence, and whether it is English for want of another.
 * @param {string} sentence
 * @returns {{text: string, en: boolean}}
 */
export function told(sentence) {
  const said = knownOf(sentence);
  return { text: said ?? sentence, en: said === null };
}

/** An element that says it, marked as English where it is. @param {string} tag @param {string} sentence */
export function toldNode(tag, sentence) {
  const { text, en } = told(sentence);
  return el(tag, { lang: en ? "en" : null }, text);
}

/** @param {string} sentence @returns {string | null} */
function knownOf(sentence) {
  const before = known.get(sentence);
  if (before !== undefined) return before;
  const said = madeOf(sentence);
  if (known.size >= REMEMBERED) known.clear();
  known.set(sentence, said);
  return said;
}

/** @param {string} sentence @returns {string | null} */
function madeOf(sentence) {
  const found = [];
  let isTyped = false;
  for (const piece of piecesOf(sentence)) {
    const isLeft = isTyped || loaded === "en" || loaded === "";
    const said = piece.pattern === null ? (isLeft ? piece.came : null) : pieceSaid(piece.pattern, piece);
    if (said === null) return null;
    if (piece.pattern !== null) isTyped = piece.pattern.endsWith("{what}");
    found.push(said);
  }
  return found.join("; ");
}

/** @param {string} pattern @param {Piece} piece @returns {string | null} */
function pieceSaid(pattern, { values, head }) {
  /** @type {Record<string, string>} */
  const said = {};
  for (const [name, value] of Object.entries(values)) {
    const one = valueSaid(name, value);
    if (one === null) return null;
    said[name] = one;
  }
  const text = patterns[pattern].replace(/\{(\w+)\}/g, (_, name) => said[name]);
  return head === "" ? text : `${knownOf(head) ?? head}: ${text}`;
}

/** @param {string} name @param {string} value @returns {string | null} */
function valueSaid(name, value) {
  if (name.startsWith("told")) return knownOf(value);
  if (name.startsWith("word")) return wordSaid(value);
  if (!Object.hasOwn(LISTS, name)) return value;
  const [between, joined] = LISTS[name];
  return value.split(between).map(wordSaid).join(joined[loaded] ?? between);
}

/** @param {string} text */
const wordSaid = (text) => knownOf(text) ?? t(text);

/** @param {string} sentence @returns {Piece[]} */
function piecesOf(sentence) {
  return split(sentence).map((came) => {
    const whole = match(came);
    if (whole !== null) return { came, ...whole, head: "" };
    const headed = HEAD.exec(came);
    const rest = headed === null ? null : match(headed[2]);
    return headed === null || rest === null ? { came, pattern: null, values: {}, head: "" } : { came, ...rest, head: headed[1] };
  });
}

/** Between "; " that stand in no brackets. @param {string} sentence */
function split(sentence) {
  const found = [];
  let depth = 0;
  let start = 0;
  for (let at = 0; at < sentence.length; at++) {
    depth += Number(sentence[at] === "(") - Number(sentence[at] === ")");
    if (depth !== 0 || !sentence.startsWith("; ", at)) continue;
    found.push(sentence.slice(start, at));
    start = at + 2;
  }
  return [...found, sentence.slice(start)];
}

/** @param {string} piece @returns {{pattern: string, values: Record<string, string>} | null} */
function match(piece) {
  if (Object.hasOwn(patterns, piece)) return { pattern: piece, values: {} };
  for (const [pattern, shape] of shapes) {
    const found = shape.exec(piece);
    if (found !== null) return { pattern, values: { ...found.groups } };
  }
  return null;
}
