// @ts-check
// Name and password, before the pages that need them.

import { el, setAttr, setShown, setText } from "./dom.js";
import { post, UNHEARD } from "./post.js";
import { onChange } from "./settings.js";
import { settingsPanel } from "./settingsPanel.js";
import { loadSaid, told } from "./told.js";
import { t } from "./words.js";

const NAME_KEY = "ringtrue.name";
const panel = settingsPanel();
const title = el("h1");
const nameWords = el("label", { for: "name" });
const name = /** @type {HTMLInputElement} */ (
  el("input", { type: "text", id: "name", name: "name", autocomplete: "username", autocapitalize: "words", maxlength: 100 })
);
const passwordWords = el("label", { for: "password" });
const password = /** @type {HTMLInputElement} */ (
  el("input", { type: "password", id: "password", name: "password", autocomplete: "current-password", "aria-describedby": "where" })
);
const where = el("p", { id: "where", class: "hint" });
const error = el("p", { class: "error", role: "alert" });
const button = /** @type {HTMLButtonElement} */ (el("button", { type: "submit", class: "main" }));
const form = el("form", { class: "panel", novalidate: true }, title, nameWords, name, passwordWords, password, where, error, button);
const wall = el("a", { class: "button", href: "/wall" });
document.body.append(el("header", {}, panel.button), el("main", {}, form, wall), panel.dialog);

let hasPeople = true;
/** Who is in already and may not what was asked for; empty where nobody is. */
let barred = "";
name.value = localStorage.getItem(NAME_KEY) ?? "";

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  // A bay's broker may ask for no credential; a person always has a password.
  const missing = (hasPeople ? [name, password] : [name]).find((field) => field.value === "");
  if (missing !== undefined) {
    tell(missing === name ? t("Your name is needed: it stands with what you record.") : t("The password is needed."));
    missing.focus();
    return;
  }
  button.disabled = true;
  const next = new URLSearchParams(location.search).get("next") ?? "";
  const said = new URLSearchParams({ name: name.value, password: password.value, next });
  const answer = await post("/enter", said.toString(), "application/x-www-form-urlencoded");
  button.disabled = false;
  if (answer.status === 200) {
    localStorage.setItem(NAME_KEY, name.value);
    location.assign(answer.data.next);
    return;
  }
  tell(answer.status === UNHEARD ? t("The server does not answer: try again.") : told(answer.error).text);
  password.select();
  password.focus();
});

/** @param {string} text */
function tell(text) {
  setText(error, text);
  setShown(error, text !== "");
  setAttr(password, "aria-invalid", text === "" ? null : "true");
}

async function write() {
  await loadSaid();
  setText(title, t("Who works here?"));
  setText(nameWords, t("Your name"));
  setText(passwordWords, hasPeople ? t("Your password") : t("The bay's credential"));
  setText(where, hasPeople ? "" : t("One line in a file: “ringtrue run” says at its start where it lies. Whoever has it may do all."));
  setText(button, t("go in"));
  setText(wall, t("to the wall, which asks nothing"));
  panel.write();
}

async function ask() {
  try {
    const me = await (await fetch("/api/me")).json();
    hasPeople = me.people;
    const isBench = new URLSearchParams(location.search).get("next") === "/bench";
    barred = me.role === "look" && isBench ? me.person : "";
  } catch {
    // as if there were people: what is wrong is told when it is sent
  }
}

tell("");
onChange(write);
await ask();
await write();
if (barred !== "") tell(t("{name} may look, and not inspect: the bench needs somebody who may.", { name: barred }));
(name.value === "" ? name : password).focus();
