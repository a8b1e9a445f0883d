// Exact rational numbers: a whole number over a whole number above zero. No float ever decides a verdict.

const abs = (n) => (n < 0n ? -n : n);

function greatestCommonDivisor(a, b) {
  while (b) [a, b] = [b, a % b];
  return a;
}

export class Fraction {
  constructor(numerator, denominator = 1n) {
    if (denominator === 0n) throw new RangeError("a fraction over zero");
    const sign = denominator < 0n ? -1n : 1n;
    const common = greatestCommonDivisor(abs(numerator), abs(denominator)) || 1n;
    this.n = (sign * numerator) / common;
    this.d = (sign * denominator) / common;
    Object.freeze(this);
  }
  add(other) { return new Fraction(this.n * other.d + other.n * this.d, this.d * other.d); }
  sub(other) { return new Fraction(this.n * other.d - other.n * this.d, this.d * other.d); }
  mul(other) { return new Fraction(this.n * other.n, this.d * other.d); }
  div(other) { return new Fraction(this.n * other.d, this.d * other.n); }
  neg() { return new Fraction(-this.n, this.d); }
  abs() { return new Fraction(abs(this.n), this.d); }
  compare(other) {
    const difference = this.n * other.d - other.n * this.d;
    return difference < 0n ? -1 : difference > 0n ? 1 : 0;
  }
  equals(other) { return this.compare(other) === 0; }
  below(other) { return this.compare(other) < 0; }
  atLeast(other) { return this.compare(other) >= 0; }
  get isZero() { return this.n === 0n; }
}

export const ZERO = new Fraction(0n);
export const ONE = new Fraction(1n);
export const HUNDRED = new Fraction(100n);

export const least = (values) => values.reduce((a, b) => (b.below(a) ? b : a));
export const greatest = (values) => values.reduce((a, b) => (a.below(b) ? b : a));
export const whole = (number) => new Fraction(BigInt(number));

// "1349.60" or "-5/9", as the server writes exact numbers.
export function fractionOf(text) {
  const [over, under] = String(text).split("/");
  if (under !== undefined) return new Fraction(BigInt(over), BigInt(under));
  const [head, places = ""] = over.split(".");
  return new Fraction(BigInt(head + places), 10n ** BigInt(places.length));
}

// Halves go to the even neighbour, as on the server.
export function roundedHalfEven(value) {
  const size = abs(value.n);
  const floor = size / value.d;
  const twice = 2n * (size - floor * value.d);
  const up = twice > value.d || (twice === value.d && floor % 2n === 1n);
  const result = floor + (up ? 1n : 0n);
  return value.n < 0n ? -result : result;
}

export function floorOf(value) {
  const floor = value.n / value.d;
  return value.n < 0n && floor * value.d !== value.n ? floor - 1n : floor;
}

function scaledText(number, places) {
  const digits = abs(number).toString().padStart(places + 1, "0");
  const cut = digits.length - places;
  return (number < 0n ? "-" : "") + digits.slice(0, cut) + (places ? `.${digits.slice(cut)}` : "");
}

const power = (places) => 10n ** BigInt(places);

export const decimalText = (value, places) =>
  scaledText(roundedHalfEven(value.mul(new Fraction(power(places)))), places);

export const flooredText = (value, places) =>
  scaledText(floorOf(value.mul(new Fraction(power(places)))), places);

const MOST_DIGITS = 15;

// Without loss: 45/2 is "22.5", 1/3 stays "1/3".
export function exactText(value) {
  let rest = value.d;
  let twos = 0;
  let fives = 0;
  while (rest % 2n === 0n) { rest /= 2n; twos += 1; }
  while (rest % 5n === 0n) { rest /= 5n; fives += 1; }
  const places = Math.max(twos, fives);
  if (rest !== 1n || places > MOST_DIGITS) return `${value.n}/${value.d}`;
  return decimalText(value, places);
}

// Short enough to read, never rounded to a lie: what is not zero is never shown as zero.
export function shownText(value, places = 3) {
  let shownPlaces = places;
  const size = value.abs();
  while (!size.isZero && size.below(new Fraction(1n, power(shownPlaces - 2)))) shownPlaces += 1;
  const text = decimalText(value, shownPlaces);
  return text.includes(".") ? text.replace(/0+$/, "").replace(/\.$/, "") : text;
}
