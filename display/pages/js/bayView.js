// @ts-check
// What a bay is at, made of what was heard of it: no figure in here is older than it may pass for.

import { now as pageNow } from "./clock.js";
import { t } from "./words.js";

/** Milliseconds after which the result of a sweep that was ended early is waited for no longer: none may come, as it
 * may have been cancelled, which the stream does not say. A whole one's is waited for: the one before is no answer. */
const EARLY_MAX_MS = 8_000;
/** How far neighbours may be apart in a picture: with an encoder, and where the crank stops at marks. */
const JOIN_DEG = { encoder: 12, marks: 50, dwells: 50, typed: 50 };

const NOTHING = { check: null, warnings: [], cautions: [], timers: [] };

/**
 * mode: `away`: nothing of it is live; `turn`, `places`, `lifts`: that runs; `idle`. away: why, as heading and
 * words. isPast: the result is of the inspection before. grading: the check whose result is being made.
 * gaugeAway: the gauge that reads, where it is not connected. crankAway: the same of the crank's.
 * @typedef {{mode: "away" | "turn" | "places" | "lifts" | "idle", away: {head: string, why: string, isOurs?: boolean} | null,
 *   live: any, check: string | null, result: any, isPast: boolean, grading: string | null, gaugeAway: any, crankAway: any,
 *   deviationMm: number | null, limitMm: number | null, isAbove: boolean, crankDeg: number | null,
 *   valueMm: number | null, joinDeg: number, notConnected: {id: string, state: string, reason: string}[],
 *   warnings: string[], cautions: string[], timers: any[]}} BayView
 */

/**
 * @param {import("./stream.js").Bay} bay
 * @param {{isLive: boolean, brokerAway: string | null, now?: number}} heard
 * @returns {BayView}
 */
export function viewOf(bay, { isLive, brokerAway, now = pageNow() }) {
  const away = awayOf(bay, isLive, brokerAway);
  const live = away === null ? bay.live ?? NOTHING : NOTHING;
  const check = live.check ?? null;
  const notConnected = Object.entries(away === null ? bay.gauges : {})
    .filter(([, gauge]) => gauge.state !== "connected")
    .map(([id, gauge]) => ({ id, state: gauge.state, reason: gauge.reason, measures: gauge.measures }));
  const gaugeAway = check === null || live.gauge === "typed" ? null : awayGauge(bay, live.gauge);
  const crankAway = live.angle_source === "encoder" ? notConnected.find((gauge) => gauge.measures === "angle") ?? null : null;
  const deviationMm = gaugeAway === null ? live.max_deviation_mm ?? null : null;
  const limitMm = live.limit_mm ?? null;
  return {
    mode: away !== null ? "away" : modeOf(check),
    away,
    live,
    check,
    result: bay.result,
    // While nothing is open, what the bay tells is of the inspection before.
    isPast: bay.result !== null && live.inspection !== bay.result.inspection,
    grading: check === null ? gradingOf(bay, now) : null,
    gaugeAway,
    crankAway,
    deviationMm,
    limitMm,
    isAbove: check !== "lifts" && deviationMm !== null && limitMm !== null && deviationMm > limitMm,
    crankDeg: crankAway === null ? live.angle_deg ?? null : null,
    valueMm: gaugeAway === null ? live.value_mm ?? null : null,
    joinDeg: JOIN_DEG[/** @type {"encoder"} */ (live.angle_source)] ?? JOIN_DEG.encoder,
    notConnected,
    warnings: [...(away === null ? bay.status?.warnings ?? [] : []), ...live.warnings],
    cautions: live.cautions,
    timers: live.timers.map((/** @type {any} */ timer) => timed(timer, now - bay.liveAt)),
  };
}

/**
 * @param {import("./stream.js").Bay} bay
 * @param {boolean} isLive
 * @param {string | null} brokerAway
 */
function awayOf(bay, isLive, brokerAway) {
  if (!isLive) return { head: t("NOTHING HEARD"), why: t("This page hears nothing from its server. It goes on trying."), isOurs: true };
  if (brokerAway !== null) return { head: t("BROKER AWAY"), why: brokerAway };
  if (!bay.isHeard) return { head: t("BAY NOT HEARD"), why: t("Nothing was heard of this bay since the connection came back."), isOurs: true };
  if (bay.away !== null) return { head: t("BAY AWAY"), why: bay.away };
  return null;
}

/** @param {import("./stream.js").Bay} bay @param {number} now */
function gradingOf({ ended, result }, now) {
  const isMade = ended === null || ended.revision !== (result?.revision ?? null);
  if (isMade) return null;
  return !ended.isWhole && now - ended.at > EARLY_MAX_MS ? null : ended.check;
}

/** @param {import("./stream.js").Bay} bay @param {string | null} id */
function awayGauge(bay, id) {
  const gauge = id === null ? undefined : bay.gauges[id];
  if (gauge?.state === "connected") return null;
  return { id: id ?? "–", state: gauge?.state ?? "absent", reason: gauge?.reason ?? "" };
}

/** @param {string | null} check */
function modeOf(check) {
  if (check === null) return "idle";
  if (check === "thickness") return "places";
  return check === "lifts" ? "lifts" : "turn";
}

/**
 * A dwell as it is by now: it counts on while the bay says nothing new.
 * @param {any} timer
 * @param {number} sinceMs
 */
function timed(timer, sinceMs) {
  const seconds = timer.elapsed_s + (timer.ended ? 0 : Math.max(0, Math.floor(sinceMs / 1000)));
  const isLong = timer.most_min !== null && seconds > timer.most_min * 60;
  const mayEnd = !timer.ended && timer.least_min !== null && seconds >= timer.least_min * 60;
  return { ...timer, seconds, state: isLong ? "long" : timer.ended ? "ended" : mayEnd ? "may-end" : "running" };
}

/** `12:05`. @param {number} seconds */
export function clock(seconds) {
  return `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;
}
