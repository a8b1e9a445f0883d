// Judges readings against a limit, exactly. Mirrors records/judge/tolerance.py, word for word where it speaks.

import { Fraction, HUNDRED, ZERO, fractionOf, greatest, least, roundedHalfEven } from "./exact.js";
import { SIMPLE, bandOf, ruleFrom } from "./decision.js";
import { UNROUNDED, boundsOf, describe, limitFrom, placesOf } from "./limits.js";
import { Amount, convert, parseQuantity, requireDimension, shown, unitOf } from "./quantities.js";
import { refused } from "./refused.js";

export const verdict = (outcome, reason, more = {}) =>
  Object.freeze({ outcome, reason, unit: "1", value: null, margin: null, acceptanceMargin: null, nearest: "", ...more });

// The verdict on readings (Amount, true, false, or null for a missing one); interval limits answer for the worst.
export function judge(readings, limit, { rule = SIMPLE, field = "reading" } = {}) {
  switch (limit.kind) {
    case "all_yes":
      refuseGuard(rule, "answers");
      return judgeAnswers(readings, limit, field);
    case "pair_difference":
      return judgePair(measured(readings, limit.unit, field), limit, rule, field);
    case "ratio":
      refuseGuard(rule, "ratios");
      return judgeRatio(measured(readings, limit.unit, field), limit);
    default:
      return judgeInterval(measured(readings, limit.unit, field), limit, rule);
  }
}

export function judgeWritten(readings, limit, rule) {
  const decisionRule = ruleFrom(rule);
  const taken = readingsFrom(readings);
  return judge(taken, limitFrom(limit), { rule: decisionRule });
}

export function readingsFrom(data, where = "readings") {
  if (!Array.isArray(data)) {
    throw refused("bad_reading", where, data, "is not a list", 'send [{"value": "1350", "unit": "mL"}]');
  }
  return data.map((each, number) => readingFrom(each, `${where}.${number}`));
}

function readingFrom(data, where) {
  if (data === null || typeof data === "boolean") return data;
  const isReading = typeof data === "object" && Object.keys(data).sort().join() === "unit,value";
  if (!isReading || typeof data.unit !== "string") {
    throw refused("bad_reading", where, data, "is not a value with its unit", 'send {"value": "1350", "unit": "mL"}');
  }
  if (data.value === null || data.value === "") return null;
  return parseQuantity(data.value, data.unit, where);
}

const measured = (readings, unit, field) =>
  readings.map((reading) => (reading === null ? null : taken(reading, unit, field)));

function taken(reading, unit, field) {
  if (!(reading instanceof Amount)) {
    throw refused("wrong_dimension", field, reading, "is an answer, not a measured value", `write a value in ${unit}`);
  }
  const wanted = unitOf(unit);
  requireDimension(reading.unit, wanted.dimension, field);
  const base = wanted.dimension === "temperature" ? "K" : unit;
  if (reading.inUnit(base).below(ZERO)) {
    const detail = base === "K" ? "is below absolute zero" : "is below zero";
    throw refused("negative_reading", field, reading, detail, "check the sign and the instrument");
  }
  const value = convert(reading.value, reading.unit, unit);
  const sameUnit = unitOf(reading.unit) === wanted;
  return { value, words: sameUnit ? String(reading) : `${reading} (${shown(value, unit)})` };
}

const asCompared = (value, method, places) =>
  method === UNROUNDED ? value : new Fraction(roundedHalfEven(value.mul(new Fraction(10n ** BigInt(places)))), 10n ** BigInt(places));

function judgeInterval(readings, limit, rule) {
  const bounds = boundsOf(limit);
  const width = bounds.low === null || bounds.high === null ? null : bounds.high.sub(bounds.low);
  const guard = { kind: rule.kind, band: bandOf(rule, limit.unit, width) };
  refuseGuardWithRounding(rule, limit.rounding);
  const present = readings.filter((each) => each !== null);
  const judged = present.map((each) => againstBounds(each, bounds, limit, guard));
  const worst = judged.reduce((a, b) => (a === null || b.margin.below(a.margin) ? b : a), null);
  return unlessMissing(worst, readings.length - present.length, readings.length);
}

function againstBounds(reading, bounds, limit, guard) {
  const value = asCompared(reading.value, limit.rounding, bounds.places);
  const sides = [];
  if (bounds.low !== null) sides.push([value.sub(bounds.low), "low", bounds.low]);
  if (bounds.high !== null) sides.push([bounds.high.sub(value), "high", bounds.high]);
  const [margin, nearest, edge] = sides.reduce((a, b) => (b[0].below(a[0]) ? b : a));
  const rounded = value.equals(reading.value) ? reading.words : `${reading.words}, compared as ${shown(value, limit.unit)},`;
  const words = `${rounded} ${where(margin, nearest, edge, limit.unit)}`;
  return decided(margin, guard, words, { unit: limit.unit, value, nearest });
}

function where(margin, nearest, edge, unit) {
  const words = `${nearest === "low" ? "lower" : "upper"} limit of ${shown(edge, unit)}`;
  if (margin.isZero) return `is exactly at the ${words}, which is allowed`;
  const above = (nearest === "low") === ZERO.below(margin);
  return `is ${shown(margin.abs(), unit)} ${above ? "above" : "below"} the ${words}`;
}

function decided(margin, { kind, band }, words, draft) {
  const reason = kind === "simple" ? words : `${words} (guard band ${shown(band.abs(), draft.unit)})`;
  return verdict(outcomeOf(margin, kind, band), reason, { ...draft, margin, acceptanceMargin: margin.sub(band) });
}

function outcomeOf(margin, kind, band) {
  if (margin.atLeast(band)) return "pass";
  if (kind !== "guarded_four") return "fail";
  if (margin.atLeast(ZERO)) return "conditional_pass";
  return margin.atLeast(band.neg()) ? "conditional_fail" : "fail";
}

function unlessMissing(worst, missing, asked) {
  if (worst === null) return verdict("incomplete", "no reading yet");
  if (missing && !["fail", "conditional_fail"].includes(worst.outcome)) {
    return verdict("incomplete", `${missing} of ${asked} readings missing`, { unit: worst.unit });
  }
  return worst;
}

function judgePair(readings, limit, rule, field) {
  if (readings.length > 2) {
    throw refused("too_many_readings", field, readings.length, "are more than a pair", "give exactly two readings");
  }
  const isAbsolute = limit.basis === "absolute";
  if (!isAbsolute) refuseGuard(rule, "percentages of a pair");
  refuseGuardWithRounding(rule, limit.rounding);
  const guard = { kind: rule.kind, band: bandOf(rule, limit.unit, null) };
  const present = readings.filter((each) => each !== null);
  if (present.length < 2) {
    return verdict("incomplete", `${2 - present.length} of 2 readings missing`, { unit: limit.unit });
  }
  const [first, second] = present;
  if (!isAbsolute && first.value.isZero && second.value.isZero) {
    return verdict("invalid", "both readings are zero: a percentage of nothing says nothing", { unit: limit.unit });
  }
  const apart = asCompared(first.value.sub(second.value).abs(), limit.rounding, placesOf(limit.maximum));
  const allowed = allowedApart(limit, first.value, second.value);
  const words = `${first.words} and ${second.words} are ${shown(apart, limit.unit)} apart, `
    + `${shown(allowed, limit.unit)} allowed: ${describe(limit)}`;
  return decided(allowed.sub(apart), guard, words, { unit: limit.unit, value: apart, nearest: "high" });
}

function allowedApart(limit, first, second) {
  const maximum = fractionOf(limit.maximum);
  switch (limit.basis) {
    case "absolute": return maximum;
    case "of_larger": return maximum.mul(greatest([first, second])).div(HUNDRED);
    case "of_smaller": return maximum.mul(least([first, second])).div(HUNDRED);
    case "of_mean": return maximum.mul(first.add(second)).div(new Fraction(200n));
    default: return maximum.mul(fractionOf(limit.nominal)).div(HUNDRED);
  }
}

function judgeRatio(readings, limit) {
  const present = readings.filter((each) => each !== null).map((each) => each.value);
  const asked = Math.max(2, readings.length);
  if (readings.length < 2 || present.length < readings.length) {
    return verdict("incomplete", `${asked - present.length} of ${asked} readings missing`);
  }
  const [smallest, largest] = [least(present), greatest(present)];
  if (largest.isZero) return verdict("invalid", "all readings are zero: their ratio says nothing");
  const ratio = smallest.div(largest);
  const margin = ratio.sub(fractionOf(limit.minimum));
  const pieces = `${shown(smallest, limit.unit)} divided by ${shown(largest, limit.unit)} is ${shown(ratio, "1")}`;
  const outcome = margin.atLeast(ZERO) ? "pass" : "fail";
  return verdict(outcome, `${pieces}; allowed: ${describe(limit)}`, {
    value: ratio, margin, acceptanceMargin: margin, nearest: "low",
  });
}

function judgeAnswers(answers, limit, field) {
  if (answers.length > limit.expected) {
    const detail = `are more than the ${limit.expected} asked for`;
    throw refused("too_many_readings", field, answers.length, detail, "answer each question once");
  }
  if (answers.some((each) => each !== null && typeof each !== "boolean")) {
    throw refused("wrong_dimension", field, "", "is a value, not an answer", "answer yes or no");
  }
  const no = answers.filter((each) => each === false).length;
  const yes = answers.filter((each) => each === true).length;
  if (no) return verdict("fail", `${no} of ${limit.expected} answered no`);
  if (yes < limit.expected) {
    return verdict("incomplete", `${limit.expected - yes} of ${limit.expected} not answered yet`);
  }
  return verdict("pass", yes === 1 ? "answered yes" : `all ${yes} answered yes`);
}

function refuseGuard(rule, what) {
  if (rule.kind === "simple") return;
  throw refused("bad_decision_rule", "decision_rule", rule.kind, `is not offered for ${what}`, "use simple acceptance");
}

function refuseGuardWithRounding(rule, method) {
  if (rule.kind === "simple" || method === UNROUNDED) return;
  const detail = "does not go together with a rounding method";
  throw refused("bad_decision_rule", "decision_rule", rule.kind, detail, "choose one of the two");
}
