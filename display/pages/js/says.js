// @ts-check
// What must be read: warnings, cautions in full, dwells that are timed, gauges that are not connected.

import { clock } from "./bayView.js";
import { el, fill, icon, setAttr, setShown, setText } from "./dom.js";
import { told } from "./told.js";
import { t } from "./words.js";

/** @type {Record<string, () => string>} */
const GAUGE_STATES = { silent: () => t("silent"), absent: () => t("absent") };

export const gaugeState = (/** @type {string} */ state) => GAUGE_STATES[state]?.() ?? state;

/** Warnings of the daemon, in its own words, and a gauge that is needed and away. */
export function createWarnings() {
  const list = el("ul");
  const node = el("section", { class: "warnings", role: "alert" }, icon("octagon-alert"), list);
  return {
    node,
    /** @param {import("./bayView.js").BayView} view */
    show(view) {
      const rows = view.warnings.map(told);
      for (const gauge of new Set([view.gaugeAway, view.crankAway])) {
        if (gauge === null) continue;
        const said = { gauge: gauge.id, state: gaugeState(gauge.state), reason: told(gauge.reason).text };
        rows.unshift({ text: t("{gauge} is {state}: {reason}", said), en: false });
      }
      setShown(node, rows.length > 0);
      fill(list, rows, () => el("li"), (item, row) => {
        setText(item, row.text);
        setAttr(item, "lang", row.en ? "en" : null);
      });
    },
  };
}

/**
 * Which method is in force, where an office hands them out; empty where none does.
 * @param {any} method as the bay tells it
 */
export function methodWords(method) {
  if (!method) return "";
  const named = (/** @type {any} */ one) => `${one.id} ${one.version}`;
  const { in_force: now, waiting, withheld } = method;
  if (withheld) return t("No method is in force: no inspection can be opened");
  if (waiting) return t("By method {method}; {next} waits until this inspection is over", { method: named(now), next: named(waiting) });
  const day = now.since?.slice(0, 10);
  return day ? t("By method {method}, since {day}", { method: named(now), day }) : t("By method {method}", { method: named(now) });
}

/** Every caution, in full: what must have been read at this step. */
export function createCautions() {
  const title = el("h2");
  const list = el("ul", { lang: "en" });
  const node = el("section", { class: "cautions" }, el("div", { class: "cautions-head" }, icon("hard-hat"), title), list);
  return {
    node,
    /** @param {readonly {text: string, of?: string}[]} cautions of: the bays, where there are several */
    show(cautions) {
      setShown(node, cautions.length > 0);
      setText(title, t("Cautions"));
      fill(list, cautions, () => el("li", {}, el("span"), el("span", { class: "of" })), (item, { text, of = "" }) => {
        setText(item.children[0], text);
        setText(item.children[1], of);
        setShown(item.children[1], of !== "");
      });
    },
  };
}

/** Dwells: how long by now, and whether one may end. */
export function createTimers() {
  const node = el("section", { class: "timers" });
  return {
    node,
    /** @param {readonly any[]} timers */
    show(timers) {
      setShown(node, timers.length > 0);
      setAttr(node, "data-count", timers.length);
      fill(node, timers, timerNode, (item, timer) => {
        const [head, time, bounds, state] = item.children;
        setAttr(item, "data-state", timer.state);
        setText(head.children[1], timer.text || timer.item);
        setText(time, clock(timer.seconds));
        setText(bounds, boundsOf(timer));
        const words = { "may-end": t("MAY END NOW"), long: t("TOO LONG: end it, do the check again"), ended: t("ended, record it") };
        const said = words[/** @type {"long"} */ (timer.state)] ?? "";
        setText(state, said);
        setShown(state, said !== "");
      });
    },
  };
}

function timerNode() {
  return el(
    "article",
    { class: "timer" },
    el("p", { class: "timer-head" }, icon("timer"), el("span", { lang: "en" })),
    el("p", { class: "timer-time" }),
    el("p", { class: "timer-bounds" }),
    el("p", { class: "timer-state" }),
  );
}

/** @param {any} timer */
function boundsOf({ least_min: least, most_min: most }) {
  const has = (/** @type {any} */ bound) => bound !== null && bound !== undefined;
  if (has(least) && has(most)) return t("{least} to {most} min", { least, most });
  if (has(least)) return t("at least {least} min", { least });
  return has(most) ? t("at most {most} min", { most }) : "";
}
