// Whatever runs against the clock, wherever one is in the program: the phone stays awake, counts down and sounds at
// the end, and a strip at the top says what runs and leads back to it.

import { html, useEffect, useRef } from "../../../vendor/mobile/preact-htm.js";
import * as clock from "../core/clock.js";
import { isWorkable } from "../core/run.js";
import { ring, shake, tick } from "../core/sound.js";
import { current, say, useApp } from "../core/state.js";
import * as work from "../core/work.js";
import { dutyState } from "../judge/duty.js";
import { dutyOf } from "../judge/procedure.js";
import { span } from "./moments.js";
import { useAwake, useNow } from "./ticking.js";

export const momentsOf = (runs) =>
  runs.map((each) => ({ start: Date.parse(each.on_at), stop: each.off_at ? Date.parse(each.off_at) : null }));

export const closedAt = (runs, moment) => [...runs.slice(0, -1), { ...runs.at(-1), off_at: clock.iso(moment) }];

function timedClock(run, step, timer) {
  if (!timer.started_at || timer.stopped_at) return null;
  const end = Date.parse(timer.started_at) + Number(step.seconds) * 1000;
  return { start: timer.started_at, end, words: "Time is up. Stop now.", atEnd: () => {} };
}

// At the longest time allowed the phone closes the pump's run and asks for the truth: it cannot see the pump.
function dutyClock(run, step, timer) {
  const last = timer.runs?.at(-1);
  if (!last || last.off_at) return null;
  const end = dutyState(momentsOf(timer.runs), dutyOf(step), Date.parse(last.on_at)).mustStop;
  const atEnd = () => work.time(run, step.key, { runs: closedAt(timer.runs, end), asks: true });
  return { start: last.on_at, end, words: "Pump off now.", atEnd };
}

const CLOCKS = { timed_run: timedClock, duty_run: dutyClock };

// Every clock that runs in what this person has in hand.
function clocksOf({ runs, person }) {
  return runs.filter((run) => !run.isOver && isWorkable(run, person)).flatMap((run) => run.content.steps.flatMap((step) => {
    const found = CLOCKS[step.kind]?.(run, step, run.timers[step.key] ?? {});
    return found ? [{ ...found, id: `${run.key}/${step.key}/${found.start}`, run, step }] : [];
  }));
}

export function RunningClocks() {
  const clocks = clocksOf(useApp());
  const moment = useNow(clocks.length > 0);
  useAwake(clocks.length > 0);
  return clocks.map((each) => html`<${Alarm} key=${each.id} running=${each} left=${each.end - moment} />`);
}

function Alarm({ running, left }) {
  const rung = useRef(false);
  const seconds = Math.ceil(left / 1000);
  useEffect(() => {
    if (seconds > 0 && seconds <= 3) tick();
    if (seconds > 0 || rung.current) return;
    rung.current = true;
    say(running.words);
    if (current().settings.sound === "on") ring();
    else shake([400, 200, 400]);
    running.atEnd();
  }, [seconds]);
  return null;
}

export function RunningStrip() {
  const app = useApp();
  const [, key, , step] = app.route;
  const away = clocksOf(app).filter((each) => each.run.key !== key || each.step.key !== step);
  const moment = useNow(away.length > 0);
  return away.map((each) => html`
    <a class="running" key=${each.id} href=${`#/run/${each.run.key}/step/${encodeURIComponent(each.step.key)}`}>
      <span>${each.step.title}</span> <strong>${each.end > moment ? `${span(each.end - moment, { up: true })} left` : each.words}</strong></a>`);
}
