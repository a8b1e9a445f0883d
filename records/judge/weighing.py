"""Volume from weight: gross, tare and the fluid lot's own density at the fluid's temperature. Pure.

Buoyancy of air, where asked for, by V = m·Z, Z = (1 − ρa/ρb)/(ρ − ρa), the formula of ISO 8655-6.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from fleet.quantities import Quantity, RefusedInput, parse_decimal, parse_quantity, refused
from records.judge.terms import Amount, shown
from scheduling.limits.fields import Fields


@dataclass(frozen=True, slots=True)
class DensityTable:
    """Rows of (°C, g/mL) of the supplier's sheet, rising in temperature. Build it with density_table."""

    rows: tuple[tuple[Decimal, Decimal], ...]

    def at(self, temperature: Quantity, *, field: str = "temperature") -> Fraction:
        """g/mL at a temperature, straight between rows; outside the table is refused, never extrapolated."""
        celsius = temperature.in_unit("degC", field=f"{field}.unit")
        first, last = self.rows[0][0], self.rows[-1][0]
        if not first <= celsius <= last:
            detail = f"is outside the lot's density table ({first:f} to {last:f} °C)"
            remedy = "weigh at a temperature the table covers, or enter the supplier's full table"
            raise refused("temperature_outside_table", field, temperature, detail, remedy)
        for (low, below), (high, above) in pairwise(self.rows):
            if low <= celsius <= high:
                share = (celsius - Fraction(low)) / (Fraction(high) - Fraction(low))
                return Fraction(below) + share * (Fraction(above) - Fraction(below))
        return Fraction(self.rows[0][1])


def density_table(rows: Iterable[tuple[Decimal, Decimal]], *, field: str = "density") -> DensityTable:
    """Rows put in order of temperature; refuses no rows, a temperature twice, a density of zero or less."""
    ordered = tuple(sorted(rows))
    if not ordered:
        raise refused("bad_density_table", field, "", "has no rows", "enter the supplier's density table")
    for celsius, density in ordered:
        if density <= 0:
            detail = f"must be above zero at {celsius:f} °C"
            raise refused("bad_density_table", field, density, detail, "enter g/mL, such as 1.096")
    for (low, _), (high, _) in pairwise(ordered):
        if low == high:
            detail = "stands in the table twice"
            raise refused("bad_density_table", field, f"{low:f} °C", detail, "keep one row per temperature")
    return DensityTable(ordered)


@dataclass(frozen=True, slots=True)
class Buoyancy:
    """Air and balance-weight densities in kg/m³; the usual values are 1.2 and 8000."""

    air: Decimal = Decimal("1.2")
    weights: Decimal = Decimal(8000)


@dataclass(frozen=True, slots=True)
class Weighing:
    """One weighed collection; `buoyancy` None leaves the air out (0.1 % for water and glycol)."""

    gross: Quantity
    tare: Quantity
    temperature: Quantity
    table: DensityTable
    buoyancy: Buoyancy | None = None


@dataclass(frozen=True, slots=True)
class Weighed:
    """The volume, and how it was got, in words for the record."""

    amount: Amount
    net_grams: Fraction
    grams_per_ml: Fraction
    reason: str


def volume_of(weighing: Weighing, *, field: str = "weighing") -> Weighed:
    """Net mass by density: 1508.6 g − 412.6 g at 1.096 g/mL is exactly 1000 mL.

    Raises RefusedInput for a negative mass, a gross below its tare, or a temperature outside the table.
    """
    gross = _grams(weighing.gross, f"{field}.gross")
    tare = _grams(weighing.tare, f"{field}.tare")
    if gross < tare:
        detail = f"is less than the tare of {weighing.tare}"
        raise refused("gross_below_tare", f"{field}.gross", weighing.gross, detail, "swap or reweigh")
    density = weighing.table.at(weighing.temperature, field=f"{field}.temperature")
    net = gross - tare
    millilitres = net * _millilitres_per_gram(density, weighing.buoyancy)
    air = "" if weighing.buoyancy is None else ", corrected for the buoyancy of air"
    at = f"{shown(density, 'g/mL')} at {weighing.temperature}"
    reason = f"{weighing.gross} − {weighing.tare} = {shown(net, 'g')}, {at}{air}: {shown(millilitres, 'mL')}"
    return Weighed(Amount(millilitres, "mL"), net, density, reason)


def _grams(mass: Quantity, field: str) -> Fraction:
    grams = mass.in_unit("g", field=f"{field}.unit")
    if grams < 0:
        raise refused("negative_reading", field, mass, "is below zero", "zero the balance and weigh again")
    return grams


def _millilitres_per_gram(density: Fraction, buoyancy: Buoyancy | None) -> Fraction:
    if buoyancy is None:
        return 1 / density
    air, weights = Fraction(buoyancy.air) / 1000, Fraction(buoyancy.weights) / 1000
    return (1 - air / weights) / (density - air)


def weighing_from_data(data: object, table: DensityTable, *, where: str = "weighing") -> Weighing:
    """From JSON: gross, tare, temperature as {"value", "unit"}, "buoyancy" true or false (default)."""
    fields = Fields(data, where, ("gross", "tare", "temperature", "buoyancy"))
    buoyancy = Buoyancy() if fields.flag("buoyancy") else None
    taken = []
    for name in ("gross", "tare", "temperature"):
        written = fields.values.get(name)
        if not isinstance(written, dict):
            fields.complain(name, "is missing", 'send {"value": "1508.6", "unit": "g"}')
            continue
        try:
            taken.append(
                parse_quantity(written.get("value"), str(written.get("unit")), field=fields.path(name))
            )
        except RefusedInput as refusal:
            fields.reasons.extend(refusal.reasons)
    fields.finish("bad_weighing")
    gross, tare, temperature = taken
    return Weighing(gross, tare, temperature, table, buoyancy)


def density_table_from_data(data: object, *, where: str = "density") -> DensityTable:
    """From JSON: `[["15", "1.099"], ["20", "1.096"]]`, °C and g/mL as text."""
    if not isinstance(data, list | tuple) or any(
        not isinstance(row, list | tuple) or len(row) != 2 for row in data
    ):
        raise refused("bad_density_table", where, data, "is not a list of pairs", 'send [["20", "1.096"]]')
    rows = [
        (
            parse_decimal(celsius, field=f"{where}.{number}.celsius"),
            parse_decimal(grams, field=f"{where}.{number}"),
        )
        for number, (celsius, grams) in enumerate(data)
    ]
    return density_table(rows, field=where)
