// How long the fluid lasts, exactly. Mirrors records/judge/endurance.py.

import { Fraction, ZERO, flooredText } from "./exact.js";
import { shown } from "./quantities.js";
import { refused } from "./refused.js";
import { verdict } from "./tolerance.js";

export function judgeEndurance(usable, flows, required) {
  const volume = usable.inUnit("mL", "usable.unit");
  if (volume.below(ZERO)) throw refused("negative_reading", "usable", usable, "is below zero", "check the quantity");
  const minutes = volume.div(totalFlow(flows));
  const needed = requiredMinutes(required);
  const reason = `${usable} lasts ${flooredText(minutes, 2)} min; ${shown(needed, "min")} required`;
  return decided(minutes, needed, "min", reason);
}

export function judgeDispatch(indicated, flows, required) {
  const held = indicated.inUnit("L", "indicated.unit");
  if (held.below(ZERO)) throw refused("negative_reading", "indicated", indicated, "is below zero", "check the gauge");
  const needed = requiredMinutes(required).mul(totalFlow(flows)).div(new Fraction(1000n));
  return decided(held, needed, "L", `${indicated} indicated; ${shown(needed, "L")} needed for ${required}`);
}

function decided(value, needed, unit, reason) {
  const margin = value.sub(needed);
  const outcome = margin.atLeast(ZERO) ? "pass" : "fail";
  return verdict(outcome, reason, { unit, value, margin, acceptanceMargin: margin, nearest: "low" });
}

function totalFlow(flows) {
  const amounts = flows.map((flow, number) => {
    const amount = flow.inUnit("mL/min", `flows.${number}.unit`);
    if (amount.below(ZERO)) {
      throw refused("negative_reading", `flows.${number}`, flow, "is below zero", "check the reading");
    }
    return amount;
  });
  const total = amounts.reduce((sum, each) => sum.add(each), ZERO);
  if (total.isZero) {
    throw refused("no_flow", "flows", flows.length, "add up to no flow at all", "measure the outlets first");
  }
  return total;
}

function requiredMinutes(required) {
  const minutes = required.inUnit("min", "required.unit");
  if (!ZERO.below(minutes)) {
    throw refused("bad_required_time", "required", required, "must be above zero", "write the minutes required");
  }
  return minutes;
}
