// Decimals as written and units with exact factors. Mirrors fleet/quantities.py.

import { Fraction, ZERO, fractionOf, shownText } from "./exact.js";
import { refused } from "./refused.js";
import { ALSO_WRITTEN, AMBIGUOUS, UNITS } from "./units.js";

const PLAIN_DECIMAL = /^-?[0-9]+(\.[0-9]+)?$/;
const MOST_DIGITS = 15;
const MOST_PLACES = 9;

// A plain decimal as written, trailing zeros kept: parseDecimal("1350.50") is "1350.50".
export function parseDecimal(written, field = "value") {
  const text = writtenText(written, field);
  if (!PLAIN_DECIMAL.test(text)) {
    const remedy = text.includes(",") ? "use a point: 1350.5" : "write a plain number such as 1350.5";
    throw refused("not_a_number", field, text, "is not a plain decimal number", remedy);
  }
  const [whole, places = ""] = text.replace("-", "").split(".");
  if (places.length > MOST_PLACES) {
    throw refused("too_many_places", field, text, `has more than ${MOST_PLACES} decimals`, "write fewer decimals");
  }
  if (whole.replace(/^0+/, "").length + places.length > MOST_DIGITS) {
    throw refused("too_many_digits", field, text, `has more than ${MOST_DIGITS} digits`, "check the number");
  }
  return text;
}

function writtenText(written, field) {
  if (typeof written === "string") return written.trim();
  if (Number.isSafeInteger(written)) return String(written);
  const detail = "is not text or an exact number";
  throw refused("not_exact", field, written, detail, 'send it as text, such as "1350.5"');
}

function unitFrom([dimension, factor, offset, symbol], code) {
  return { code, dimension, factor: fractionOf(factor), offset: fractionOf(offset), label: symbol || code };
}

const known = new Map();

export function unitOf(written, field = "unit") {
  const trimmed = String(written).trim();
  const code = ALSO_WRITTEN[trimmed] ?? trimmed;
  const twofold = AMBIGUOUS[code.toLowerCase()];
  if (twofold) throw refused("ambiguous_unit", field, code, "means two different amounts", `say ${twofold}`);
  if (!Object.hasOwn(UNITS, code)) {
    const all = Object.keys(UNITS).filter((each) => each !== "1").join(", ");
    throw refused("unknown_unit", field, code, "is not a unit we know", `use one of: ${all}`);
  }
  if (!known.has(code)) known.set(code, unitFrom(UNITS[code], code));
  return known.get(code);
}

export const unitsLike = (code) => {
  const { dimension } = unitOf(code);
  return Object.keys(UNITS).filter((each) => UNITS[each][0] === dimension);
};

export const unitLabel = (code) => (unitOf(code).code === "1" ? "" : unitOf(code).label);

export function requireDimension(code, wanted, field = "unit") {
  const found = unitOf(code, field);
  if (found.dimension === wanted) return found;
  const same = Object.keys(UNITS).filter((each) => UNITS[each][0] === wanted).join(", ");
  const detail = `measures ${found.dimension}, but ${wanted} is wanted`;
  throw refused("wrong_dimension", field, code, detail, `use one of: ${same}`);
}

function pairOfUnits(source, target, field) {
  const end = unitOf(target, field);
  return [requireDimension(source, end.dimension, field), end];
}

export function convert(value, source, target, field = "unit") {
  const [start, end] = pairOfUnits(source, target, field);
  if (start === end) return value;
  return value.mul(start.factor).add(start.offset).sub(end.offset).div(end.factor);
}

export function convertDifference(value, source, target, field = "unit") {
  const [start, end] = pairOfUnits(source, target, field);
  return value.mul(start.factor).div(end.factor);
}

export const shown = (value, unit) => `${shownText(value)} ${unitLabel(unit)}`.trim();

// An amount with its unit: a reading as written (`text` kept), or a computed exact value.
export class Amount {
  constructor(value, unit, text = null) {
    this.value = value;
    this.unit = unit;
    this.text = text;
    Object.freeze(this);
  }
  inUnit(target, field = "unit") { return convert(this.value, this.unit, target, field); }
  toString() {
    return this.text === null ? shown(this.value, this.unit) : `${this.text} ${unitLabel(this.unit)}`.trim();
  }
}

export function parseQuantity(written, unit, field = "value") {
  const text = parseDecimal(written, field);
  const withoutZeros = text.replace(/^(-?)0+(?=[0-9])/, "$1");
  return new Amount(fractionOf(text), unitOf(unit, `${field} unit`).code, withoutZeros);
}

export const wholeSeconds = (milliseconds) => {
  const text = (milliseconds / 1000).toFixed(3);
  return new Amount(new Fraction(BigInt(milliseconds), 1000n), "s", text);
};

export const isNegative = (value) => value.below(ZERO);
