// The kinds of limit, as procedures write them. Mirrors scheduling/limits/kinds.py. All limits are inclusive.

import { HUNDRED, ZERO, exactText, fractionOf, whole } from "./exact.js";
import { Fields } from "./fields.js";
import { unitLabel } from "./quantities.js";
import { refused } from "./refused.js";

export const UNROUNDED = "unrounded";
const ROUNDINGS = [UNROUNDED, "half_even"];
const BASES = ["absolute", "of_larger", "of_smaller", "of_mean", "of_nominal"];

const finished = (fields, limit) => {
  fields.finish("bad_limit");
  return Object.freeze(limit);
};
const rounding = (fields) => fields.choice("rounding", ROUNDINGS, UNROUNDED);
const placesOf = (...texts) => Math.max(...texts.map((text) => (text.split(".")[1] ?? "").length));
const reading = (known) => (data, where) => new Fields(data, where, ["kind", "unit", ...known]);

function readNominal(data, where) {
  const fields = reading(["nominal", "plus", "minus", "rounding"])(data, where);
  const plus = fields.decimal("plus", { least: "0" });
  const minus = fields.decimal("minus", { least: "0" });
  const unit = fields.unit();
  const nominal = fields.decimal("nominal");
  return finished(fields, { kind: "nominal", unit, nominal, plus, minus, rounding: rounding(fields) });
}

function readRelative(data, where) {
  const fields = reading(["nominal", "plus_percent", "minus_percent", "rounding"])(data, where);
  const plusPercent = fields.decimal("plus_percent", { least: "0" });
  const minusPercent = fields.decimal("minus_percent", { least: "0" });
  const nominal = fields.decimal("nominal", { above: "0" });
  const unit = fields.unit();
  return finished(fields, { kind: "relative", unit, nominal, plusPercent, minusPercent, rounding: rounding(fields) });
}

function readMinimum(data, where) {
  const fields = reading(["minimum", "rounding"])(data, where);
  const unit = fields.unit();
  return finished(fields, { kind: "minimum", unit, minimum: fields.decimal("minimum"), rounding: rounding(fields) });
}

function readMaximum(data, where) {
  const fields = reading(["maximum", "rounding"])(data, where);
  const unit = fields.unit();
  return finished(fields, { kind: "maximum", unit, maximum: fields.decimal("maximum"), rounding: rounding(fields) });
}

function readWindow(data, where) {
  const fields = reading(["low", "high", "rounding"])(data, where);
  const low = fields.decimal("low");
  const high = fields.decimal("high");
  if (!fields.reasons.length && fractionOf(high).below(fractionOf(low))) {
    fields.complain("low", `is above high (${high})`, "swap low and high");
  }
  const unit = fields.unit();
  return finished(fields, { kind: "window", unit, low, high, rounding: rounding(fields) });
}

function readPair(data, where) {
  const fields = reading(["basis", "maximum", "maximum_percent", "nominal", "rounding"])(data, where);
  if (!fields.has("basis")) {
    fields.complain("basis", "is missing: it changes verdicts", `use one of: ${BASES.join(", ")}`);
  }
  const basis = fields.choice("basis", BASES, "absolute");
  const isAbsolute = basis === "absolute";
  const [amount, other] = isAbsolute ? ["maximum", "maximum_percent"] : ["maximum_percent", "maximum"];
  const maximum = fields.decimal(amount, { least: "0" });
  if (fields.has(other)) fields.complain(other, `does not belong to the basis ${basis}`, `write ${amount} only`);
  const nominal = basis === "of_nominal" ? fields.decimal("nominal", { above: "0" }) : null;
  if (nominal === null && fields.has("nominal")) {
    fields.complain("nominal", `does not belong to the basis ${basis}`, "leave it out");
  }
  const method = rounding(fields);
  if (method !== UNROUNDED && !isAbsolute) {
    fields.complain("rounding", "is offered for absolute differences only", "leave it out");
  }
  const unit = fields.unit();
  return finished(fields, { kind: "pair_difference", unit, basis, maximum, nominal, rounding: method });
}

function readRatio(data, where) {
  const fields = reading(["minimum"])(data, where);
  const minimum = fields.decimal("minimum", { above: "0" });
  if (fractionOf("1").below(fractionOf(minimum))) {
    fields.complain("minimum", "is above 1: smallest by largest never is", "write 1 or less, such as 0.9");
  }
  return finished(fields, { kind: "ratio", unit: fields.unit(), minimum });
}

function readAllYes(data, where) {
  const fields = new Fields(data, where, ["kind", "expected"]);
  return finished(fields, { kind: "all_yes", expected: fields.whole("expected", 1, 1) });
}

const READERS = {
  nominal: readNominal,
  relative: readRelative,
  minimum: readMinimum,
  maximum: readMaximum,
  window: readWindow,
  pair_difference: readPair,
  ratio: readRatio,
  all_yes: readAllYes,
};

// The limit a JSON object describes; the refusal names every wrong field at once.
export function limitFrom(data, where = "limit") {
  const kind = data !== null && typeof data === "object" ? data.kind : undefined;
  if (typeof kind !== "string" || !Object.hasOwn(READERS, kind)) {
    const remedy = `use one of: ${Object.keys(READERS).join(", ")}`;
    throw refused("bad_limit", `${where}.kind`, kind, "is not a kind of limit", remedy);
  }
  return READERS[kind](data, where);
}

// The interval an interval limit stands for; an open end is null. `places` is the limit's last place.
export function boundsOf(limit) {
  const number = (name) => fractionOf(limit[name]);
  switch (limit.kind) {
    case "nominal":
      return {
        low: number("nominal").sub(number("minus")),
        high: number("nominal").add(number("plus")),
        places: placesOf(limit.nominal, limit.plus, limit.minus),
      };
    case "relative": {
      const low = number("nominal").mul(HUNDRED.sub(number("minusPercent"))).div(HUNDRED);
      const high = number("nominal").mul(HUNDRED.add(number("plusPercent"))).div(HUNDRED);
      return { low, high, places: placesOf(exactText(low), exactText(high)) };
    }
    case "minimum":
      return { low: number("minimum"), high: null, places: placesOf(limit.minimum) };
    case "maximum":
      return { low: null, high: number("maximum"), places: placesOf(limit.maximum) };
    case "window":
      return { low: number("low"), high: number("high"), places: placesOf(limit.low, limit.high) };
    default:
      throw new TypeError(`${limit.kind} is no interval`);
  }
}

const span = (limit, unit) => {
  const { low, high } = boundsOf(limit);
  return `${exactText(low ?? ZERO)} to ${exactText(high ?? ZERO)}${unit}, both allowed`;
};

const OF_WHAT = { of_larger: "the larger", of_smaller: "the smaller", of_mean: "their mean", of_nominal: "the nominal" };

function pairInWords(limit, unit) {
  if (limit.basis === "absolute") return `within ${limit.maximum}${unit} of each other`;
  const nominal = limit.nominal === null ? "" : ` (${limit.nominal}${unit})`;
  return `within ${limit.maximum} % of ${OF_WHAT[limit.basis]}${nominal} of each other`;
}

function inWords(limit) {
  const unit = limit.kind === "all_yes" ? "" : ` ${unitLabel(limit.unit)}`.trimEnd();
  switch (limit.kind) {
    case "nominal": return `${limit.nominal}${unit} +${limit.plus}/−${limit.minus}${unit} (${span(limit, unit)})`;
    case "relative": return `${limit.nominal}${unit} +${limit.plusPercent}/−${limit.minusPercent} % (${span(limit, unit)})`;
    case "minimum": return `at least ${limit.minimum}${unit}`;
    case "maximum": return `at most ${limit.maximum}${unit}`;
    case "window": return span(limit, unit);
    case "pair_difference": return pairInWords(limit, unit);
    case "ratio": return `smallest divided by largest at least ${limit.minimum}`;
    default: return limit.expected === 1 ? "yes" : `yes, all ${limit.expected}`;
  }
}

// "1550 mL +600/−300 mL (1250 to 2150 mL, both allowed)"
export function describe(limit) {
  const words = inWords(limit);
  if ((limit.rounding ?? UNROUNDED) === UNROUNDED) return words;
  return `${words}; the reading is rounded half to even to the limit's last place first`;
}

export const isInterval = (limit) => !["pair_difference", "ratio", "all_yes"].includes(limit.kind);
export { placesOf, whole };
