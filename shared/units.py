"""Units: stored SI, both systems shown. The only place that converts.

A limit is rounded to the harder side and a found value to the weaker one, so that no rounding ever shows "met" where
the numbers are not.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

System: TypeAlias = Literal["SI", "US"]
Unit: TypeAlias = Literal["h", "degC", "degC apart", "MPa", "kPa", "kg/m2 h", "mm", "m2", "l", "min", "%", ""]

PSI_PER_MPA: Final = 145.03773773020923
"""1 psi = 6894.757293168 Pa (NIST SP 811, Appendix B.8: 6.894757 E+03)."""
PSF_PER_KPA: Final = 20.885434233120003
"""1 lbf/ft2 = 47.88026 Pa (NIST SP 811, Appendix B.8)."""
MM_PER_IN: Final = 25.4
"""Exact (NIST SP 811, Appendix B.8)."""
KG_M2_PER_LB_FT2: Final = 4.882428
"""1 lb/ft2 (NIST SP 811, Appendix B.8)."""
L_PER_GAL: Final = 3.785411784
"""US gallon (NIST SP 811, Appendix B.8: 3.785412 E-03 m3); 231 cubic inches exactly."""
FT2_PER_M2: Final = (1000.0 / (12.0 * MM_PER_IN)) ** 2
"""1 ft = 12 in."""


def c_to_f(c: float) -> float:
    """Return degrees Fahrenheit for degrees Celsius."""
    return c * 9.0 / 5.0 + 32.0


def f_to_c(f: float) -> float:
    """Return degrees Celsius for degrees Fahrenheit."""
    return (f - 32.0) * 5.0 / 9.0


def k_to_c(k: float) -> float:
    """Kelvin to degrees Celsius."""
    return k - 273.15


def km_h_to_m_s(km_h: float) -> float:
    """Kilometres an hour to metres a second."""
    return km_h / 3.6


def mph_to_m_s(mph: float) -> float:
    """Miles (1609.344 m) an hour to metres a second."""
    return mph * 0.44704


def kn_to_m_s(kn: float) -> float:
    """Knots (1852 m an hour) to metres a second."""
    return kn * 1852.0 / 3600.0


def mpa_to_psi(mpa: float) -> float:
    """Return psi for MPa."""
    return mpa * PSI_PER_MPA


def psi_to_mpa(psi: float) -> float:
    """Return MPa for psi."""
    return psi / PSI_PER_MPA


def kpa_to_psf(kpa: float) -> float:
    """Return lbf/ft2 for kPa."""
    return kpa * PSF_PER_KPA


def mm_to_in(mm: float) -> float:
    """Return inches for millimetres."""
    return mm / MM_PER_IN


def m2_to_ft2(m2: float) -> float:
    """Return square feet for square metres."""
    return m2 * FT2_PER_M2


def l_to_gal(litres: float) -> float:
    """Return US gallons for litres."""
    return litres / L_PER_GAL


def gal_to_l(gal: float) -> float:
    """Return litres for US gallons."""
    return gal * L_PER_GAL


def kg_m2_to_lb_ft2(kg_m2: float) -> float:
    """Return lb/ft2 for kg/m2."""
    return kg_m2 / KG_M2_PER_LB_FT2


def m_s_to_km_h(m_s: float) -> float:
    """Return km/h for m/s."""
    return m_s * 3.6


def c_apart_to_f(c: float) -> float:
    """Return a temperature difference in degrees Fahrenheit for one in degrees Celsius."""
    return c * 9.0 / 5.0


def milli_c(c: float) -> int:
    """Return whole thousandths of a degree, to the nearest."""
    return round(c * 1000.0)


KG_M3_PER_LB_YD3: Final = 0.45359237 / 0.9144**3
"""Exact: 1 lb by the cube of 1 yd."""
M_S_PER_MPH: Final = 0.44704
"""Exact: 1609.344 m in 3600 s."""
M2_K_W_PER_US_R: Final = 0.1761102
"""1 h ft2 degF/Btu (NIST SP 811, Appendix B.8, from memory)."""


@dataclass(frozen=True, slots=True)
class Entered:
    """How a quantity is entered in US customary units: `value * by + plus` is the stored one."""

    name: str
    by: float
    plus: float = 0.0

    def to_si(self, value: float) -> float:
        """Return the stored value of what was entered."""
        return value * self.by + self.plus

    def from_si(self, value: float) -> float:
        """Return what would be entered for a stored value."""
        return (value - self.plus) / self.by


US_ENTERED: Final[Mapping[str, Entered]] = {
    "°C": Entered("°F", 5.0 / 9.0, -160.0 / 9.0),
    "mm": Entered("in", MM_PER_IN),
    "kg/m³": Entered("lb/yd³", KG_M3_PER_LB_YD3),
    "m/s": Entered("mph", M_S_PER_MPH),
    "m²K/W": Entered("h·ft²·°F/BTU", M2_K_W_PER_US_R),
}
"""By the stored unit, as forms name it."""

_US: Final = {
    "degC": (c_to_f, "°F", 1),
    "degC apart": (c_apart_to_f, "°F", 1),
    "MPa": (mpa_to_psi, "psi", 0),
    "kPa": (kpa_to_psf, "psf", 0),
    "kg/m2 h": (kg_m2_to_lb_ft2, "lb/ft2 h", 2),
    "mm": (mm_to_in, "in", 1),
    "m2": (m2_to_ft2, "ft2", 0),
    "l": (l_to_gal, "gal", 1),
}
_SI: Final = {
    "degC": ("°C", 1),
    "degC apart": ("°C", 1),
    "MPa": ("MPa", 1),
    "kPa": ("kPa", 1),
    "kg/m2 h": ("kg/m2 h", 2),
    "mm": ("mm", 0),
    "m2": ("m2", 0),
    "l": ("l", 1),
    "h": ("h", 1),
    "min": ("min", 0),
    "%": ("%", 1),
}


LARGEST_SHOWN: Final = 1e12
"""Beyond any quantity of a site; more would overflow when it is converted and scaled."""


MEASURES: Final = frozenset({"mm"})
"""Sizes, against which nothing is held: to the nearest, so that 50 mm is 2.0 in."""


def _rounded(value: float, digits: int, *, up: bool | None) -> str:
    scale = 10.0**digits
    if up is None:
        return f"{value:.{digits}f}"
    # Ten decimals first: 3.5 MPa must not become 3.6 because of the last bit of a product.
    nearest = round(value * scale, 6)
    return f"{(math.ceil(nearest) if up else math.floor(nearest)) / scale:.{digits}f}"


def shown(value: float | str | None, unit: Unit, *, first: System = "SI", limit: bool) -> str:
    """Return a value with its unit, the other system beside it in brackets.

    Args:
        value: number in the stored unit, or words, or None ("not known").
        unit: the stored unit.
        first: which system stands first.
        limit: a limit is rounded up; a found value is rounded down; a size to the nearest.
    """
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return "not known"
    if isinstance(value, str) or unit == "":
        return str(value)
    name, digits = _SI[unit]
    if abs(value) > LARGEST_SHOWN:
        return f"{value:g} {name}"
    up = None if unit in MEASURES else limit
    si = f"{_rounded(value, digits, up=up)} {name}"
    if unit not in _US:
        return si
    convert, us_name, us_digits = _US[unit]
    us = f"{_rounded(convert(value), us_digits, up=up)} {us_name}"
    return f"{us} ({si})" if first == "US" else f"{si} ({us})"
