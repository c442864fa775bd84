// @ts-check
// What the server tells, kept as it is now: one stream for the page, every bay with its newest words.

import { now as pageNow } from "./clock.js";
import { addReading, besideOf, traceOf } from "./trace.js";

/**
 * @typedef {{away: string | null, status: any, gauges: Record<string, any>, live: any, result: any, method: any,
 *   trace: import("./trace.js").Trace | null, second: import("./trace.js").Trace | null, liveAt: number, isHeard: boolean, ended: Ended | null}} Bay
 * liveAt: when live was heard, by clock.js. isHeard: since the stream was opened last.
 * @typedef {{check: string, revision: number | null, at: number, isWhole: boolean}} Ended
 * The sweep that ended last, when, the revision of the result until then, and whether nothing of it was left.
 */

/** Milliseconds without a word after which nothing that is shown may pass for live. */
export const SILENT_MS = 5000;
/** And after which the connection is given up and made anew. */
const HANGING_MS = 15000;
const LOOK_MS = 500;
const AGAIN_MS = 2000;
/** And after which what comes is too old: a slow line holds figures back, a tablet that slept is handed them late. */
const LATE_MS = 3000;
/** Share by which the clocks of page and server may run apart. */
const DRIFT = 0.001;

/** A turn may end some degrees before its last words come. */
const WHOLE_DEG = 15;

/** @param {any} live */
function isWhole({ check, to_bar_deg: toBar, next_station_deg: next }) {
  return check === "thickness" ? next === null : toBar !== null && toBar < WHOLE_DEG;
}

/** @returns {Bay} */
export function unheard() {
  return { away: null, status: null, gauges: {}, live: null, result: null, method: null, trace: null, second: null, liveAt: 0, isHeard: false, ended: null };
}

/**
 * Events: `bay` (its key, what changed), `broker`, `page` (the data), `live` (whether the page still hears).
 * @param {string | (() => string)} url
 * @param {{open?: (url: string) => EventSource, now?: () => number}} [with_]
 */
export function connect(url, { open = (to) => new EventSource(to), now = pageNow } = {}) {
  /** @type {Map<string, Bay>} */
  const bays = new Map();
  /** @type {Map<string, Set<(...said: any[]) => void>>} */
  const listeners = new Map();
  const broker = { away: /** @type {string | null} */ (null) };
  let heardAt = now();
  let openedAt = heardAt;
  let wasLive = true;
  let hasHeard = false;
  /** Why the server shows nothing, in its words. */
  let whyNot = "";
  /** The least that the page's clock was ahead of what the server wrote on this connection, and when. */
  let ahead = { ms: Infinity, at: 0 };
  /** @type {EventSource} */
  let source;

  /** @type {(event: string, ...said: any[]) => void} */
  const tell = (event, ...said) => listeners.get(event)?.forEach((listener) => listener(...said));
  const where = () => (typeof url === "string" ? url : url());
  const isLive = () => hasHeard && now() - heardAt < SILENT_MS;

  function look() {
    if (isLive() !== wasLive) {
      wasLive = isLive();
      tell("live", wasLive);
    }
    const since = Math.min(now() - heardAt, now() - openedAt);
    const isOver = source.readyState === EventSource.CLOSED && since > AGAIN_MS;
    if (isOver) askWhy();
    if (isOver || since > HANGING_MS) start();
  }

  /** @param {(data: any) => void} take */
  const hearing = (take) => (/** @type {MessageEvent} */ event) => {
    heardAt = now();
    hasHeard = true;
    try {
      take(JSON.parse(event.data));
    } catch (error) {
      // What is not taken in leaves what is shown untrue: nothing is live until all of it is told anew.
      hasHeard = false;
      source.close();
      throw error;
    } finally {
      look();
    }
  };

  /** Written by the server as it sent this. @param {{at?: number}} told seconds of its clock */
  function takeAlive({ at }) {
    if (at === undefined) return;
    const ms = now() - at * 1000;
    ahead = { ms: Math.min(ms, ahead.ms + (now() - ahead.at) * DRIFT), at: now() };
    if (ms - ahead.ms <= LATE_MS) return;
    hasHeard = false;
    start(); // all of it anew: what is still on its way is older yet
  }

  /** @param {{bay: string} & Record<string, any>} patch */
  function takeBay({ bay: key, ...patch }) {
    // The first words after the stream was opened are the whole of it: nothing older is mixed in.
    let bay = bays.get(key);
    if (bay === undefined || !bay.isHeard) {
      bay = unheard();
      bays.set(key, bay);
    }
    const { trace, second, ...rest } = patch;
    const ran = bay.live?.check ?? null;
    if (patch.live && ran !== null && ran !== "lifts" && patch.live.check === null) {
      bay.ended = { check: ran, revision: bay.result?.revision ?? null, at: now(), isWhole: isWhole(bay.live) };
    }
    Object.assign(bay, rest, { isHeard: true });
    if (trace !== undefined) bay.trace = traceOf(trace);
    if (second !== undefined) bay.second = traceOf(second);
    if (patch.live) {
      bay.liveAt = now();
      bay.trace = addReading(bay.trace, patch.live);
      bay.second = addReading(bay.second, besideOf(patch.live));
    }
    tell("bay", key, patch);
  }

  /** An EventSource tells nothing of an answer that is no stream. */
  async function askWhy() {
    try {
      whyNot = (await fetch(where(), { method: "HEAD" })).headers.get("X-Ringtrue-Why") ?? "";
    } catch {
      whyNot = ""; // nobody is there: no page needs to be told why
    }
    tell("live", isLive());
  }

  function start() {
    source?.close();
    openedAt = now();
    ahead = { ms: Infinity, at: openedAt };
    source = open(where());
    source.addEventListener("open", () => {
      whyNot = "";
      for (const bay of bays.values()) bay.isHeard = false;
      ahead = { ms: Infinity, at: now() };
    });
    source.addEventListener("bay", hearing(takeBay));
    source.addEventListener("alive", hearing(takeAlive));
    source.addEventListener("page", hearing((page) => tell("page", page)));
    source.addEventListener("broker", hearing(({ away }) => {
      broker.away = away;
      tell("broker", away);
    }));
  }

  start();
  const timer = setInterval(look, LOOK_MS);

  return {
    bays,
    broker,
    isLive,
    whyNot: () => whyNot,
    /** Anew, as the address is another. */
    again: start,
    /**
     * @param {"bay" | "broker" | "page" | "live"} event
     * @param {(...said: any[]) => void} listener
     */
    on(event, listener) {
      if (!listeners.has(event)) listeners.set(event, new Set());
      listeners.get(event)?.add(listener);
      return () => listeners.get(event)?.delete(listener);
    },
    close() {
      clearInterval(timer);
      source.close();
    },
  };
}
