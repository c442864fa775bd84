// @ts-check
// What a page sends to its server, and what comes of it in one line.

/** No answer came. */
export const UNHEARD = 0;
/** Somebody must enter first. */
export const REFUSED = 401;
/** Milliseconds after which an answer is waited for no longer. */
const ANSWER_MAX_MS = 10_000;

/**
 * @param {string} url
 * @param {BodyInit} body
 * @param {string} [type] of the body
 * @returns {Promise<{status: number, error: string, data: any}>}
 */
export async function post(url, body, type = "application/json") {
  const giveUp = AbortSignal.timeout(ANSWER_MAX_MS);
  try {
    const headers = { "X-Ringtrue": "1", "Content-Type": type };
    const answer = await fetch(url, { method: "POST", headers, body, signal: giveUp });
    const text = await answer.text();
    return { status: answer.status, ...said(text, answer.status) };
  } catch {
    return { status: UNHEARD, error: "", data: null };
  }
}

/** @param {string} text @param {number} status */
export function said(text, status) {
  try {
    const data = text === "" ? null : JSON.parse(text);
    return { data, error: data?.error ?? `HTTP ${status}` };
  } catch {
    return { data: null, error: text.trim().split("\n")[0] || `HTTP ${status}` };
  }
}
