// @ts-check
// Keyboard, foot switch and barcode scanner alike: a key is a choice unless it is typed into a field, and what
// comes faster than a hand types is a scan, never a choice.

/** Milliseconds between two keys of a scanner at most; a hand is slower. */
const SCAN_MS = 70;
/** Into a field of digits these come at once from a scanner alone: so many, this close together. */
const CODE_MIN = 6;
const CODE_MS = 30;
/** In a field of digits these are typed; every other letter is a choice. */
const DIGITS = "0123456789.,+- ";

/**
 * @param {{press: (key: string) => void, scanned: (text: string) => void, enter: (field: HTMLInputElement | null) => void,
 *   out: () => void, isOff: () => boolean}} do_
 * enter: Enter, and in which field. out: Esc. isOff: as while a sheet lies on the page.
 */
export function listenKeys({ press, scanned, enter, out, isOff }) {
  let burst = "";
  let timer = 0;
  let code = { text: "", at: 0, before: "" };

  function flush() {
    clearTimeout(timer);
    const text = burst;
    burst = "";
    // A switch that bounces is one press.
    if (new Set(text).size === 1) press(text[0]);
    else if (text !== "") scanned(text);
  }

  addEventListener("keydown", (event) => {
    if (isOff() || event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    const field = event.target instanceof HTMLInputElement && event.target.type === "text" ? event.target : null;
    const isNumber = field?.inputMode === "decimal";
    if (event.key === "Enter") takeEnter(event, field);
    else if (isNumber && DIGITS.includes(event.key) && burst === "") follow(event, /** @type {HTMLInputElement} */ (field));
    else if (event.key === "Escape") {
      event.preventDefault();
      if (field !== null && !isNumber) field.blur();
      else out();
    } else if ([...event.key].length === 1) {
      if (field !== null && !(isNumber && (burst !== "" || !DIGITS.includes(event.key)))) return;
      if (event.key === " " && burst === "") return; // presses what has the focus
      event.preventDefault();
      if (event.repeat) return;
      burst += event.key;
      clearTimeout(timer);
      timer = setTimeout(flush, SCAN_MS);
    }
  });

  /** A digit is typed into its field. @param {KeyboardEvent} event @param {HTMLInputElement} field */
  function follow({ key, timeStamp: at }, field) {
    const isSame = at - code.at <= CODE_MS;
    code = isSame ? { ...code, text: code.text + key, at } : { text: key, at, before: field.value };
  }

  /** A code of digits is no figure: what stood in the field stands there again. @param {HTMLInputElement} field */
  function takeOut(field) {
    field.value = code.before;
    field.dispatchEvent(new Event("input", { bubbles: true }));
    scanned(code.text);
  }

  /** @param {KeyboardEvent} event @param {HTMLInputElement | null} field */
  function takeEnter(event, field) {
    const isCode = code.text.length >= CODE_MIN && event.timeStamp - code.at <= CODE_MS;
    if (field?.inputMode === "decimal" && isCode) {
      event.preventDefault();
      takeOut(field);
      return;
    }
    if (burst.length > 1) {
      event.preventDefault();
      flush();
      return;
    }
    const isOwn = event.target instanceof Element && event.target.closest("button, a, input:not([type=text]), summary");
    if (isOwn) {
      if (event.repeat) event.preventDefault(); // a key held down presses once
      return;
    }
    event.preventDefault();
    if (!event.repeat) enter(field);
  }
}
