// Decision rules with guard bands. Mirrors the deciding part of records/judge/uncertainty.py.

import { ZERO, fractionOf } from "./exact.js";
import { Fields } from "./fields.js";
import { convertDifference, unitOf } from "./quantities.js";
import { refused } from "./refused.js";

export const SIMPLE = Object.freeze({ kind: "simple" });
const KINDS = ["simple", "guarded", "guarded_four"];
const KNOWN = ["kind", "expanded_uncertainty", "unit", "coverage_factor", "multiplier"];

export function ruleFrom(data, where = "decision_rule") {
  if (data === undefined || data === null) return SIMPLE;
  const fields = new Fields(data, where, KNOWN);
  const kind = fields.choice("kind", KINDS, "simple");
  if (kind === "simple") {
    for (const name of KNOWN.slice(1)) {
      if (fields.has(name)) fields.complain(name, "does not belong to simple acceptance", "leave it out or choose guarded");
    }
    fields.finish("bad_decision_rule");
    return SIMPLE;
  }
  const uncertainty = fields.decimal("expanded_uncertainty", { above: "0" });
  const coverage = fields.optionalDecimal("coverage_factor", "2");
  const multiplier = fields.optionalDecimal("multiplier", "1", { least: "-1" });
  if (!ZERO.below(fractionOf(coverage))) {
    fields.complain("coverage_factor", "must be above 0", "write the k that belongs to U, usually 2");
  }
  if (kind === "guarded_four" && !ZERO.below(fractionOf(multiplier))) {
    fields.complain("multiplier", "must be above 0 for four outcomes", "write 1, or choose guarded");
  }
  const unit = fields.unit();
  fields.finish("bad_decision_rule");
  return Object.freeze({ kind, uncertainty: fractionOf(uncertainty), multiplier: fractionOf(multiplier), unit });
}

// The guard band in `unit`; refused where nothing could pass because the bands of both limits overlap.
export function bandOf(rule, unit, width) {
  if (rule.kind === "simple") return ZERO;
  const wanted = unitOf(unit).dimension;
  if (unitOf(rule.unit).dimension !== wanted) {
    throw refused("wrong_dimension", "decision_rule.unit", rule.unit, `does not measure ${wanted}`, `state U in ${unit}`);
  }
  const band = convertDifference(rule.multiplier.mul(rule.uncertainty), rule.unit, unit, "decision_rule.unit");
  if (width !== null && width.below(band.add(band))) {
    const detail = "is so large that no value could pass";
    const remedy = "use a better method, or simple acceptance if the approved data allow it";
    throw refused("method_cannot_decide", "decision_rule", rule.kind, detail, remedy);
  }
  return band;
}
