// Time as it is shown, the screen kept awake while something runs, and a buzz in the hand.
export function shown(seconds, tenths) {
  const whole = Math.max(0, seconds);
  const minutes = Math.floor(whole / 60);
  const rest = tenths ? (whole % 60).toFixed(1) : String(Math.floor(whole % 60));
  if (tenths && minutes === 0) return rest;
  return `${minutes}:${rest.padStart(tenths ? 4 : 2, "0")}`;
}

export function buzz(pattern) {
  if ("vibrate" in navigator) navigator.vibrate(pattern);
}

export async function stayAwake() {
  if (!("wakeLock" in navigator)) return;
  const ask = async () => {
    try {
      await navigator.wakeLock.request("screen");
    } catch {
      // The battery is low or the page is hidden: the clock runs on all the same.
    }
  };
  await ask();
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") ask();
  });
}
