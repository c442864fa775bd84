// @ts-check
// The wall page: all bays side by side, or one as large as the screen.

import { viewOf } from "./bayView.js";
import { heardOf, spokenOf, toneOf } from "./cues.js";
import { el, icon, painter, setAttr, setShown, setText } from "./dom.js";
import { createLarge } from "./large.js";
import { createCautions } from "./says.js";
import { get, onChange } from "./settings.js";
import { settingsPanel, soundButton } from "./settingsPanel.js";
import { createSound } from "./sound.js";
import { createSpeech } from "./speech.js";
import { connect, unheard } from "./stream.js";
import { createTile } from "./tile.js";
import { loadSaid, told } from "./told.js";
import { UNITS } from "./units.js";
import { t } from "./words.js";

/** Milliseconds between two looks at the clock, while nothing is heard. */
const CLOCK_MS = 500;

const sound = createSound();
const speech = createSpeech();
let unit = get().unit;
const store = connect(() => `/wall/stream?unit=${unit}`);
/** @type {Map<string, import("./cues.js").Heard>} */
const heard = new Map();

const large = createLarge();
const tiles = el("div", { class: "tiles" });
const gridCautions = createCautions();
const grid = el("div", { class: "grid" }, tiles, gridCautions.node);
const none = el("section", { class: "away" }, icon("unplug"), el("h1"), el("p"));
const title = el("h1", { class: "wall-title" });
const serials = el("p", { class: "wall-serials" });
const back = el("button", { type: "button", class: "plain" }, icon("layout-grid"), el("span"));
const touch = el("button", { type: "button", class: "line touch" }, icon("hand"), el("span"));
const panel = settingsPanel();
const soundSwitch = soundButton();
const top = el("header", { class: "wall-top" }, back, title, serials, touch, soundSwitch.button, panel.button);
const main = el("main", { class: "wall-main" }, none, grid, large.node);
document.body.append(top, main, panel.dialog);

const paint = painter(draw);

/** The bay that is to be large; null: all. */
function chosen() {
  const asked = new URLSearchParams(location.search).get("bay");
  if (asked !== null) return asked;
  return store.bays.size === 1 ? [...store.bays.keys()][0] : null;
}

/** @param {string | null} bay */
function choose(bay) {
  history.pushState(null, "", bay === null ? location.pathname : `?${new URLSearchParams({ bay })}`);
  paint();
}

/** @param {import("./stream.js").Bay} bay */
const view = (bay) => viewOf(bay, { isLive: store.isLive(), brokerAway: store.broker.away });

function draw() {
  const one = chosen();
  const unit = UNITS[get().unit];
  const isEmpty = one === null && store.bays.size === 0;
  setShown(none, isEmpty);
  setShown(grid, one === null && !isEmpty);
  setShown(large.node, one !== null);
  setShown(back, one !== null && store.bays.size > 1);
  setText(back.children[1], t("all bays"));
  setShown(touch, sound.isWaiting());
  setText(touch.children[1], t("Touch here for sound"));
  if (one !== null) drawOne(one, unit);
  else if (isEmpty) drawNone();
  else drawAll(unit);
}

/** @param {string} key @param {import("./units.js").LengthUnit} unit */
function drawOne(key, unit) {
  const bay = store.bays.get(key) ?? unheard();
  const seen = view(bay);
  const shown = seen.result;
  setText(title, key);
  const isShown = shown !== null && seen.away === null && !(seen.isPast && seen.live.inspection);
  setText(serials, isShown ? serialsOf(shown) : "");
  large.show(seen, bay, unit);
  document.title = `${key} – ringtrue`;
}

/** @param {any} result */
function serialsOf({ engine, damper }) {
  const of = [];
  if (engine?.serial) of.push(t("engine {serial}", { serial: engine.serial }));
  if (damper?.serial) of.push(t("damper {serial}", { serial: damper.serial }));
  return of.join("  ·  ");
}

function drawNone() {
  setText(title, "ringtrue");
  setText(serials, "");
  const isLive = store.isLive();
  const why = isLive ? store.broker.away ?? "" : store.whyNot();
  const { text, en } = told(why);
  setText(none.children[1], why === "" ? t("NO BAY HEARD YET") : isLive ? t("BROKER AWAY") : t("NOTHING HEARD"));
  setAttr(none.children[2], "lang", why !== "" && en ? "en" : null);
  setText(none.children[2], why === "" ? t("As soon as a bay's daemon runs, it is shown here.") : text);
}

/** @type {ReturnType<typeof createTile>[]} */
const made = [];

/** @param {import("./units.js").LengthUnit} unit */
function drawAll(unit) {
  const bays = [...store.bays.entries()].sort(([a], [b]) => a.localeCompare(b, "en", { numeric: true }));
  setText(title, t("{number} bays", { number: bays.length }));
  setText(serials, "");
  setAttr(tiles, "data-columns", columns(bays.length));
  while (made.length < bays.length) {
    made.push(createTile(choose));
    tiles.append(made[made.length - 1].node);
  }
  /** @type {Map<string, string[]>} */
  const cautions = new Map();
  bays.forEach(([key, bay], index) => {
    const seen = view(bay);
    made[index].show(key, seen, unit);
    for (const text of seen.cautions) cautions.set(text, [...(cautions.get(text) ?? []), key.split("/")[1] ?? key]);
  });
  gridCautions.show([...cautions].map(([text, of]) => ({ text, of: of.join(", ") })));
  document.title = "ringtrue";
}

/** @param {number} number */
function columns(number) {
  if (number <= 2) return number;
  if (number <= 4) return 2;
  return number <= 9 ? 3 : 4;
}

/**
 * Sounds of a bay: all of the one that is large; of the others only what is grave.
 * @param {string} key
 */
function listen(key) {
  const bay = store.bays.get(key);
  if (bay === undefined) return;
  const seen = view(bay);
  const now = heardOf(seen);
  const before = heard.get(key) ?? null;
  heard.set(key, now);
  const isOne = chosen() === key;
  const tone = toneOf(before, now);
  if (tone !== null && (isOne || (chosen() === null && (tone === "over" || tone === "warning")))) sound.play(tone);
  if (isOne) for (const { text, en } of spokenOf(before, now, seen)) speech.say(text, en ? "en" : undefined);
}

store.on("bay", (/** @type {string} */ key) => {
  listen(key);
  paint();
});
for (const event of /** @type {const} */ (["broker", "live"])) {
  store.on(event, () => {
    for (const key of store.bays.keys()) listen(key);
    paint();
  });
}
sound.onState(paint);
touch.addEventListener("click", sound.wake);
back.addEventListener("click", () => choose(null));
addEventListener("popstate", paint);
addEventListener("keydown", (event) => {
  if (event.key === "Escape" && chosen() !== null && store.bays.size > 1) choose(null);
});
onChange(reword);
onChange((now) => {
  if (now.unit === unit) return;
  unit = now.unit;
  store.again();  // sentences are told in it too
});
setInterval(paint, CLOCK_MS);

async function reword() {
  await loadSaid();
  soundSwitch.write();
  panel.write();
  paint();
}

await reword();
