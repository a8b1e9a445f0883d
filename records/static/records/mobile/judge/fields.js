// Reads an object field by field and reports every wrong field at once. Mirrors scheduling/limits/fields.py.

import { fractionOf } from "./exact.js";
import { parseDecimal, unitOf } from "./quantities.js";
import { Refused, reason } from "./refused.js";

export class Fields {
  constructor(data, where, known) {
    this.where = where;
    this.reasons = [];
    const isObject = data !== null && typeof data === "object" && !Array.isArray(data);
    this.values = isObject ? data : {};
    if (!isObject) this.complain("", "is not an object", "send {…}");
    for (const name of Object.keys(this.values)) {
      if (!known.includes(name)) this.complain(name, "is not a field here", `use only: ${known.join(", ")}`);
    }
  }
  has(name) { return Object.hasOwn(this.values, name); }
  path(name) { return `${this.where}.${name}`.replace(/^\.|\.$/g, ""); }

  // The text of a required decimal; `least` and `above` bound it.
  decimal(name, { least, above } = {}) {
    let text;
    try {
      text = parseDecimal(this.values[name], this.path(name));
    } catch (refusal) {
      if (!(refusal instanceof Refused)) throw refusal;
      this.reasons.push(...refusal.reasons);
      return "1";
    }
    const value = fractionOf(text);
    if (least !== undefined && value.below(fractionOf(least))) {
      this.complain(name, `is below ${least}`, `write ${least} or more`);
    }
    if (above !== undefined && !fractionOf(above).below(value)) {
      this.complain(name, `must be above ${above}`, `write more than ${above}`);
    }
    return text;
  }
  optionalDecimal(name, fallback, bounds) {
    return this.values[name] === undefined || this.values[name] === null ? fallback : this.decimal(name, bounds);
  }
  choice(name, choices, fallback) {
    const written = this.has(name) ? this.values[name] : fallback;
    if (choices.includes(written)) return written;
    this.complain(name, "is not one of the words here", `use one of: ${choices.join(", ")}`);
    return fallback;
  }
  unit(name = "unit") {
    const written = this.values[name];
    if (typeof written !== "string" || !written.trim()) {
      this.complain(name, "is missing", "name the unit, such as mL, s or V");
      return "1";
    }
    try {
      return unitOf(written, this.path(name)).code;
    } catch (refusal) {
      if (!(refusal instanceof Refused)) throw refusal;
      this.reasons.push(...refusal.reasons);
      return "1";
    }
  }
  whole(name, fallback, least) {
    const written = this.has(name) ? this.values[name] : fallback;
    if (Number.isInteger(written) && written >= least) return written;
    this.complain(name, "is not a whole number in range", `write a whole number, ${least} or more`);
    return fallback;
  }
  flag(name) {
    const written = this.has(name) ? this.values[name] : false;
    if (typeof written === "boolean") return written;
    this.complain(name, "is neither true nor false", "send true or false");
    return false;
  }
  complain(name, detail, remedy) {
    this.reasons.push(reason(this.path(name), this.values[name], detail, remedy));
  }
  finish(code) {
    if (this.reasons.length) throw new Refused(code, this.reasons);
  }
}
