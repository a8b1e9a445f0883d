// The moment as the server counts it: the phone's clock plus what is known to be wrong with it.
//
// A phone's clock may be an hour off, and may be put right in the middle of a timed run. Whoever asks `now()`
// never sees it jump: a jump while the page is awake is a change of the clock, not time that passed.

const TICK = 500;
const JUMP = 2000;

let correction = 0;
let isVerified = false;
let unsettled = 0;
let lastWall = Date.now();
let lastSteady = performance.now();
let wasHidden = false;
const listeners = new Set();

export const whenTheClockChanges = (listener) => listeners.add(listener);
export const iso = (moment) => new Date(moment).toISOString();

export function now() {
  notice();
  return Date.now() + correction;
}

// A moment and whether the server has confirmed the clock it was read from.
export function stamp() {
  const at = now();
  return { at, isVerified };
}

function notice() {
  const wall = Date.now();
  const steady = performance.now();
  const jumped = wall - lastWall - (steady - lastSteady);
  const paused = steady - lastSteady > 4 * TICK || wasHidden || document.hidden;
  lastWall = wall;
  lastSteady = steady;
  wasHidden = document.hidden;
  if (Math.abs(jumped) < JUMP) return;
  if (jumped > 0 && paused) {
    // Sleep, which is time that passed; but the clock may have been changed meanwhile.
    isVerified = false;
    return;
  }
  correction -= jumped;
  listeners.forEach((listener) => listener(correction));
}

setInterval(notice, TICK);
document.addEventListener("visibilitychange", () => { wasHidden = true; });

// Takes the correction kept from last time.
export function begin(kept) {
  correction = kept || 0;
  isVerified = false;
}

// The server said what time it is; `sent` and `came` are `Date.now()` around the question.
export function learn(serverTime, sent, came) {
  notice();
  const offset = Math.round(new Date(serverTime).getTime() - (sent + came) / 2);
  const shift = offset - correction;
  isVerified = true;
  if (Math.abs(shift) < JUMP) return;
  correction = Math.abs(offset) < JUMP ? 0 : offset;
  unsettled += shift;
  listeners.forEach((listener) => listener(correction));
}

// How many milliseconds everything stamped by the unconfirmed clock is off; told once.
export function takeShift() {
  const shift = unsettled;
  unsettled = 0;
  return shift;
}

export const currentCorrection = () => correction;

// Moves every moment (fields named at, or …_at) of a command's body or a run.
export function moveMoments(value, shift) {
  if (Array.isArray(value)) return value.map((each) => moveMoments(each, shift));
  if (value === null || value?.constructor !== Object) return value;
  return Object.fromEntries(Object.entries(value).map(([name, each]) => {
    const isMoment = (name === "at" || name.endsWith("_at")) && typeof each === "string" && !Number.isNaN(Date.parse(each));
    return [name, isMoment ? iso(Date.parse(each) + shift) : moveMoments(each, shift)];
  }));
}
