// Pump duty: no longer on than allowed, and a full rest before the clock starts again. Mirrors records/judge/duty.py.
//
// Moments and spans are whole milliseconds. A rest shorter than the minimum does not reset the clock.

import { Fraction, ZERO } from "./exact.js";
import { Fields } from "./fields.js";
import { parseQuantity } from "./quantities.js";
import { refused } from "./refused.js";
import { verdict } from "./tolerance.js";

export function dutyFrom(data, where = "duty") {
  const fields = new Fields(data, where, ["maximum_on", "minimum_rest", "unit"]);
  const on = fields.decimal("maximum_on", { above: "0" });
  const rest = fields.decimal("minimum_rest", { least: "0" });
  const unit = fields.unit();
  fields.finish("bad_duty_limit");
  const [maximumOn, minimumRest] = [["maximum_on", on], ["minimum_rest", rest]].map(([name, value]) => {
    const span = parseQuantity(value, unit).inUnit("s", fields.path("unit")).mul(new Fraction(1000n));
    if (span.d !== 1n) {
      throw refused("bad_duty_limit", fields.path(name), value, "is finer than a millisecond", "write whole milliseconds");
    }
    return Number(span.n);
  });
  return Object.freeze({ maximumOn, minimumRest });
}

const seconds = (milliseconds) => `${Number((milliseconds / 1000).toFixed(3))} s`;
const inSeconds = (milliseconds) => new Fraction(BigInt(milliseconds), 1000n);

export function judgeDuty(runs, limit, now = null) {
  const checked = inOrder(runs, now);
  if (!checked.length) return verdict("incomplete", "the pump has not been run yet", { unit: "s" });
  const longest = Math.max(...stretches(checked, limit));
  const margin = inSeconds(limit.maximumOn - longest);
  const allowed = `${seconds(limit.maximumOn)} on at most, ${seconds(limit.minimumRest)} rest at least`;
  const reason = `longest time on without a full rest was ${seconds(longest)}; allowed: ${allowed}`;
  if (margin.atLeast(ZERO) && runs.at(-1).stop === null) {
    return verdict("incomplete", `the pump is still on; ${reason}`, { unit: "s" });
  }
  const outcome = margin.atLeast(ZERO) ? "pass" : "fail";
  return verdict(outcome, reason, {
    unit: "s", value: inSeconds(longest), margin, acceptanceMargin: margin, nearest: "high",
  });
}

// What the pump may do at one moment. `mayRun` is negative when it is already over the limit.
export function dutyState(runs, limit, now) {
  const running = runs.length > 0 && runs.at(-1).stop === null;
  const checked = inOrder(runs, now);
  const free = { running: false, on: 0, mayRun: limit.maximumOn, earliestStart: now, fullRunFrom: now, mustStop: null };
  if (!checked.length) return free;
  const lastStop = checked.at(-1)[1];
  if (lastStop > now) throw refused("bad_duty_runs", "runs", lastStop, "ends after now", "check the clock of the device");
  const on = stretches(checked, limit).at(-1);
  const left = limit.maximumOn - on;
  if (running) return { running, on, mayRun: left, earliestStart: null, fullRunFrom: null, mustStop: now + left };
  const rested = lastStop + limit.minimumRest;
  if (now >= rested) return free;
  return { running, on, mayRun: left, earliestStart: left > 0 ? now : rested, fullRunFrom: rested, mustStop: null };
}

function inOrder(runs, now) {
  const checked = [];
  runs.forEach((run, number) => {
    const field = `runs.${number}`;
    if (run.stop === null && number < runs.length - 1) {
      throw refused("bad_duty_runs", field, "", "never stopped, but another followed", "enter when it stopped");
    }
    const stop = run.stop ?? Math.max(now || run.start, run.start);
    if (stop < run.start) throw refused("bad_duty_runs", field, stop, "stops before it starts", "swap start and stop");
    if (checked.length && run.start < checked.at(-1)[1]) {
      const detail = "starts before the run ahead of it stopped";
      throw refused("bad_duty_runs", field, run.start, detail, "enter runs in order, without overlap");
    }
    checked.push([run.start, stop]);
  });
  return checked;
}

function stretches(runs, limit) {
  const times = [];
  let previousStop = null;
  for (const [start, stop] of runs) {
    if (previousStop === null || start - previousStop >= limit.minimumRest) times.push(0);
    times[times.length - 1] += stop - start;
    previousStop = stop;
  }
  return times;
}
