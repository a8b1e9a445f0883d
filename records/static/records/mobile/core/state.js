// What every view draws from, and the one way it changes.

import { useEffect, useState } from "../../../vendor/mobile/preact-htm.js";

const state = {
  ready: false,
  person: null,
  bundle: null,
  bundleAt: 0,
  runs: [],
  commands: [],
  reach: "unknown",
  reachWords: "",
  held: 0,
  moved: 0,
  route: [],
  signInAsked: false,
  update: null,
  settings: { theme: "phone", type: "usual", hand: "right", motion: "phone", sound: "on" },
  said: "",
};
const listeners = new Set();

export const current = () => state;

export function change(difference) {
  Object.assign(state, difference);
  listeners.forEach((listener) => listener());
}

export function useApp() {
  const [, again] = useState(0);
  useEffect(() => {
    const listener = () => again((count) => count + 1);
    listeners.add(listener);
    return () => listeners.delete(listener);
  }, []);
  return state;
}

// Said aloud by a screen reader, once.
export const say = (words) => change({ said: words });

export const go = (...parts) => {
  location.hash = `#/${parts.map(encodeURIComponent).join("/")}`;
};

const trail = [];

// The place one is at now; going back to the one before shortens the trail.
export function arriveAt(hash) {
  if (trail.at(-2) === hash) trail.pop();
  else if (trail.at(-1) !== hash) trail.push(hash);
  change({ route: routeOf(hash) });
}

// To where one came from; to my work where the program was opened right here.
export const back = () => (trail.length > 1 ? history.back() : go());

export const routeOf = (hash) => hash.replace(/^#\/?/, "").split("/").filter(Boolean).map(decodeURIComponent);

export const waiting = () => state.commands.filter((each) => each.state === "waiting");
export const hasAside = () => state.commands.some((each) => each.state === "aside");
export const asking = () => state.commands.filter((each) => each.state === "asks");
