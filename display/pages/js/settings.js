// @ts-check
// What this browser was told: unit, language, day or dark, sound. Kept under one key, for all pages alike.

/**
 * @typedef {{unit: "mm" | "in", lang: "en" | "de", theme: "day" | "dark" | "auto", sound: boolean}} Settings
 */

const KEY = "ringtrue";
/** @type {Record<string, readonly unknown[]>} */
const ALLOWED = { unit: ["mm", "in"], lang: ["en", "de"], theme: ["day", "dark", "auto"], sound: [true, false] };

/** @returns {Settings} */
function usual() {
  return { unit: "mm", lang: navigator.language?.startsWith("de") ? "de" : "en", theme: "auto", sound: true };
}

/** @type {Set<(settings: Settings) => void>} */
const listeners = new Set();
/** What cannot be kept (storage is closed to this page) holds for as long as the page does. */
let current = read();

/** @returns {Settings} */
function read() {
  const settings = usual();
  let kept = {};
  try {
    kept = JSON.parse(localStorage.getItem(KEY) ?? "{}") ?? {};
  } catch {
    // not ours, or no storage: the usual ones
  }
  for (const [name, allowed] of Object.entries(ALLOWED)) {
    if (allowed.includes(kept[name])) Object.assign(settings, { [name]: kept[name] });
  }
  return settings;
}

/** @returns {Settings} */
export function get() {
  return current;
}

/** @param {Partial<Settings>} patch */
export function set(patch) {
  current = { ...current, ...patch };
  try {
    localStorage.setItem(KEY, JSON.stringify(current));
  } catch {
    // for this page only, then
  }
  tell();
}

/**
 * Told of each change, also of one made on another page of this browser. Gives what ends that.
 * @param {(settings: Settings) => void} listener
 */
export function onChange(listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

function tell() {
  applyTheme();
  for (const listener of listeners) listener(current);
}

const prefersDark = matchMedia("(prefers-color-scheme: dark)");

function applyTheme() {
  const { theme, lang } = current;
  document.documentElement.dataset.theme = theme === "auto" ? (prefersDark.matches ? "dark" : "day") : theme;
  document.documentElement.lang = lang;
}

addEventListener("storage", (event) => {
  if (event.key !== KEY && event.key !== null) return;
  current = read();
  tell();
});
prefersDark.addEventListener("change", applyTheme);
applyTheme();
