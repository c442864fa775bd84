// @ts-check
// The office's page: the fleet, or the past of one damper, as the records tell it. It changes nothing.

import { createCompared } from "./comparedView.js";
import { createDamper } from "./damperView.js";
import { el, setText } from "./dom.js";
import { createFleet } from "./fleetView.js";
import { placeLinks } from "./places.js";
import { ask, linkTo, Trouble } from "./records.js";
import { onChange } from "./settings.js";
import { settingsPanel } from "./settingsPanel.js";
import { loadSaid, toldNode } from "./told.js";
import { t, translate } from "./words.js";

/** Milliseconds between two questions to the records while a page is looked at. */
const AGAIN_MS = 300_000;

const main = /** @type {HTMLElement} */ (document.getElementById("main"));
const sought = /** @type {HTMLInputElement} */ (document.getElementById("sought"));
const asked = new URLSearchParams(location.search);
const serial = asked.get("of");
sought.value = asked.get("find") ?? "";

/** What is shown now: made anew when unit, language or light is another. @type {(() => Node[]) | null} */
let view = null;
/** The fleet, where it is what is shown. @type {ReturnType<typeof createFleet> | null} */
let fleet = null;
/** What the records told last, and whether they are being asked. */
let told = "";
let isAsking = false;
const panel = settingsPanel();

function places() {
  const nav = /** @type {HTMLElement} */ (document.getElementById("places"));
  nav.setAttribute("aria-label", t("Pages"));
  nav.replaceChildren(...placeLinks(serial === null ? "/history" : ""));
}

function paint() {
  translate(document);
  places();
  panel.write();
  document.title = `ringtrue: ${serial ?? t("history")}`;
  if (view === null) return;
  main.replaceChildren(...view());
  fleet?.narrow(sought.value);
}

/** @param {unknown} error */
function complain(error) {
  const isUnknown = error instanceof Trouble && error.status === 404;
  const line = error instanceof Error ? error.message : String(error);
  view = () => {
    const again = el("button", { type: "button", class: "main" }, t("Try again"));
    again.addEventListener("click", show);
    const back = serial === null ? [] : [el("a", { href: "/history", class: "button" }, t("Back to the fleet"))];
    return [
      el(
        "section",
        { class: "panel trouble", role: "alert" },
        el("h1", {}, isUnknown ? t("Not on record") : t("The records cannot be shown")),
        toldNode("p", line),
        el("p", { class: "row" }, again, ...back),
      ),
    ];
  };
}

/** @param {any} answer */
async function make(answer) {
  if (asked.has("compared")) {
    view = createCompared(answer);
  } else if (serial === null) {
    fleet = createFleet(answer, fleet?.chosen());
    view = fleet.view;
    document.getElementById("serials")?.replaceChildren(...fleet.serials.map((value) => el("option", { value })));
  } else {
    view = await createDamper(answer);
  }
}

/** A verdict on a page that was left open may not be the last one any more; where nothing is another, nothing moves. */
async function look() {
  if (isAsking) return;
  isAsking = true;
  try {
    const answer = await ask(path());
    if (JSON.stringify(answer) === told) return;
    await make(answer);
    told = JSON.stringify(answer);
  } catch (error) {
    told = "";
    complain(error);
  } finally {
    isAsking = false;
  }
  paint();
}

function path() {
  if (asked.has("compared")) return "/api/fleet/compared";
  return serial === null ? "/api/fleet" : `/api/history/${encodeURIComponent(serial)}`;
}

async function show() {
  main.setAttribute("aria-busy", "true");
  await look();
  main.setAttribute("aria-busy", "false");
}

/** On to the one that was typed; where it is none, the rows that have it in them are what is left. */
function goToMeant() {
  const meant = fleet?.meant(sought.value);
  if (meant) location.assign(linkTo(meant));
}

document.getElementById("find")?.addEventListener("submit", (event) => {
  event.preventDefault();
  if (fleet === null) location.assign(`/history?find=${encodeURIComponent(sought.value.trim())}`);
  else goToMeant();
});
sought.addEventListener("input", () => fleet?.narrow(sought.value));
document.getElementById("sheet")?.append(panel.button, panel.dialog);
document.querySelector(".skip")?.addEventListener("click", () => main.focus());
onChange(async () => {
  await loadSaid();
  paint();
});
await loadSaid();
paint();
setText(main, t("Reading the records …"));
await show();
const lookAgain = () => (document.visibilityState === "visible" ? look() : undefined);
document.addEventListener("visibilitychange", lookAgain);
setInterval(lookAgain, AGAIN_MS);
if (asked.has("find")) goToMeant();
