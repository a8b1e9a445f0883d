// Pump runs within their duty: no run starts before the rest is over, none lasts longer than allowed. The moments
// are kept at once, so the same holds after a reload.

import { html, useEffect, useRef } from "../../../vendor/mobile/preact-htm.js";
import * as clock from "../core/clock.js";
import { getReady, mayBeHeard, ring, shake, tick } from "../core/sound.js";
import { current, say } from "../core/state.js";
import { dutyState } from "../judge/duty.js";
import { dutyOf } from "../judge/procedure.js";
import { span, tenths } from "../ui/moments.js";
import { useAwake, useNow } from "../ui/ticking.js";
import { Judged, tryOut } from "./reading.js";

const momentsOf = (runs) => runs.map((run) => ({ start: Date.parse(run.on_at), stop: run.off_at ? Date.parse(run.off_at) : null }));

export function DutyStep({ run, step, onAnswer, onTime }) {
  const timer = run.timers[step.key] ?? { runs: [] };
  const limit = dutyOf(step);
  const isOn = timer.runs.length > 0 && !timer.runs.at(-1).off_at;
  const moment = useNow(true);
  const state = dutyState(momentsOf(timer.runs), limit, Math.max(moment, latestOf(timer.runs)));
  useAwake(isOn || state.fullRunFrom > moment);
  useLimit(isOn, state, timer, onTime);
  const finished = timer.runs.filter((each) => each.off_at);
  const isEnough = finished.length >= step.runs && !isOn && !timer.asks;
  const answer = { runs: finished };
  const rest = state.earliestStart === null ? 0 : state.fullRunFrom - moment;
  const on = () => {
    getReady();
    onTime({ ...timer, runs: [...timer.runs, { on_at: clock.iso(clock.now()) }] });
  };
  const off = () => onTime({ ...timer, runs: closed(timer.runs, clock.now()) });
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
const closed = (runs, moment) => [...runs.slice(0, -1), { ...runs.at(-1), off_at: clock.iso(moment) }];

function wordsOf(isOn, rest, made, step) {
  if (isOn) return "Pump on. Switch off before this reaches 0:00.";
  if (rest > 0) return `Rest. ${made} of ${step.runs} runs made.`;
  return `Ready. ${made} of ${step.runs} runs made.`;
}

// At the longest time allowed the phone closes the run, and asks for the truth: it cannot see the pump.
const Overrun = ({ timer, onTime }) => html`
  <div class="ask" role="alert">
    <p><strong>The longest time allowed is reached.</strong> Was the pump off by then?</p>
    <div class="acts">
      <button class="button button-primary tall" onClick=${() => onTime({ runs: timer.runs })}>Yes, off in time</button>
      <button class="button tall" onClick=${() => onTime({ runs: closed(timer.runs, clock.now()) })}>No, it ran until now</button>
    </div>
  </div>`;

function useLimit(isOn, state, timer, onTime) {
  const counted = useRef(0);
  useEffect(() => {
    if (!isOn) return;
    const seconds = Math.ceil(state.mayRun / 1000);
    if (seconds > 0 && seconds <= 3 && counted.current !== seconds) {
      counted.current = seconds;
      tick();
    }
    if (state.mayRun > 0) return;
    say("Pump off now.");
    if (current().settings.sound === "on") ring();
    else shake([400, 200, 400]);
    onTime({ runs: closed(timer.runs, state.mustStop), asks: true });
  }, [isOn, state.mayRun <= 0, Math.ceil(state.mayRun / 1000)]);
}
