// @ts-check
// The sheet on which this browser is told its unit, language, light and sound, with the way to the other pages. All
// pages use it.

import { el, icon } from "./dom.js";
import { placeLinks } from "./places.js";
import { get, onChange, set } from "./settings.js";
import { t } from "./words.js";

/** Group, how it is called, its choices. Called again when the language is another. */
const groups = () => [
  { key: "unit", legend: t("Lengths"), choices: [["mm", t("millimetres")], ["in", t("inches")]] },
  // Each language by its own name: it is looked for by who cannot read the other.
  { key: "lang", legend: t("Language"), choices: [["en", "English"], ["de", "Deutsch"]] },
  { key: "theme", legend: t("Light"), choices: [["day", t("day")], ["dark", t("dark")], ["auto", t("as this device")]] },
  { key: "sound", legend: t("Sound and speech"), choices: [[true, t("on")], [false, t("off")]] },
];

/** A button that opens the sheet, and the sheet, to be put into the page. */
export function settingsPanel() {
  const button = el("button", { type: "button", class: "plain" }, icon("sliders-horizontal"));
  const title = el("h2");
  const close = el("button", { type: "button", class: "plain" }, icon("x"));
  const body = el("form");
  const pages = el("nav", { class: "places" });
  const dialog = /** @type {HTMLDialogElement} */ (
    el("dialog", { class: "settings" }, el("header", {}, title, close), body, pages)
  );

  function write() {
    title.textContent = t("Settings");
    button.setAttribute("aria-label", t("Settings"));
    close.setAttribute("aria-label", t("Close"));
    dialog.setAttribute("aria-label", t("Settings"));
    pages.setAttribute("aria-label", t("Pages"));
    pages.replaceChildren(...placeLinks(location.pathname));
    const held = /** @type {HTMLInputElement | null} */ (body.querySelector("input:focus"))?.name;
    body.replaceChildren(...groups().map(fieldset));
    if (held !== undefined) /** @type {HTMLElement | null} */ (body.querySelector(`input[name="${held}"]:checked`))?.focus();
  }

  button.addEventListener("click", () => {
    write();
    dialog.showModal();
  });
  close.addEventListener("click", () => dialog.close());
  dialog.addEventListener("click", (event) => {
    if (event.target === dialog) dialog.close(); // beside the sheet
  });
  write();
  return { button, dialog, write };
}

/** @param {{key: string, legend: string, choices: (string | boolean)[][]}} group */
function fieldset({ key, legend, choices }) {
  const set_ = el("fieldset", {}, el("legend", {}, legend));
  for (const [value, label] of choices) {
    const input = /** @type {HTMLInputElement} */ (
      el("input", { type: "radio", name: key, value: String(value), checked: get()[key] === value })
    );
    input.addEventListener("change", () => set({ [key]: value }));
    set_.append(el("label", {}, input, el("span", {}, String(label))));
  }
  return set_;
}

/**
 * A button that turns sound and speech off and on. write: to be called when the language is another.
 */
export function soundButton() {
  const button = el("button", { type: "button", class: "plain sound" });
  const on = icon("volume-2");
  const off = icon("volume-off");
  button.append(on, off);
  function write() {
    const { sound } = get();
    on.toggleAttribute("hidden", !sound);
    off.toggleAttribute("hidden", sound);
    button.setAttribute("aria-label", sound ? t("Sound is on: turn it off") : t("Sound is off: turn it on"));
    button.setAttribute("aria-pressed", String(sound));
  }
  button.addEventListener("click", () => set({ sound: !get().sound }));
  onChange(write);
  write();
  return { button, write };
}
