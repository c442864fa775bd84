// @ts-check
// Questions to the records, and how what they answer is written: days, counters, chances.

import { t } from "./words.js";

/** The one line that says what is wrong; status: of the answer, 0 where there is none. */
export class Trouble extends Error {
  /** @param {string} line @param {number} status */
  constructor(line, status) {
    super(line);
    this.status = status;
  }
}

/**
 * What the server answers. Throws Trouble.
 * @param {string} path
 * @returns {Promise<any>}
 */
export async function ask(path) {
  let answer;
  try {
    answer = await fetch(path, { headers: { Accept: "application/json" } });
  } catch {
    throw new Trouble(t("The server of this page does not answer: is it running, and this device on its network?"), 0);
  }
  if (answer.status === 401) {
    location.assign("/enter?next=/history");
    return new Promise(() => {}); // the page is left
  }
  const said = await answer.json().catch(() => ({}));
  if (!answer.ok) throw new Trouble(said.error ?? `${answer.status}`, answer.status);
  return said;
}

/** The page of an engine or a damper. @param {string} serial */
export const linkTo = (serial) => `/history?of=${encodeURIComponent(serial)}`;

/** A whole number in groups of three. @param {number} number */
export const grouped = (number) => number.toFixed(0).replace(/\B(?=(\d{3})+$)/g, "\u202f");

/** By what a figure is counted: its unit's sign, its name, its value at a visit. */
export const COUNTS = {
  hours_h: { sign: " h", name: () => t("engine hours") },
  distance_km: { sign: " km", name: () => t("distance") },
  date: { sign: "", name: () => t("the calendar") },
};

/** @typedef {keyof typeof COUNTS} By */

/**
 * A place on a count, in words.
 * @param {By} by
 * @param {number | string} place
 */
export const placeWords = (by, place) => (typeof place === "string" ? place : `${grouped(place)}${COUNTS[by].sign}`);

/**
 * A place as a number: seconds of the day's beginning for the calendar.
 * @param {number | string} place
 */
export const placeNumber = (place) => (typeof place === "string" ? Date.parse(`${place}T00:00:00Z`) / 1000 : place);

/** Where a visit is on a count; undefined where that was not told. @param {By} by @param {any} visit */
export function placeOf(by, visit) {
  const place = by === "date" ? visit.date : visit[by];
  return place === undefined ? undefined : placeNumber(place);
}

/** @param {number} p */
export const chanceWords = (p) => (p < 0.001 ? t("below 0.1 %") : `${(p * 100).toFixed(1)} %`);
