// @ts-check
// One bay, as large as the screen.

import { createVerdict, createReasons } from "./between.js";
import { createDials } from "./dials.js";
import { el, icon, setAttr, setShown, setText } from "./dom.js";
import { createFigure } from "./figure.js";
import { createMap } from "./map.js";
import { createCautions, createTimers, createWarnings, gaugeState, methodWords } from "./says.js";
import { told } from "./told.js";
import { besideOf } from "./trace.js";
import { number } from "./units.js";
import { checkName } from "./verdict.js";
import { t } from "./words.js";

export function createLarge() {
  const figure = createFigure();
  const dial = createDials();
  const map = createMap();
  const verdict = createVerdict();
  const reasons = createReasons();
  const warnings = createWarnings();
  const timers = createTimers();
  const cautions = createCautions();
  const awayHead = el("h1");
  const awayWhy = el("p");
  const away = el("section", { class: "away", role: "alert" }, icon("unplug"), awayHead, awayWhy);
  const quiet = el("p", { class: "not-connected" });
  const method = el("p", { class: "method" });
  const left = el("div", { class: "large-left" }, away, figure.node, verdict.node, quiet, method);
  const right = el("div", { class: "large-right" }, timers.node, dial.node, map.node, reasons.node);
  const node = el("div", { class: "large" }, left, right, warnings.node, cautions.node);
  return {
    node,
    /**
     * @param {import("./bayView.js").BayView} view
     * @param {import("./stream.js").Bay} bay
     * @param {import("./units.js").LengthUnit} unit
     */
    show(view, bay, unit) {
      const { mode } = view;
      const isRunning = mode === "turn" || mode === "places" || mode === "lifts";
      setAttr(node, "data-mode", mode);
      setShown(away, mode === "away");
      setText(awayHead, view.away?.head ?? "");
      const why = told(view.away?.why ?? "");
      setText(awayWhy, why.text);
      setAttr(awayWhy, "lang", why.en && !view.away?.isOurs ? "en" : null);
      setShown(figure.node, isRunning);
      if (isRunning) figure.show(view, unit);
      setShown(map.node, mode === "places");
      if (mode === "places") map.show(mapOf(view.live, unit));
      setShown(verdict.node, mode === "idle");
      if (mode === "idle") {
        verdict.show(view, unit);
        reasons.show(view);
      } else setShown(reasons.node, false);
      // Where there is nothing to be read beside yet, the surface that was swept last is looked at.
      const last = mode === "idle" && reasons.node.hidden && view.timers.length === 0 ? lastDialOf(view, bay) : null;
      const dialShown = mode === "turn" ? dialOf(view, bay, unit) : last;
      setShown(dial.node, dialShown !== null);
      if (dialShown !== null) dial.show(dialShown, mode === "turn" ? secondDialOf(view, bay, unit) : null);
      warnings.show(view);
      timers.show(view.timers);
      cautions.show(view.cautions.map((text) => ({ text })));
      const by = mode === "away" ? "" : methodWords(bay.method);
      setShown(method, by !== "");
      setText(method, by);
      const others = view.notConnected.filter(({ id }) => id !== view.gaugeAway?.id && id !== view.crankAway?.id);
      setShown(quiet, others.length > 0);
      const names = others.map(({ id, state }) => `${id} (${gaugeState(state)})`).join(", ");
      setText(quiet, t("Not connected: {gauges}", { gauges: names }));
    },
  };
}

/**
 * @param {import("./bayView.js").BayView} view
 * @param {import("./stream.js").Bay} bay
 * @param {import("./units.js").LengthUnit} unit
 * @returns {import("./dial.js").DialShown}
 */
export function dialOf(view, bay, unit) {
  const { live } = view;
  const trace = bay.trace?.check === view.check ? bay.trace : null;
  return {
    bins: trace?.bins ?? null,
    changes: trace?.changes ?? 0,
    joinDeg: view.joinDeg,
    deg: view.crankDeg,
    crankDeg: view.crankDeg,
    name: t("crank"),
    what: live.beside?.length > 0 ? whose(checkName(live.check), live.gauge, view.deviationMm, unit) : null,
    valueMm: view.valueMm,
    minMm: live.min_mm ?? null,
    maxMm: live.max_mm ?? null,
    limitMm: view.limitMm,
    nextDeg: live.next_mark_deg ?? null,
    highDeg: null,
    isAbove: view.isAbove,
    isUntold: live.angle_zero === "encoder",
  };
}

/**
 * Of what runs beside; null where one sweep runs alone.
 * @param {import("./bayView.js").BayView} view
 * @param {import("./stream.js").Bay} bay
 * @param {import("./units.js").LengthUnit} unit
 * @returns {import("./dial.js").DialShown | null}
 */
export function secondDialOf(view, bay, unit) {
  const beside = view.mode === "turn" ? view.live.beside?.[0] : undefined;
  if (beside === undefined) return null;
  const trace = bay.second?.check === beside.check ? bay.second : null;
  const isThere = beside.gauge === "typed" || !view.notConnected.some(({ id }) => id === beside.gauge);
  const at = besideOf({ ...view.live, angle_deg: view.crankDeg });
  return {
    ...dialOf(view, bay, unit),
    bins: trace?.bins ?? null,
    changes: trace?.changes ?? 0,
    deg: at.angle_deg,
    what: whose(beside.opposite ? t("opposite") : checkName(beside.check), beside.gauge, isThere ? beside.max_deviation_mm : null, unit),
    valueMm: isThere ? at.value_mm : null,
    minMm: beside.min_mm ?? null,
    maxMm: beside.max_mm ?? null,
    limitMm: beside.limit_mm ?? null,
    isAbove: isThere && beside.limit_mm !== null && (beside.max_deviation_mm ?? 0) > beside.limit_mm,
  };
}

/**
 * What a dial is of, with its run-out so far.
 * @param {string} name @param {string} gauge @param {number | null} deviationMm
 * @param {import("./units.js").LengthUnit} unit
 */
function whose(name, gauge, deviationMm, unit) {
  const so = deviationMm === null ? "–" : `${number(unit, deviationMm)} ${unit.name}`;
  return { of: `${name}, ${gauge === "typed" ? t("typed") : gauge}`, figure: so };
}

/**
 * The surface that was swept last, with its high spot as graded; null where there is none of this inspection.
 * @param {import("./bayView.js").BayView} view
 * @param {import("./stream.js").Bay} bay
 * @returns {import("./dial.js").DialShown | null}
 */
function lastDialOf(view, bay) {
  const { trace } = bay;
  const check = trace === null || view.isPast ? undefined : view.result?.checks[trace.check];
  if (trace === null || check === undefined || view.grading !== null) return null;
  const values = trace.bins.filter((value) => value !== null);
  if (values.length === 0 || check.outcome === "missing") return null;
  return {
    bins: trace.bins,
    changes: trace.changes,
    joinDeg: view.joinDeg,
    deg: null,
    crankDeg: null,
    name: checkName(trace.check),
    what: null,
    valueMm: null,
    minMm: Math.min(...values),
    maxMm: Math.max(...values),
    limitMm: check.limit_mm,
    nextDeg: null,
    highDeg: check.high_spot_deg ?? null,
    isAbove: check.outcome === "over",
    isUntold: check.angle_zero === "encoder",
  };
}

/**
 * @param {any} live
 * @param {import("./units.js").LengthUnit} unit
 * @returns {import("./map.js").MapShown}
 */
export function mapOf(live, unit) {
  const hasNext = live.next_station_deg !== null && live.next_station_deg !== undefined;
  return { places: live.places ?? [], next: hasNext ? { station: live.next_station_deg, radius: live.next_radius } : null, unit };
}
