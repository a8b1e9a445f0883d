// A procedure's text and the answers so far into what the judge is asked with. Mirrors records/gather/judging.py.

import { fractionOf, ZERO, decimalText } from "./exact.js";
import { judgeRun } from "./bench_run.js";
import { dutyFrom } from "./duty.js";
import { limitFrom } from "./limits.js";
import { runTimeFrom } from "./normalise.js";
import { parseQuantity, wholeSeconds } from "./quantities.js";
import { densityTableFrom, weighingFrom } from "./weighing.js";

const ALL_YES = (expected) => limitFrom({ kind: "all_yes", expected });
const moment = (iso) => new Date(iso).getTime();

export const pointsOf = (step) => (step.kind === "collect" ? Object.values(step.points) : step.point ? [step.point] : []);

// outlets: by step key, the list of position codes that must wet.
export function partsFor(content, outlets) {
  const asked = new Set(content.steps.flatMap(pointsOf));
  const byKey = new Map(content.points.map((point) => [point.key, point]));
  const parts = content.steps.flatMap((step) => partsOf(step, byKey, outlets[step.key] ?? []));
  const computed = content.points.filter((point) => point.of?.length && point.of.every((key) => asked.has(key)));
  return [...parts, ...computed.map((point) => ({ ...pointPart(point), of: point.of }))];
}

function partsOf(step, byKey, codes) {
  const part = (section, more) => ({ key: step.key, label: step.title, section, ...more });
  switch (step.kind) {
    case "check":
    case "set_control":
      return [part("check", { limit: ALL_YES(1) })];
    case "read_value":
      return [pointPart(byKey.get(step.point))];
    case "timed_run":
      return step.tolerance_seconds ? [part("precondition", { limit: runWindow(step) })] : [];
    case "duty_run":
      return [
        part("duty", { duty: dutyOf(step) }),
        { key: `${step.key}-count`, label: `${step.title}: runs made`, section: "check",
          limit: limitFrom({ kind: "minimum", unit: "1", minimum: String(step.runs) }) },
      ];
    case "outlets":
      return codes.length ? outletParts(step, codes.length, part) : [];
    case "collect":
      return Object.values(step.points).map((key) => pointPart(byKey.get(key)));
    default:
      return [];
  }
}

export const dutyOf = (step) =>
  dutyFrom({ maximum_on: step.max_on_seconds, minimum_rest: step.min_rest_seconds, unit: "s" });

function runWindow(step) {
  const [wanted, tolerance] = [fractionOf(step.seconds), fractionOf(step.tolerance_seconds)];
  const low = wanted.sub(tolerance);
  const places = 6;
  const text = (value) => decimalText(value, places).replace(/0+$/, "").replace(/\.$/, "");
  return limitFrom({ kind: "window", unit: "s", low: text(low.below(ZERO) ? ZERO : low), high: text(wanted.add(tolerance)) });
}

function outletParts(step, count, part) {
  const parts = [part("check", { limit: ALL_YES(count) })];
  if (step.longest_seconds) {
    const limit = limitFrom({ kind: "maximum", unit: "s", maximum: step.longest_seconds });
    parts.push({ key: `${step.key}-time`, label: `${step.title}: time to wet`, section: "point", limit });
  }
  return parts;
}

function pointPart(point) {
  const limit = limitFrom(point.limit, `${point.key}.limit`);
  const section = point.role === "precondition" ? "precondition" : "point";
  const rule = section === "point" ? point.normalise : null;
  const runTime = rule
    ? runTimeFrom({ specified: rule.seconds, unit: "s", max_deviation_percent: rule.most_percent })
    : null;
  return { key: point.key, label: point.name, section, limit, runTime };
}

export function entriesFor(content, answers, density) {
  const entries = {};
  for (const step of content.steps) {
    if (answers[step.key]) Object.assign(entries, entriesOf(step, answers, density));
  }
  return entries;
}

function entriesOf(step, answers, density) {
  const answer = answers[step.key];
  switch (step.kind) {
    case "check":
    case "set_control":
      return { [step.key]: { readings: [Boolean(answer.done)] } };
    case "read_value":
      return { [step.point]: { readings: [parseQuantity(answer.value, answer.unit, step.point)] } };
    case "timed_run":
      return { [step.key]: { readings: [runTimeOf(answer)] } };
    case "duty_run": {
      const runs = answer.runs.map((run) => ({ start: moment(run.on_at), stop: moment(run.off_at) }));
      runs.sort((a, b) => a.start - b.start);
      return { [step.key]: { runs }, [`${step.key}-count`]: { readings: [parseQuantity(String(runs.length), "1")] } };
    }
    case "outlets": {
      const wet = answer.outlets.filter((row) => row.wet);
      return {
        [step.key]: { readings: answer.outlets.map((row) => row.wet) },
        [`${step.key}-time`]: { readings: wet.map((row) => parseQuantity(row.seconds, "s", "outlets")) },
      };
    }
    case "collect": {
      const run = answers[step.run_step];
      const runTime = run ? runTimeOf(run) : null;
      const sides = Object.entries(step.points);
      return Object.fromEntries(sides.map(([side, key]) => [key, collected(answer.sides[side], side, runTime, density)]));
    }
    default:
      return {};
  }
}

function collected(row, side, runTime, density) {
  if (!row) return {};
  if (row.method === "volume") {
    return { readings: [parseQuantity(row.value, row.unit, `sides.${side}.value`)], runTime };
  }
  const written = {
    gross: { value: row.gross, unit: row.unit },
    tare: { value: row.tare, unit: row.unit },
    temperature: { value: row.celsius, unit: "degC" },
  };
  return { weighing: weighingFrom(written, densityTableFrom(density ?? [], "fluid lot density"), `sides.${side}`), runTime };
}

export const runTimeOf = (answer) => wholeSeconds(moment(answer.stopped_at) - moment(answer.started_at));

export const judgeWhole = (content, outlets, answers, density) =>
  judgeRun(partsFor(content, outlets), entriesFor(content, answers, density));

// What one answer alone comes to: its own parts, then the comparisons its points complete.
export function judgeAnswer(content, outlets, answers, step, density) {
  const own = new Set([step.key, `${step.key}-count`, `${step.key}-time`, ...pointsOf(step)]);
  const compared = content.points.filter((point) => point.of?.some((key) => own.has(key))).map((point) => point.key);
  return judgeWhole(content, outlets, answers, density).parts
    .filter((part) => own.has(part.key) || compared.includes(part.key))
    .filter((part) => !compared.includes(part.key) || part.verdict.outcome !== "incomplete");
}
