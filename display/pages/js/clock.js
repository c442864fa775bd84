// @ts-check
// Milliseconds that go on while the tablet sleeps: performance.now() stands still then on some, and what was heard
// before would pass for new.

/** The clock of the day is put right by less than this, and drifts by less between two looks. */
const JUMP_MS = 1000;

/**
 * A clock put forward passes for sleep, which does no harm: what was heard is older then, never newer.
 * @param {{steady?: () => number, ofDay?: () => number}} [with_]
 */
export function createClock({ steady = () => performance.now(), ofDay = () => Date.now() } = {}) {
  let apart = ofDay() - steady();
  let slept = 0;
  return () => {
    const now = steady();
    const jump = ofDay() - now - apart;
    apart += jump;
    if (jump > JUMP_MS) slept += jump;
    return now + slept;
  };
}

/** Of this page. */
export const now = createClock();
