// A whole run: preconditions, checks, duty and points to one provisional verdict. Mirrors records/judge/bench_run.py.

import { judgeDuty } from "./duty.js";
import { normalise } from "./normalise.js";
import { Amount } from "./quantities.js";
import { judge, verdict } from "./tolerance.js";
import { volumeOf } from "./weighing.js";

// Worst first. A failing reading outranks a missing one: finding the rest cannot undo it.
const WORST_FIRST = ["fail", "conditional_fail", "invalid", "incomplete", "conditional_pass", "pass"];

export const worstOf = (outcomes) => WORST_FIRST.find((each) => outcomes.includes(each)) ?? "incomplete";

// parts: [{key, label, section: precondition|check|duty|point, limit | duty, runTime?, of?}]
// entries: {key: {readings?, runTime?, weighing?, runs?}}
export function judgeRun(parts, entries, now = null) {
  const judged = new Map();
  for (const part of parts) judged.set(part.key, judgePart(part, entries[part.key] ?? {}, judged, now));
  return overall([...judged.values()]);
}

function overall(parts) {
  const before = parts.filter((part) => part.section === "precondition").map((part) => part.verdict.outcome);
  const rest = parts.filter((part) => part.section !== "precondition");
  let outcome = worstOf(rest.map((part) => part.verdict.outcome));
  for (const broken of ["incomplete", "invalid"]) if (before.includes(broken)) outcome = broken;
  const deciding = parts.filter((part) => part.verdict.outcome !== "pass");
  const reason = deciding.map((part) => `${part.label}: ${part.verdict.reason}`).join("; ");
  return {
    outcome,
    measured: worstOf(rest.map((part) => part.measured)),
    reason: reason || "everything is inside its limits",
    parts,
  };
}

function judgePart(part, entry, judged, now) {
  const { key, label, section } = part;
  const plain = (found) => ({ key, label, section, verdict: found, measured: found.outcome, amounts: [], notes: [] });
  if (section === "precondition") return plain(judgePrecondition(entry.readings ?? [], part));
  if (section === "duty") return plain(judgeDuty(entry.runs ?? [], part.duty, now));
  return part.of?.length ? judgeComparison(part, judged, plain) : judgePoint(part, entry, plain);
}

function judgePrecondition(readings, part) {
  const found = judge(readings, part.limit, { field: part.key });
  if (["fail", "invalid"].includes(found.outcome)) {
    return { ...found, outcome: "invalid", reason: `${found.reason}; the test is no evidence` };
  }
  const samples = readings.filter((each) => each !== null).length;
  if (found.outcome === "pass" && samples < 1) return verdict("incomplete", "0 of 1 samples taken", { unit: found.unit });
  return found;
}

function judgePoint(part, entry, plain) {
  let readings = entry.readings ?? [];
  const notes = [];
  if (entry.weighing) {
    const weighed = volumeOf(entry.weighing, part.key);
    readings = [weighed.amount];
    notes.push(weighed.reason);
  }
  let deviates = false;
  if (part.runTime && readings.length) {
    if (!entry.runTime) return { ...plain(verdict("incomplete", "the real run time is missing")), notes };
    readings = readings.map((reading) => {
      if (!(reading instanceof Amount)) return reading;
      const scaled = normalise(reading, entry.runTime, part.runTime, `${part.key}.run_time`);
      deviates = !scaled.valid;
      notes.splice(entry.weighing ? 1 : 0, 1, scaled.reason);
      return scaled.amount;
    });
  }
  const found = judge(readings, part.limit, { field: part.key });
  const spoiled = deviates ? { ...found, outcome: "invalid", reason: `${notes.at(-1)}; ${found.reason}` } : found;
  const amounts = readings.filter((each) => each instanceof Amount);
  return { ...plain(spoiled), measured: found.outcome, amounts, notes };
}

function judgeComparison(part, judged, plain) {
  const others = part.of.map((key) => judged.get(key));
  const found = judge(others.map((other) => other.amounts[0] ?? null), part.limit, { field: part.key });
  const spoiled = others.filter((other) => other.verdict.outcome === "invalid").map((other) => other.label);
  if (!spoiled.length) return plain(found);
  const reason = `${spoiled.join(", ")} is no evidence; ${found.reason}`;
  return { ...plain({ ...found, outcome: "invalid", reason }), measured: found.outcome };
}
