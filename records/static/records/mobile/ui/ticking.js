// Redraws while something runs; keeps the screen awake meanwhile.

import { useEffect, useState } from "../../../vendor/mobile/preact-htm.js";
import * as clock from "../core/clock.js";
import { keepAwake, letSleep } from "../core/sound.js";

export function useNow(isRunning, interval = 200) {
  const [moment, setMoment] = useState(clock.now());
  useEffect(() => {
    if (!isRunning) return undefined;
    setMoment(clock.now());
    const beat = setInterval(() => setMoment(clock.now()), interval);
    return () => clearInterval(beat);
  }, [isRunning, interval]);
  return isRunning ? Math.max(moment, clock.now()) : moment;
}

export function useAwake(isRunning) {
  useEffect(() => {
    if (!isRunning) return undefined;
    keepAwake();
    return letSleep;
  }, [isRunning]);
}
