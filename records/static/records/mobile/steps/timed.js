// A run against the clock. What counts are the moments of start and stop, kept at once: sleep, reload or an empty
// battery change nothing about them.

import { html } from "../../../vendor/mobile/preact-htm.js";
import * as clock from "../core/clock.js";
import { getReady, mayBeHeard } from "../core/sound.js";
import { span, tenths } from "../ui/moments.js";
import { useNow } from "../ui/ticking.js";
import { Judged, tryOut } from "./reading.js";

export function TimedStep({ run, step, onAnswer, onTime }) {
  const timer = run.timers[step.key] ?? {};
  const isRunning = Boolean(timer.started_at) && !timer.stopped_at;
  const moment = useNow(isRunning);
  const wanted = Number(step.seconds) * 1000;
  const started = timer.started_at ? Date.parse(timer.started_at) : moment;
  const passed = (timer.stopped_at ? Date.parse(timer.stopped_at) : moment) - started;
  const left = wanted - passed;
  const answer = timer.stopped_at && { started_at: timer.started_at, stopped_at: timer.stopped_at };
  const start = () => {
    getReady();
    onTime({ started_at: clock.iso(clock.now()) });
  };
  const stop = () => onTime({ ...timer, stopped_at: clock.iso(clock.now()) });
  return html`
    <div class=${`timer${isRunning && left <= 0 ? " timer-over" : ""}`}>
      <p class="big-timer" role="timer" aria-live="off">${timer.started_at ? span(left, { up: true }) : span(wanted)}</p>
      <p class="timer-words">${wordsOf(timer, isRunning, left, passed, wanted)}</p>
      ${isRunning && !mayBeHeard() && html`<p class="timer-words">Touch the screen once, so that the phone may sound at the end.</p>`}
    </div>
    ${answer && html`<${Judged} judged=${tryOut(run, step, answer)} isTyped=${true} />`}
    <div class="acts">
      ${!timer.started_at && html`<button class="button button-primary tallest" onClick=${start}>Start</button>`}
      ${isRunning && html`<button class="button button-primary tallest" onClick=${stop}>Stop</button>`}
      ${answer && html`<button class="button button-primary tall" onClick=${() => onAnswer(answer)}>Enter ${tenths(passed)} s</button>
        <button class="button" onClick=${() => onAnswer(answer, { isAgain: true })}>Enter it and run again, with a reason</button>`}
    </div>`;
}

function wordsOf(timer, isRunning, left, passed, wanted) {
  if (!timer.started_at) return "Press Start as the run begins.";
  if (!isRunning) return `Ran ${tenths(passed)} s of ${wanted / 1000} s.`;
  if (left > 0) return `${span(passed)} passed. The phone sounds at the end; press Stop when you stop.`;
  return `Time is up. Stop now: ${span(-left)} over.`;
}
