// Brings a collected volume to the specified run time, exactly. Mirrors records/judge/normalise.py.

import { HUNDRED, ONE, ZERO, fractionOf, shownText } from "./exact.js";
import { Fields } from "./fields.js";
import { Amount, parseQuantity } from "./quantities.js";
import { refused } from "./refused.js";

export function runTimeFrom(data, where = "run_time") {
  const fields = new Fields(data, where, ["specified", "unit", "max_deviation_percent", "scale"]);
  const specified = fields.decimal("specified", { above: "0" });
  const percent = fields.decimal("max_deviation_percent", { least: "0" });
  const scale = fields.has("scale") ? fields.flag("scale") : true;
  const unit = fields.unit();
  fields.finish("bad_run_time");
  const amount = parseQuantity(specified, unit);
  amount.inUnit("s", `${where}.unit`);
  return Object.freeze({ specified: amount, percent, scale });
}

export function normalise(collected, took, runTime, field = "run_time") {
  const seconds = took.inUnit("s", `${field}.unit`);
  if (!ZERO.below(seconds)) {
    throw refused("bad_run_time", field, took, "must be above zero", "write how long the pump really ran");
  }
  const specified = runTime.specified.inUnit("s");
  const deviation = HUNDRED.mul(seconds.sub(specified)).div(specified);
  const valid = !fractionOf(runTime.percent).below(deviation.abs());
  const factor = runTime.scale ? specified.div(seconds) : ONE;
  const shownDeviation = shownText(deviation);
  const percent = (deviation.below(ZERO) ? shownDeviation : `+${shownDeviation}`).replace("-", "−");
  const reason = `ran ${took} instead of ${runTime.specified} (${percent} %, ${runTime.percent} % allowed)`;
  return { amount: new Amount(collected.value.mul(factor), collected.unit), deviation, valid, reason };
}
