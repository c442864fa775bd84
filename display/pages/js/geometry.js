// @ts-check
// Where a crank angle lies in a picture of the damper, as seen from the front: 0 degrees, the timing mark, at the
// top; angles rise against the clock. An engine that runs clockwise brings under a gauge at the top what lies
// further and further anticlockwise, so the gauge's place wanders that way round. As the report's pictures.

/** Pictures are squares of this size; their middle is the crank's. */
export const SIZE = 500;
export const MIDDLE = SIZE / 2;

/**
 * @param {number} deg crank angle
 * @param {number} r
 * @returns {{x: number, y: number}}
 */
export function at(deg, r) {
  const turn = (deg * Math.PI) / 180;
  return { x: MIDDLE - r * Math.sin(turn), y: MIDDLE - r * Math.cos(turn) };
}

/** @param {number} deg @param {number} r */
const point = (deg, r) => {
  const { x, y } = at(deg, r);
  return `${x.toFixed(1)} ${y.toFixed(1)}`;
};

/**
 * A circular arc with the crank's angles; of 360 degrees and more a whole circle.
 * @param {number} from
 * @param {number} to
 * @param {number} r
 */
export function arc(from, to, r) {
  if (to - from >= 360) {
    return `M${point(from, r)}A${r} ${r} 0 0 0 ${point(from + 180, r)}A${r} ${r} 0 0 0 ${point(from, r)}`;
  }
  const isLarge = to - from > 180 ? 1 : 0;
  return `M${point(from, r)}A${r} ${r} 0 ${isLarge} 0 ${point(to, r)}`;
}

/** A straight line along one angle. @param {number} deg @param {number} r1 @param {number} r2 */
export function spoke(deg, r1, r2) {
  return `M${point(deg, r1)}L${point(deg, r2)}`;
}

/**
 * Turns what was drawn at 0 degrees to its angle, as an SVG transform.
 * @param {number} deg
 */
export function turned(deg) {
  return `rotate(${(-deg).toFixed(2)} ${MIDDLE} ${MIDDLE})`;
}

/**
 * The exaggerated surface: midway lies on a circle of fixed size, and the limit is always equally wide.
 * What is far outside is drawn at the edge.
 * @param {number} value
 * @param {{midMm: number, limitMm: number, midR: number, halfR: number, mostHalves: number}} scale
 */
export function radiusOf(value, { midMm, limitMm, midR, halfR, mostHalves }) {
  const halves = (value - midMm) / (limitMm / 2);
  return midR + halfR * Math.max(-mostHalves, Math.min(mostHalves, halves));
}

/**
 * The line through what was read; neighbours further apart than joinDeg are not joined, one alone is a dot.
 * @param {(number | null)[]} bins
 * @param {number} joinDeg
 * @param {(value: number) => number} radius
 */
export function line(bins, joinDeg, radius) {
  const filled = [];
  for (let bin = 0; bin < bins.length; bin += 1) if (bins[bin] !== null) filled.push(bin);
  if (filled.length === 0) return "";
  let path = "";
  let before = /** @type {number | null} */ (null);
  // Once more the first, a turn on, so that the line may close.
  for (const bin of [...filled, filled[0] + bins.length]) {
    const where = point(bin, radius(/** @type {number} */ (bins[bin % bins.length])));
    const isJoined = before !== null && bin - before <= joinDeg;
    if (isJoined) path += `L${where}`;
    else if (bin < bins.length) path += `M${where}h0`;
    before = bin;
  }
  return path;
}
