// @ts-check
// What a sweep has read so far, by whole degree of the crank: 360 places, never more.

export const DEGREES = 360;

/**
 * @typedef {{check: string, bins: (number | null)[], changes: number, latest: number | null}} Trace
 * changes: counts up with each reading, so that who draws it knows when to. latest: the bin filled last.
 */

/** What is swept on a turn of the crank. */
const SWEPT = new Set(["rim", "face"]);

/**
 * As the server tells it whole.
 * @param {{check: string, bins: (number | null)[]} | null} told
 * @returns {Trace | null}
 */
export function traceOf(told) {
  return told === null ? null : { check: told.check, bins: told.bins, changes: 1, latest: null };
}

/**
 * The trace with the reading that live brings; another check is another trace.
 * @param {Trace | null} trace
 * @param {any} live
 * @returns {Trace | null}
 */
export function addReading(trace, live) {
  if (!SWEPT.has(live.check)) return trace;
  const mine =
    trace !== null && trace.check === live.check
      ? trace
      : { check: live.check, bins: new Array(DEGREES).fill(null), changes: 0, latest: null };
  if (live.angle_deg === null || live.value_mm === null) return mine;
  const bin = ((Math.floor(live.angle_deg) % DEGREES) + DEGREES) % DEGREES;
  mine.bins[bin] = live.value_mm;
  mine.latest = bin;
  mine.changes += 1;
  return mine;
}

/**
 * What runs beside the sweep that live shows, as live would say it. A second gauge of a face stands half a turn on.
 * @param {any} live
 * @returns {any}
 */
export function besideOf(live) {
  const beside = live.beside?.[0];
  if (beside === undefined) return { check: null };
  const deg = live.angle_deg ?? null;
  return { ...beside, angle_deg: deg === null ? null : deg + (beside.opposite ? DEGREES / 2 : 0), value_mm: beside.value_mm ?? null };
}

/**
 * The sectors that are covered, as [from, to] in degrees, to ≥ from, to up to from + 360.
 * @param {(number | null)[]} bins
 * @param {number} joinDeg neighbours no further apart belong together
 * @returns {[number, number][]}
 */
export function sectors(bins, joinDeg) {
  const filled = [];
  for (let bin = 0; bin < bins.length; bin += 1) if (bins[bin] !== null) filled.push(bin);
  if (filled.length === 0) return [];
  /** @type {[number, number][]} */
  const found = [];
  let from = filled[0];
  let to = filled[0];
  for (const bin of filled.slice(1)) {
    if (bin - to > joinDeg) {
      found.push([from, to]);
      from = bin;
    }
    to = bin;
  }
  found.push([from, to]);
  // Over the top: the last and the first are one.
  const first = found[0];
  const last = found[found.length - 1];
  if (first[0] + DEGREES - last[1] <= joinDeg) {
    if (found.length === 1) return [[0, DEGREES]];
    found.pop();
    found[0] = [last[0], first[1] + DEGREES];
  }
  return found;
}

/**
 * Where it is highest so far; null where nothing was read.
 * @param {(number | null)[]} bins
 * @returns {number | null}
 */
export function highestDeg(bins) {
  let high = null;
  for (let bin = 0; bin < bins.length; bin += 1) {
    const value = bins[bin];
    if (value !== null && (high === null || value > /** @type {number} */ (bins[high]))) high = bin;
  }
  return high;
}
