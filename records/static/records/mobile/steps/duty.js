// Pump runs within their duty: no run starts before the rest is over, none lasts longer than allowed. The moments
// are kept at once, so the same holds after a reload.

import { html } from "../../../vendor/mobile/preact-htm.js";
import * as clock from "../core/clock.js";
import { getReady, mayBeHeard } from "../core/sound.js";
import { dutyState } from "../judge/duty.js";
import { dutyOf } from "../judge/procedure.js";
import { span, tenths } from "../ui/moments.js";
import { closedAt, momentsOf } from "../ui/running.js";
import { useAwake, useNow } from "../ui/ticking.js";
import { Judged, tryOut } from "./reading.js";

export function DutyStep({ run, step, onAnswer, onTime }) {
  const timer = run.timers[step.key] ?? { runs: [] };
  const limit = dutyOf(step);
  const isOn = timer.runs.length > 0 && !timer.runs.at(-1).off_at;
  const moment = useNow(true);
  const state = dutyState(momentsOf(timer.runs), limit, Math.max(moment, latestOf(timer.runs)));
  useAwake(state.fullRunFrom > moment);
  const finished = timer.runs.filter((each) => each.off_at);
  const isEnough = finished.length >= step.runs && !isOn && !timer.asks;
  const answer = { runs: finished };
  const rest = state.earliestStart === null ? 0 : state.fullRunFrom - moment;
  const on = () => {
    getReady();
    onTime({ ...timer, runs: [...timer.runs, { on_at: clock.iso(clock.now()) }] });
  };
  const off = () => onTime({ ...timer, runs: closedAt(timer.runs, clock.now()) });
  return html`
    <p class="allowed">${step.runs} runs; at most <strong>${step.max_on_seconds} s</strong> on, at least <strong>${step.min_rest_seconds} s</strong> rest.</p>
    <div class=${`timer${isOn && state.mayRun < 3000 ? " timer-over" : ""}`}>
      <p class="big-timer" role="timer" aria-live="off">${isOn ? span(state.mayRun, { up: true }) : rest > 0 ? span(rest, { up: true }) : span(limit.maximumOn)}</p>
      <p class="timer-words">${wordsOf(isOn, rest, finished.length, step)}</p>
      ${isOn && !mayBeHeard() && html`<p class="timer-words">Touch the screen once, so that the phone may sound at the end.</p>`}
    </div>
    ${timer.asks && html`<${Overrun} timer=${timer} onTime=${onTime} />`}
    <div class="acts">
      ${isOn && html`<button class="button button-danger tallest" onClick=${off}>Pump off</button>`}
      ${!isOn && !timer.asks && html`<button class=${`button tallest${isEnough ? "" : " button-primary"}`} disabled=${rest > 0} onClick=${on}>
        ${rest > 0 ? `Rest: ${span(rest, { up: true })} to go` : `Pump on: run ${finished.length + 1}`}</button>`}
    </div>
    ${finished.length > 0 && html`<ol class="runs">${finished.map((each) => html`<li key=${each.on_at}>${tenths(Date.parse(each.off_at) - Date.parse(each.on_at))} s on</li>`)}</ol>`}
    ${isEnough && html`<${Judged} judged=${tryOut(run, step, answer)} isTyped=${true} />
      <div class="acts"><button class="button button-primary tall" onClick=${() => onAnswer(answer)}>Enter these ${finished.length} runs</button></div>`}`;
}

const latestOf = (runs) => Math.max(0, ...runs.map((each) => Date.parse(each.off_at ?? each.on_at)));

function wordsOf(isOn, rest, made, step) {
  if (isOn) return "Pump on. Switch off before this reaches 0:00.";
  if (rest > 0) return `Rest. ${made} of ${step.runs} runs made.`;
  return `Ready. ${made} of ${step.runs} runs made.`;
}

// The phone closed the run at the longest time allowed, and asks for the truth.
const Overrun = ({ timer, onTime }) => html`
  <div class="ask" role="alert">
    <p><strong>The longest time allowed is reached.</strong> Was the pump off by then?</p>
    <div class="acts">
      <button class="button button-primary tall" onClick=${() => onTime({ runs: timer.runs })}>Yes, off in time</button>
      <button class="button tall" onClick=${() => onTime({ runs: closedAt(timer.runs, clock.now()) })}>No, it ran until now</button>
    </div>
  </div>`;
