// At the end of a run the phone is heard and felt; while a timer runs its screen stays on.

let audio;
let lock;
let wanted = 0;

// Browsers allow sound only after a touch: call this from the touch that starts the timer.
export function getReady() {
  const Context = window.AudioContext ?? window.webkitAudioContext;
  if (!Context) return;
  audio ??= new Context();
  audio.resume?.();
}

// After a reload a browser keeps still until the screen was touched once.
export const mayBeHeard = () => navigator.userActivation?.hasBeenActive ?? true;

export function shake(pattern) {
  if (mayBeHeard()) navigator.vibrate?.(pattern);
}

export function ring(times = 3) {
  shake([400, 200, 400, 200, 800]);
  if (!audio) return;
  for (let number = 0; number < times; number += 1) {
    const tone = audio.createOscillator();
    const volume = audio.createGain();
    const from = audio.currentTime + number * 0.45;
    tone.frequency.value = 1760;
    volume.gain.setValueAtTime(0.6, from);
    volume.gain.exponentialRampToValueAtTime(0.001, from + 0.4);
    tone.connect(volume).connect(audio.destination);
    tone.start(from);
    tone.stop(from + 0.42);
  }
}

export function tick() {
  shake(40);
}

// The screen stays on while anybody needs it: each `keepAwake` wants its `letSleep`.
export function keepAwake() {
  wanted += 1;
  askToStayOn();
}

export function letSleep() {
  wanted -= 1;
  if (wanted) return;
  lock?.release();
  lock = undefined;
}

async function askToStayOn() {
  if (!wanted || lock || !navigator.wakeLock || document.visibilityState !== "visible") return;
  try {
    const given = await navigator.wakeLock.request("screen");
    if (!wanted || lock) {
      given.release();
      return;
    }
    lock = given;
    given.addEventListener("release", () => { if (lock === given) lock = undefined; });
  } catch {
    // The phone may say no; what runs is counted by the wall clock all the same.
  }
}

document.addEventListener("visibilitychange", askToStayOn);
