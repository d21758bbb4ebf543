"""One sensor's record, summed: the same `advance` for a single reading and for a rebuild.

One by one, in chunks or whole give bitwise the same sums, because each sum is seeded with the carried value.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cure.maturity import (
    DEFAULT_ACTIVATION_ENERGY,
    Floats,
    Rate,
    contract_rate,
    default_rate,
    own_rate,
    relative,
    temperature_time_rate,
)
from shared.models.base import HOUR_MS, Ms
from shared.models.calibration import Calibration
from shared.models.readings import Series

SHORT_GAP_INTERVALS: Final = 1.5
LONGEST_CREDITED_GAP_MS: Final = 4 * HOUR_MS
AIR_ALLOWANCE_C: Final = 4.0
"""A slab in a gap is taken as this much colder than the coldest bay air (our judgement)."""
COVERED_ALLOWANCE_C: Final = 2.0
"""Instead, while somebody has entered a cover over it (our judgement)."""
SENSOR_SD_C: Final = 0.5
"""ASTM C1074 asks for an accuracy of 1 degC (from memory); half of it as one standard deviation."""
TENTH_PERCENTILE: Final = 1.2815515655446004
"""Of the normal distribution."""
DEFAULT_ENERGY_SD: Final = 10_000.0
"""[J/mol] of the activation energy until the mix's own is tested (our judgement)."""

ENERGY_SDS: Final = 1.645
COLDEST_SDS: Final = 2.0
HIGHEST_ENERGY_SDS: Final = 2.25
"""How far out the activation energy and the coldest readings are summed; `cure.bound` says why. Of an untested mix the
highest energy is 64 kJ/mol, the highest of fourteen mixes: Tank and Carino, ACI Materials Journal 88(1), 1991 (from
memory)."""

NOMINAL, COLD, LOW_ENERGY, HIGH_ENERGY, TEMPERATURE_TIME, COLDEST, HIGHEST_ENERGY = range(7)
"""Columns of the sums: equivalent age as it is; with every reading 1.28 sd colder; at the activation energy less and
plus 1.645 sd; the temperature-time factor above 0 degC; equivalent age with every reading 2 sd colder; at the
activation energy plus 2.25 sd."""
COLUMNS: Final = 7


@dataclass(frozen=True, slots=True)
class Law:
    """The temperature law of a mix with its spread."""

    activation_energy_j_per_mol: float = DEFAULT_ACTIVATION_ENERGY
    sd_j_per_mol: float = DEFAULT_ENERGY_SD
    tested_c: tuple[float, float] | None = None
    """Coldest and hottest temperature of the test of the mix's own energy; None: not tested, this is the default."""
    contract: Rate | None = None
    """The law that the contract names, as hours at 20 degC per hour."""

    @classmethod
    def of(cls, calibration: Calibration | None) -> Law:
        """Return the mix's tested law, or the shipped default, beside the one that the contract names."""
        named = None if calibration is None or calibration.law is None else relative(contract_rate(calibration.law))
        if calibration is None or calibration.activation_energy_kj_per_mol is None:
            return cls(contract=named)
        sd = calibration.activation_energy_sd_kj_per_mol
        from_c, to_c = calibration.activation_energy_from_c, calibration.activation_energy_to_c
        return cls(
            calibration.activation_energy_kj_per_mol * 1000.0,
            DEFAULT_ENERGY_SD if sd is None else sd * 1000.0,
            # Without its temperatures it was tested nowhere, and the lower of both laws holds everywhere.
            (math.inf, math.inf) if from_c is None or to_c is None else (from_c, to_c),
            named,
        )

    def rate(self, temperature_c: Floats, *, energy_sds: float = 0.0) -> Floats:
        """Return hours of equivalent age per hour, shape (n,): the contract's law can only lower it."""
        rate = default_rate(temperature_c, DEFAULT_ACTIVATION_ENERGY + energy_sds * DEFAULT_ENERGY_SD)
        if self.tested_c is not None:
            own = self.activation_energy_j_per_mol + energy_sds * self.sd_j_per_mol
            rate = own_rate(temperature_c, own, self.tested_c, rate)
        # Not minimum: what is not a number earns nothing by ours, and so by both.
        return rate if self.contract is None else np.fmin(rate, self.contract(temperature_c))

    def rates(self, temperature_c: Floats) -> Floats:
        """Return the rate of each column of the sums, shape (n, 7)."""
        return np.stack(
            (
                self.rate(temperature_c),
                self.rate(temperature_c - TENTH_PERCENTILE * SENSOR_SD_C),
                self.rate(temperature_c, energy_sds=-ENERGY_SDS),
                self.rate(temperature_c, energy_sds=ENERGY_SDS),
                temperature_time_rate(temperature_c),
                self.rate(temperature_c - COLDEST_SDS * SENSOR_SD_C),
                self.rate(temperature_c, energy_sds=HIGHEST_ENERGY_SDS),
            ),
            axis=-1,
        )


@dataclass(frozen=True, slots=True)
class Gap:
    """An interval longer than 1.5 of the sensor's own, or across a reading that is not believed."""

    from_ms: Ms
    to_ms: Ms
    credited_c: float
    """What it is credited at; NaN: not at all."""


@dataclass(frozen=True, slots=True)
class Air:
    """The air above a bay, and when its slab was covered."""

    series: Series
    covers: Sequence[tuple[Ms, Ms]] = ()
    """Spans from ... to."""

    def allowance_c(self, from_ms: Ms, to_ms: Ms) -> float:
        """Return by how much a slab may be colder than its air."""
        covered = any(on_ms <= from_ms and to_ms <= off_ms for on_ms, off_ms in self.covers)
        return COVERED_ALLOWANCE_C if covered else AIR_ALLOWANCE_C

    def gap_c(self, from_ms: Ms, to_ms: Ms, ends_c: float, interval_ms: int) -> float:
        """Return what a gap is credited at: the lower of both ends and the air less the allowance, else NaN."""
        if to_ms - from_ms > LONGEST_CREDITED_GAP_MS:
            return float("nan")
        first, last = np.searchsorted(self.series.taken_ms, [from_ms - interval_ms, to_ms + interval_ms])
        times = self.series.taken_ms[first:last]
        whole = len(times) > 1 and times[0] <= from_ms and times[-1] >= to_ms
        if not whole or np.max(np.diff(times)) > SHORT_GAP_INTERVALS * interval_ms:
            return float("nan")  # the air has a hole there too
        air_c = float(np.min(self.series.milli_c[first:last])) / 1000.0
        return min(ends_c, air_c - self.allowance_c(from_ms, to_ms))


@dataclass(frozen=True, slots=True)
class Carried:
    """What is kept of a sensor after its newest reading."""

    through_ms: Ms
    temperature_c: float
    sums: tuple[float, ...] = (0.0,) * COLUMNS


@dataclass(frozen=True, slots=True)
class Track:
    """A stretch of one sensor's record: n + 1 times, n intervals."""

    taken_ms: NDArray[np.int64]
    """Shape (n + 1,)."""
    temperature_c: Floats
    """Shape (n + 1,)."""
    low_c: Floats
    """Coldest that each interval may have been: shape (n,); NaN: not known, nothing earned."""
    sums: Floats
    """At each time: shape (n + 1, 7)."""
    gaps: tuple[Gap, ...]

    def carried(self) -> Carried:
        """Return what to keep after the last reading."""
        return Carried(int(self.taken_ms[-1]), float(self.temperature_c[-1]), tuple(map(float, self.sums[-1])))

    def at(self, when_ms: Ms) -> Floats:
        """Return the sums at the last reading taken by then, shape (7,); zeros before the first."""
        i = int(np.searchsorted(self.taken_ms, when_ms, side="right")) - 1
        return self.sums[i] if i >= 0 else np.zeros(self.sums.shape[1])


NOTHING: Final = np.empty(0, np.int64)


def advance(
    carried: Carried,
    series: Series,
    *,
    law: Law,
    interval_ms: int,
    air: Air | None = None,
    withheld_ms: NDArray[np.int64] = NOTHING,
) -> Track:
    """Return the record from the carried state on.

    An interval up to 1.5 logger intervals counts at its mean temperature; up to 4 h at the lowest of both ends and the
    bay air - 4 degC (- 2 degC covered); a longer one, or one without an air record, earns nothing.

    Args:
        carried: the state after the last reading before these.
        series: readings later than `carried.through_ms`, ascending.
        law: the mix's temperature law.
        interval_ms: of the logger.
        air: the bay's air, for gaps.
        withheld_ms: hours of readings that are not in the series because they are not believed, ascending: an interval
            with one of them inside earns nothing, so that leaving readings out never earns more than they would.
    """
    taken = np.concatenate(([carried.through_ms], series.taken_ms)).astype(np.int64)
    temperature = np.concatenate(([carried.temperature_c], series.milli_c / 1000.0))
    span = np.diff(taken)
    low = np.minimum(temperature[1:], temperature[:-1])
    mean = 0.5 * (temperature[1:] + temperature[:-1])
    gaps = []
    first = np.searchsorted(withheld_ms, taken[:-1], side="right")
    across = np.searchsorted(withheld_ms, taken[1:], side="left") > first
    for i in np.flatnonzero((span > SHORT_GAP_INTERVALS * interval_ms) | across):
        ends_ms = int(taken[i]), int(taken[i + 1])
        unknown = air is None or across[i]
        value = float("nan") if unknown or air is None else air.gap_c(*ends_ms, float(low[i]), interval_ms)
        gaps.append(Gap(*ends_ms, value))
        low[i] = mean[i] = value
    earned = law.rates(mean) * (span / HOUR_MS)[:, None]
    # A gap without a value is NaN up to here, and earns nothing from here on.
    earned = np.where(np.isnan(mean)[:, None], 0.0, earned)
    sums = np.add.accumulate(np.concatenate((np.array([carried.sums]), earned)), axis=0)
    return Track(taken, temperature, low, sums, tuple(gaps))
