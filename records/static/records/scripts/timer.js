// The big timer counts from the moment the server keeps, so a reload or a dark screen loses nothing.
import { buzz, shown, stayAwake } from "./clock.js";

function seconds(text) {
  return text ? Number(text) : 0;
}

// How far this device's clock is from the server's; small differences are the way the page took.
function ahead(timer) {
  const gap = Date.now() - Date.parse(timer.dataset.serverNow);
  return Math.abs(gap) > 300_000 ? gap : 0;
}

function timedWords(left) {
  if (left > 0) return `${shown(Math.ceil(left), false)} to go`;
  return "STOP NOW";
}

function drawTimed(timer, face, words, elapsed) {
  const left = seconds(timer.dataset.target) - elapsed;
  face.textContent = shown(elapsed, false);
  words.textContent = timedWords(left);
  return { isOver: left <= 0, isNear: left > 0 && left <= 5 };
}

function drawDutyOn(timer, face, words, elapsed) {
  const left = seconds(timer.dataset.target) - elapsed;
  face.textContent = shown(elapsed, true);
  words.textContent = left > 0 ? `Pump on. Off in ${Math.ceil(left)} s` : "PUMP OFF NOW";
  return { isOver: left <= 0, isNear: left > 0 && left <= 3 };
}

function drawRest(timer, face, words, at) {
  const left = (Date.parse(timer.dataset.rested) - at) / 1000;
  const button = timer.querySelector("[data-waits]");
  face.textContent = left > 0 ? shown(left, true) : "0.0";
  words.textContent = left > 0 ? "Rest" : "Rested: the pump may go on";
  if (button) button.disabled = left > 0;
  return { isOver: false, isNear: false, isReady: left <= 0 };
}

function drawer(timer) {
  const { kind, state } = timer.dataset;
  if (kind === "timed" && state === "on") return drawTimed;
  if (kind === "duty" && state === "on") return drawDutyOn;
  if (kind === "duty" && state === "off" && timer.querySelector("[data-waits]")) return drawRest;
  return null;
}

function follow(timer) {
  const draw = drawer(timer);
  if (!draw) return;
  const face = timer.querySelector("[data-face]");
  const words = timer.querySelector("[data-words]");
  const begin = Date.parse(timer.dataset.since);
  const gap = ahead(timer);
  let last = "";
  const tick = () => {
    const at = Date.now() - gap;
    const now = draw(timer, face, words, draw === drawRest ? at : (at - begin) / 1000);
    const state = now.isOver ? "over" : now.isNear ? "near" : now.isReady ? "ready" : "";
    if (state !== last) {
      timer.classList.toggle("timer-alarm", state === "over");
      if (state === "over") buzz([400, 150, 400, 150, 400]);
      if (state === "near" || state === "ready") buzz(200);
      last = state;
    }
  };
  words.setAttribute("aria-live", "off");
  tick();
  setInterval(tick, 100);
  stayAwake();
}

export function watchTimers(root) {
  for (const timer of root.querySelectorAll("[data-timer]")) follow(timer);
  // The moment of the press is the browser's, so a slow network does not lengthen the run.
  root.addEventListener("click", (event) => {
    const button = event.target.closest("form[data-press] button");
    if (button) button.form.elements.pressed_at.value = new Date().toISOString();
  });
}
