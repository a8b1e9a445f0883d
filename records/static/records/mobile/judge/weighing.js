// Volume from weight by the fluid lot's own density. Mirrors records/judge/weighing.py.

import { Fraction, ONE, ZERO, fractionOf } from "./exact.js";
import { Fields } from "./fields.js";
import { Amount, parseDecimal, parseQuantity, shown } from "./quantities.js";
import { Refused, refused } from "./refused.js";

const AIR = new Fraction(12n, 10_000n);
const WEIGHTS = new Fraction(8n);

export function densityTableFrom(data, where = "density") {
  if (!Array.isArray(data) || data.some((row) => !Array.isArray(row) || row.length !== 2)) {
    throw refused("bad_density_table", where, data, "is not a list of pairs", 'send [["20", "1.096"]]');
  }
  const rows = data.map(([celsius, grams], number) => ({
    celsius: fractionOf(parseDecimal(celsius, `${where}.${number}.celsius`)),
    density: fractionOf(parseDecimal(grams, `${where}.${number}`)),
    words: String(celsius),
  }));
  rows.sort((a, b) => a.celsius.compare(b.celsius));
  if (!rows.length) throw refused("bad_density_table", where, "", "has no rows", "enter the supplier's density table");
  rows.forEach((row, number) => {
    if (!ZERO.below(row.density)) {
      const detail = `must be above zero at ${row.words} °C`;
      throw refused("bad_density_table", where, row.words, detail, "enter g/mL, such as 1.096");
    }
    if (number && rows[number - 1].celsius.equals(row.celsius)) {
      const detail = "stands in the table twice";
      throw refused("bad_density_table", where, `${row.words} °C`, detail, "keep one row per temperature");
    }
  });
  return rows;
}

function densityAt(table, temperature, field) {
  const celsius = temperature.inUnit("degC", `${field}.unit`);
  const [first, last] = [table[0], table.at(-1)];
  if (celsius.below(first.celsius) || last.celsius.below(celsius)) {
    const detail = `is outside the lot's density table (${first.words} to ${last.words} °C)`;
    const remedy = "weigh at a temperature the table covers, or enter the supplier's full table";
    throw refused("temperature_outside_table", field, temperature, detail, remedy);
  }
  for (let number = 1; number < table.length; number += 1) {
    const [low, high] = [table[number - 1], table[number]];
    if (high.celsius.below(celsius)) continue;
    const share = celsius.sub(low.celsius).div(high.celsius.sub(low.celsius));
    return low.density.add(share.mul(high.density.sub(low.density)));
  }
  return first.density;
}

export function weighingFrom(data, table, where = "weighing") {
  const fields = new Fields(data, where, ["gross", "tare", "temperature", "buoyancy"]);
  const buoyancy = fields.flag("buoyancy");
  const taken = {};
  for (const name of ["gross", "tare", "temperature"]) {
    const written = fields.values[name];
    if (written === null || typeof written !== "object") {
      fields.complain(name, "is missing", 'send {"value": "1508.6", "unit": "g"}');
      continue;
    }
    try {
      taken[name] = parseQuantity(written.value, String(written.unit), fields.path(name));
    } catch (refusal) {
      if (!(refusal instanceof Refused)) throw refusal;
      fields.reasons.push(...refusal.reasons);
    }
  }
  fields.finish("bad_weighing");
  return { ...taken, table, buoyancy };
}

export function volumeOf(weighing, field = "weighing") {
  const gross = grams(weighing.gross, `${field}.gross`);
  const tare = grams(weighing.tare, `${field}.tare`);
  if (gross.below(tare)) {
    const detail = `is less than the tare of ${weighing.tare}`;
    throw refused("gross_below_tare", `${field}.gross`, weighing.gross, detail, "swap or reweigh");
  }
  const density = densityAt(weighing.table, weighing.temperature, `${field}.temperature`);
  const net = gross.sub(tare);
  const perGram = weighing.buoyancy ? ONE.sub(AIR.div(WEIGHTS)).div(density.sub(AIR)) : ONE.div(density);
  const millilitres = net.mul(perGram);
  const air = weighing.buoyancy ? ", corrected for the buoyancy of air" : "";
  const at = `${shown(density, "g/mL")} at ${weighing.temperature}`;
  const reason = `${weighing.gross} − ${weighing.tare} = ${shown(net, "g")}, ${at}${air}: ${shown(millilitres, "mL")}`;
  return { amount: new Amount(millilitres, "mL"), reason };
}

function grams(mass, field) {
  const value = mass.inUnit("g", `${field}.unit`);
  if (value.below(ZERO)) {
    throw refused("negative_reading", field, mass, "is below zero", "zero the balance and weigh again");
  }
  return value;
}
