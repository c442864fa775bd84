// @ts-check
// Elements made once and touched only where something is another: so nothing flickers and nothing grows.

import { t } from "./words.js";

const SVG = "http://www.w3.org/2000/svg";

/**
 * @param {Element} node
 * @param {Record<string, string | number | boolean | null>} attrs
 * @param {(Node | string)[]} children
 */
function dress(node, attrs, children) {
  for (const [name, value] of Object.entries(attrs)) setAttr(node, name, value);
  node.append(...children.map((child) => (typeof child === "string" ? plain(child) : child)));
  return node;
}

/**
 * An HTML element.
 * @param {string} tag
 * @param {Record<string, string | number | boolean | null>} [attrs]
 * @param {(Node | string)[]} children
 * @returns {HTMLElement}
 */
export function el(tag, attrs = {}, ...children) {
  return /** @type {HTMLElement} */ (dress(document.createElement(tag), attrs, children));
}

/**
 * An SVG element.
 * @param {string} tag
 * @param {Record<string, string | number | boolean | null>} [attrs]
 * @param {(Node | string)[]} children
 * @returns {SVGElement}
 */
export function svg(tag, attrs = {}, ...children) {
  return /** @type {SVGElement} */ (dress(document.createElementNS(SVG, tag), attrs, children));
}

/**
 * One of icons/icons.svg.
 * @param {string} name
 */
export function icon(name) {
  const use = svg("use", { href: `/static/icons/icons.svg#${name}` });
  return svg("svg", { class: "icon", "aria-hidden": "true" }, use);
}

/**
 * @param {Element} node
 * @param {string} text
 */
export function setText(node, text) {
  const shown = plain(text);
  if (node.textContent !== shown) node.textContent = shown;
}

/** Marks that turn what follows round (Unicode, UAX 9): behind them a serial reads as another. */
const TURNING = /[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]/g;

/** @param {string} text */
const plain = (text) => text.replace(TURNING, "\ufffd");

/**
 * null and false take it away.
 * @param {Element} node
 * @param {string} name
 * @param {string | number | boolean | null} value
 */
export function setAttr(node, name, value) {
  if (value === null || value === false) {
    if (node.hasAttribute(name)) node.removeAttribute(name);
    return;
  }
  const text = value === true ? "" : String(value);
  if (node.getAttribute(name) !== text) node.setAttribute(name, text);
}

/**
 * @param {Element} node
 * @param {boolean} isShown
 */
export function setShown(node, isShown) {
  setAttr(node, "hidden", !isShown);
}

/**
 * As many children as items: those that are there are used again.
 * @template T
 * @param {Element} list
 * @param {readonly T[]} items
 * @param {() => Element} make
 * @param {(node: Element, item: T, index: number) => void} update
 */
export function fill(list, items, make, update) {
  while (list.children.length > items.length) list.lastElementChild?.remove();
  while (list.children.length < items.length) list.append(make());
  items.forEach((item, index) => update(list.children[index], item, index));
}

/**
 * Paints at the next frame, however often it is asked before.
 * @param {() => void} paint
 */
export function painter(paint) {
  let isAsked = false;
  return () => {
    if (isAsked) return;
    isAsked = true;
    requestAnimationFrame(() => {
      isAsked = false;
      try {
        paint();
      } catch (error) {
        failed(); // else the picture of before stands there as if it were live
        throw error;
      }
    });
  };
}

/** Nothing of the page is shown any more. */
function failed() {
  const head = el("h1", {}, t("THIS PAGE HAS FAILED"));
  const why = el("p", {}, t("What it showed may be old. Nothing at the bay was ended by that: load the page again."));
  document.body.replaceChildren(el("main", { class: "away", role: "alert" }, icon("unplug"), el("div", {}, head, why)));
}
