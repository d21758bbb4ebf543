"""Maturity: how fast concrete ages at a temperature, and what a temperature record adds up to.

A law gives the rate at which equivalent age (or the temperature-time factor) grows at a temperature; an interval counts
at the rate of its mean temperature, not at the mean of the rates (ASTM C1074, definitions under equations 1 and 2; from
memory, check against the document). Check values: tests/cure/references/history_h1.toml and history_h2.toml.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from shared.models.calibration import ContractLaw, EquivalentAgeLaw, FixedLaw, TemperatureTimeLaw, WeightedLaw

Floats: TypeAlias = NDArray[np.float64]
Rate: TypeAlias = Callable[[Floats], Floats]
"""Temperature [degC], shape (n,) -> rate, shape (n,)."""

GAS_CONSTANT: Final = 8.314
"""[J/(mol K)], the value printed in ASTM C1074 (from memory); CODATA's further digits change nothing here."""
KELVIN: Final = 273.15
REFERENCE_C: Final = 20.0
DEFAULT_ACTIVATION_ENERGY: Final = 41_500.0
"""[J/mol], Q = 5000 K: suggested by ASTM C1074 for plain cement (from memory); until the mix's own has been tested."""
NO_CREDIT_AT_OR_BELOW_C: Final = 0.0
"""Hydration claims at and below freezing need evidence that a thermometer cannot give (our judgement)."""
FASTEST_CREDITED_C: Final = 50.0
"""Hotter readings are credited as this: a limit to what a wrong or forged reading can earn (our judgement)."""
WARNED_BELOW_C: Final = 10.0
WARNED_ABOVE_RATIO: Final = 1.05


def arrhenius_rate(
    temperature_c: Floats,
    activation_energy_j_per_mol: float | Floats = DEFAULT_ACTIVATION_ENERGY,
    reference_c: float = REFERENCE_C,
) -> Floats:
    """Return hours of equivalent age per hour: exp(-E/R (1/T - 1/Tr)), T in kelvin.

    Args:
        temperature_c: concrete temperature, shape (n,). [degC]
        activation_energy_j_per_mol: apparent activation energy E, one or one for each temperature. [J/mol]
        reference_c: temperature at which equivalent age is expressed. [degC]

    Source:
        P. Freiesleben Hansen, E. J. Pedersen, "Maturity computer for controlled curing and hardening of concrete",
        Nordisk Betong 1, 1977; the equivalent age of ASTM C1074, section 6.3 (both from memory). Valid: 0 to 40 degC.
    """
    kelvin = temperature_c + KELVIN
    return np.exp(-activation_energy_j_per_mol / GAS_CONSTANT * (1.0 / kelvin - 1.0 / (reference_c + KELVIN)))


def two_branch_rate(temperature_c: Floats, reference_c: float = REFERENCE_C) -> Floats:
    """Return hours of equivalent age per hour with E = 33.5 kJ/mol, and 1.47 (20 - T) kJ/mol more below 20 degC.

    Args:
        temperature_c: concrete temperature, shape (n,). [degC]
        reference_c: temperature at which equivalent age is expressed. [degC]

    Source:
        Freiesleben Hansen and Pedersen 1977, as above (from memory). Valid: -10 to 80 degC.
    """
    energy = 33_500.0 + 1_470.0 * np.maximum(0.0, 20.0 - temperature_c)
    kelvin = temperature_c + KELVIN
    return np.exp(-energy / GAS_CONSTANT * (1.0 / kelvin - 1.0 / (reference_c + KELVIN)))


def en1992_rate(temperature_c: Floats) -> Floats:
    """Return hours of equivalent age at 20 degC per hour: exp(13.65 - 4000/(273 + T)).

    Source:
        EN 1992-1-1:2004, Annex B, equation (B.10); fib Model Code 2010, equation 5.1-85. Valid: 0 to 80 degC.
        Below 20 degC it is on the unsafe side of most cements.
    """
    return np.exp(13.65 - 4000.0 / (273.0 + temperature_c))


def sadgrove_rate(temperature_c: Floats) -> Floats:
    """Return hours of equivalent age at 20 degC per hour: ((T + 16)/36)^2.

    Source: Sadgrove 1975, CIRIA report 136 (from memory). Valid: about 0 to 45 degC; nothing below -16 degC.
    """
    return np.square(np.maximum(0.0, temperature_c + 16.0) / 36.0)


def weighted_rate(temperature_c: Floats, c_value: float) -> Floats:
    """Return weighted maturity per hour: 10 (C^(0.1 T - 1.245) - C^-2.245) / ln C, never below 0. [degC h per h]

    Args:
        temperature_c: concrete temperature, shape (n,). [degC]
        c_value: of the cement, above 1: about 1.25 to 1.65. [-]

    Source: de Vree and Tegelaar 1998, NEN 5970 (from memory). Valid: -10 to 65 degC. Towards C = 1 it becomes T + 10.
    """
    above: Floats = np.power(c_value, 0.1 * temperature_c - 1.245) - c_value**-2.245
    return np.maximum(0.0, 10.0 * above / math.log(c_value))


def temperature_time_rate(temperature_c: Floats, datum_c: float = 0.0) -> Floats:
    """Return the temperature-time factor per hour: max(0, T - T0). [degC h per h]

    Source: Saul 1951; the Nurse-Saul function of ASTM C1074 (from memory). A datum of -10 degC overstates the strength
    of cold concrete.
    """
    return np.maximum(0.0, temperature_c - datum_c)


def default_rate(temperature_c: Floats, activation_energy_j_per_mol: float = DEFAULT_ACTIVATION_ENERGY) -> Floats:
    """Return the rate that releases where no energy of the mix was tested: hours at 20 degC per hour.

    The lower of `arrhenius_rate` and `two_branch_rate` at every temperature. Nothing at or below 0 degC; hotter than
    50 degC counts as 50 degC; a temperature that is not a number earns nothing.

    Args:
        temperature_c: concrete temperature, shape (n,). [degC]
        activation_energy_j_per_mol: the default, or that less or plus its spread. [J/mol]
    """
    credited_c = np.minimum(temperature_c, FASTEST_CREDITED_C)
    rate = np.minimum(arrhenius_rate(credited_c, activation_energy_j_per_mol), two_branch_rate(credited_c))
    return np.where(credited_c > NO_CREDIT_AT_OR_BELOW_C, rate, 0.0)


def own_rate(
    temperature_c: Floats, activation_energy_j_per_mol: float, tested_c: tuple[float, float], untested: Floats
) -> Floats:
    """Return the rate that releases with the mix's own tested energy: hours at 20 degC per hour.

    Arrhenius with that energy over the temperatures tested. Colder, the lower of it and the law of an untested mix;
    hotter, the same, but never less than at the hottest tested. Freezing, heat and what is no number as in
    `default_rate`.

    Args:
        temperature_c: concrete temperature, shape (n,). [degC]
        activation_energy_j_per_mol: of the mix. [J/mol]
        tested_c: coldest and hottest curing temperature of the test. [degC]
        untested: `default_rate` at these temperatures, shape (n,).
    """
    credited_c = np.minimum(temperature_c, FASTEST_CREDITED_C)
    own, (from_c, to_c) = arrhenius_rate(credited_c, activation_energy_j_per_mol), tested_c
    hottest = arrhenius_rate(np.array([min(to_c, FASTEST_CREDITED_C)]), activation_energy_j_per_mol)
    lower = np.minimum(own, untested)
    warm = np.where(credited_c <= to_c, own, np.maximum(hottest, lower))
    return np.where(credited_c > NO_CREDIT_AT_OR_BELOW_C, np.where(credited_c >= from_c, warm, lower), 0.0)


@dataclass(frozen=True, slots=True)
class Overstatement:
    """A law that credits cold concrete with more than plain cement earns there: the unsafe side."""

    at_c: float
    credited: float
    """Hours at 20 degC per hour, by the law."""
    earned: float
    """The same, by Arrhenius with the default activation energy."""

    @property
    def ratio(self) -> float:
        """By how much the law is above."""
        return self.credited / self.earned


def overstatement(rate: Rate, coldest_c: float) -> Overstatement | None:
    """Return by how much a law overstates concrete colder than 10 degC; None: by less than 5 %, or it is not so cold.

    A datum of -10 degC overstates by a quarter at 5 degC, EN 1992 by a fifth.

    Args:
        rate: a law of `LAWS`, its parameters bound; of any unit, as it counts relative to its own rate at 20 degC.
        coldest_c: the coldest concrete that the law is used for. [degC]

    Source: computed from the equations here; the limits of 10 degC and 5 % are our judgement.
    """
    if coldest_c >= WARNED_BELOW_C:
        return None
    at_c = np.array([coldest_c, REFERENCE_C])
    (credited, whole), (earned, _) = rate(at_c), arrhenius_rate(at_c)
    found = Overstatement(coldest_c, float(credited / whole), float(earned))
    return None if found.ratio <= WARNED_ABOVE_RATIO else found


LAWS: Final[dict[str, Callable[..., Floats]]] = {
    "default": default_rate,
    "arrhenius": arrhenius_rate,
    "two-branch": two_branch_rate,
    "en1992": en1992_rate,
    "sadgrove": sadgrove_rate,
    "weighted": weighted_rate,
    "temperature-time": temperature_time_rate,
}


def contract_rate(law: ContractLaw) -> Rate:
    """Return the rate of a law that a contract names, with its number bound."""
    match law:
        case TemperatureTimeLaw():
            return partial(temperature_time_rate, datum_c=law.datum_c)
        case EquivalentAgeLaw():
            return partial(arrhenius_rate, activation_energy_j_per_mol=1000.0 * law.activation_energy_kj_per_mol)
        case WeightedLaw():
            return partial(weighted_rate, c_value=law.c_value)
        case FixedLaw():
            return LAWS[law.kind]


def relative(rate: Rate) -> Rate:
    """Return a law as hours at 20 degC per hour, whatever its own unit is."""
    whole = float(rate(np.array([REFERENCE_C]))[0])
    return lambda temperature_c: rate(temperature_c) / whole


def maturity(elapsed_h: Floats, temperature_c: Floats, rate: Rate) -> Floats:
    """Return the maturity at each time, first element 0: the rate at each interval's mean, times its hours.

    Against the integral of `default_rate` over the straight line between readings 30 min and 3 degC apart at most: at
    most 0.07 % less from 20 to 50 degC, 0.12 % less from 14.6 to 20, 0.17 % less from 8 to 14.5 and 0.51 % less from 0
    to 8 (a second reading within the interval changes it by 0.06, 0.09, 0.13 and 0.38 %): the law bends upwards, and
    the interval mean credits less. Where the interval holds a bend downwards, at 14.6 and 20 degC, it credits at most
    0.36 % more than that integral, where it holds 0 degC at most 2.3 min more; never more than `arrhenius_rate` has
    over the same line. Shown in tests/cure/test_maturity_exact.py.

    Args:
        elapsed_h: strictly increasing, shape (n,). [h]
        temperature_c: at those times, shape (n,). [degC]
        rate: a law of `LAWS`, its parameters bound.

    Returns:
        Shape (n,). [h of equivalent age, or degC h]

    Raises:
        ValueError: the shapes differ, or time does not increase.
    """
    if elapsed_h.shape != temperature_c.shape or elapsed_h.ndim != 1:
        raise ValueError("times and temperatures must be two arrays of one length")
    hours = np.diff(elapsed_h)
    if not np.all(hours > 0.0):
        raise ValueError("time must increase")
    mean_c = 0.5 * (temperature_c[1:] + temperature_c[:-1])
    return np.concatenate(([0.0], np.cumsum(rate(mean_c) * hours)))
