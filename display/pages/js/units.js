// @ts-check
// Lengths as a person reads them, in millimetres or inches: digit for digit as the daemon's own displays write
// them (contract/lengths.py), which a test compares.

/**
 * @typedef {{name: "mm" | "in", perMm: number, decimals: number}} LengthUnit
 */

/** @type {Record<"mm" | "in", LengthUnit>} */
export const UNITS = {
  mm: { name: "mm", perMm: 1, decimals: 3 },
  in: { name: "in", perMm: 1_000_000 / 25_400_000, decimals: 4 },
};

/**
 * Of a fixed number of decimals; a value exactly between two goes to the even one, where toFixed goes up.
 * @param {number} value
 * @param {number} decimals
 */
function fixed(value, decimals) {
  const minus = value < 0 || Object.is(value, -0) ? "-" : "";
  const size = Math.abs(value);
  // A power of two scales exactly: only what then is a whole odd number can lie exactly between.
  const halves = size * 2 ** (decimals + 1);
  if (Number.isInteger(halves) && halves % 2 === 1) {
    const doubled = halves * 5 ** decimals;
    const below = (doubled - 1) / 2;
    const even = below % 2 === 0 ? below : below + 1;
    return minus + (even / 10 ** decimals).toFixed(decimals);
  }
  return minus + size.toFixed(decimals);
}

/**
 * Without its unit; a dash where there is none.
 * @param {LengthUnit} unit
 * @param {number | null | undefined} mm
 * @param {{sign?: "" | "+", more?: number}} [how] more: further decimals
 */
export function number(unit, mm, { sign = "", more = 0 } = {}) {
  if (mm === null || mm === undefined) return "–";
  const text = fixed(mm * unit.perMm, unit.decimals + more);
  return sign === "+" && !text.startsWith("-") ? `+${text}` : text;
}

/**
 * With its unit.
 * @param {LengthUnit} unit
 * @param {number | null | undefined} mm
 * @param {{sign?: "" | "+", more?: number}} [how]
 */
export function length(unit, mm, how = {}) {
  return `${number(unit, mm, how)} ${unit.name}`;
}
