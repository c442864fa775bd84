// @ts-check
// The bench page: the walk through an inspection, led step by step, with what runs at the bay beside it.

import { createActs } from "./acts.js";
import { createAway } from "./away.js";
import { viewOf } from "./bayView.js";
import { createCamera } from "./camera.js";
import { heardOf, spokenOf, toneOf } from "./cues.js";
import { el, painter, setAttr, setShown } from "./dom.js";
import { createDue } from "./due.js";
import { createEnd } from "./end.js";
import { listenKeys } from "./keys.js";
import { createPage } from "./page.js";
import { createPhoto } from "./photo.js";
import { createPicture } from "./picture.js";
import { createRail } from "./rail.js";
import { get, onChange } from "./settings.js";
import { createSound } from "./sound.js";
import { createSpeech } from "./speech.js";
import { connect, unheard } from "./stream.js";
import { tabId } from "./tab.js";
import { createTexts } from "./texts.js";
import { loadSaid } from "./told.js";
import { createTop, enterAnew } from "./top.js";
import { UNITS } from "./units.js";
import { stayAwake } from "./wake.js";
import { t } from "./words.js";

/** Milliseconds between two looks at the clock. */
const CLOCK_MS = 500;

const tab = tabId();
const texts = createTexts();
const sound = createSound();
const speech = createSpeech();
/** @type {any} */
let page = null;
let line = "";
let isServed = false;
/** @type {import("./cues.js").Heard | null} */
let heard = null;
/** @type {ReturnType<typeof connect>} */
let store;
let streamed = "";

const paint = painter(draw);
const say = (/** @type {string} */ text) => {
  line = text;
  paint();
};
const acts = createActs({ tab, onChange: paint, onLine: say, onOut: enterAnew });
const photo = createPhoto({ tab, noteOf: (check, item) => texts.get(`note.${check}.${item}`) ?? "", onOut: enterAnew });
const sheet = createPage({ press, texts, beside: photo.button });
const picture = createPicture();
const rail = createRail();
const away = createAway();
const end = createEnd();
const camera = createCamera(scanned);
const due = createDue((engine, damper) => {
  sheet.fields.put("open.engine", engine);
  sheet.fields.put("open.damper", damper);
  sheet.fields.first()?.focus();
});
const top = createTop({ title: sheet.title, onLeave: () => texts.dropAll() });

sheet.sheet.insertBefore(photo.told, sheet.choices.list);
sheet.fields.node.before(due.node, camera.button);
const body = el("main", { class: "bench-main" }, sheet.cautions, sheet.sheet, picture.figure, picture.drawn);
const foot = el(
  "footer",
  { class: "bench-foot" },
  sheet.notice,
  end.report,
  sheet.choices.main,
  sheet.choices.acts,
  sheet.choices.ways,
);
document.body.append(top.node, rail.node, away.node, picture.timers, body, foot, end.left, top.dialog, camera.dialog);

/** Whether nothing of the page may be pressed now. */
const isLocked = () => !store.isLive() || acts.isSending();
const FRESH_LOOK_MS = 260;

/** @param {string} key */
async function press(key) {
  const choice = page?.choices.find((/** @type {any} */ one) => one.key === key);
  if (choice === undefined || choice.off || isLocked() || sheet.isFresh()) return;
  if (page.name === "cautions" && choice.main && sheet.readOn()) return;
  const typed = sheet.fields.typed();
  if (await acts.press(page, key, typed)) texts.sent(Object.keys(typed));
}

/** @param {HTMLInputElement | null} field in which Enter was pressed */
function enter(field) {
  const following = field === null ? undefined : sheet.fields.empty(field);
  if (following !== undefined) following.focus();
  else if (page?.choices.some((/** @type {any} */ one) => one.main)) press("enter");
}

/** @param {string} text what a scanner read, while no field had the focus */
function scanned(text) {
  const field = sheet.fields.empty();
  if (page === null || field === undefined || field.inputMode === "decimal") {
    say(t("Scanned: {text}. Nothing is asked here.", { text }));
    return;
  }
  sheet.fields.put(field.name, text);
  (sheet.fields.empty(field) ?? field).focus();
}

/** Esc: the page before; of a question, no. */
function out() {
  if (page === null) return;
  press(page.name.startsWith("question ") ? "n" : "esc");
}

listenKeys({ press, scanned, enter, out, isOff: () => document.querySelector("dialog[open]") !== null || (page?.left ?? false) });

const bayNow = () => [...store.bays.values()][0] ?? unheard();
const viewNow = () => viewOf(bayNow(), { isLive: store.isLive(), brokerAway: store.broker.away });

function draw() {
  if (streamed === "") return; // the words come first
  const unit = UNITS[get().unit];
  const bay = bayNow();
  const view = viewNow();
  const isLive = store.isLive();
  away.show({ isLive, brokerAway: store.broker.away, alarm: page?.alarm ?? "", hasPage: page !== null });
  top.show(sound.isWaiting());
  const isLeft = page?.left ?? false;
  setShown(end.left, isLeft);
  for (const part of [body, foot]) setShown(part, page !== null && !isLeft);
  if (page === null || isLeft) {
    end.show(page, unit.name);
    for (const part of [rail.node, picture.timers, picture.figure, picture.drawn]) setShown(part, false);
    return;
  }
  const hasFigure = picture.show(page, view, bay, unit);
  sheet.show(page, { isLocked: isLocked(), isLive, hasFigure, line, isServed });
  isServed = false;
  if (sheet.isFresh()) setTimeout(paint, FRESH_LOOK_MS);
  rail.show(page, bay.result);
  photo.show(page.picture, isLocked() || page.busy);
  due.show(page.name === "start");
  camera.show(page.fields.some((/** @type {any} */ one) => !one.number && one.id.startsWith("open.")));
  end.show(page, unit.name);
  setAttr(document.body, "data-page", page.name.split(" ")[0]);
  setAttr(document.body, "data-typed", page.fields.length > 0);
  document.title = `${page.title} – ringtrue`;
}

function listen() {
  const view = viewNow();
  const now = heardOf(view);
  const tone = toneOf(heard, now);
  if (tone !== null) sound.play(tone);
  for (const { text, en } of spokenOf(heard, now, view)) speech.say(text, en ? "en" : undefined);
  heard = now;
}

/** @param {any} now */
function takePage(now) {
  // What a press came to is told by the page: a line of before is none of it.
  if (page !== null && (now.name !== page.name || now.taken !== page.taken)) line = "";
  page = now;
  const isOther = [texts.inUnit(page.unit), texts.whose(page.person, page.of)].some(Boolean);
  isServed = texts.served(page.forgotten) || isServed || isOther;
  acts.heard(page);
  paint();
}

/** One stream, in the unit and language that are set. */
function stream() {
  const { unit, lang } = get();
  const url = `/bench/stream?${new URLSearchParams({ tab, unit, lang })}`;
  if (url === streamed) return;
  streamed = url;
  store?.close();
  store = connect(url);
  store.on("page", takePage);
  store.on("bay", () => {
    listen();
    paint();
  });
  for (const event of /** @type {const} */ (["broker", "live"])) {
    store.on(event, () => {
      listen();
      paint();
    });
  }
}

async function reword() {
  await loadSaid();
  top.write();
  stream();
  paint();
}

onChange(reword);
sound.onState(paint);
top.touch.addEventListener("click", sound.wake);
stayAwake();
await top.look();
await reword();
setInterval(() => {
  if (!store.isLive()) top.look();
  paint();
}, CLOCK_MS);
