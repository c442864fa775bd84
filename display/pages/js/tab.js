// @ts-check
// Which walk is this page's: an id that a reload finds again, and another page of this browser does not.

const KEY = "tab";

/** @returns {string} 32 hexadecimal digits */
export function tabId() {
  const kept = sessionStorage.getItem(KEY);
  if (kept !== null && /^[0-9a-f]{32}$/.test(kept)) return kept;
  const made = [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  sessionStorage.setItem(KEY, made);
  return made;
}

/** The next page that asks begins a walk of its own. */
export function forgetTab() {
  sessionStorage.removeItem(KEY);
}
