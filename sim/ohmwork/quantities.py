"""Text with a unit, such as ``7.7 mΩ``, to a plain number in SI units and back.

Area alone keeps the trade's unit, square millimetres, as wire sizes are named by it.
"""

from __future__ import annotations

import math
import re

from ohmwork.errors import QuantityError

SMALLEST, LARGEST = 1e-9, 1e9
"""Range of a value, in any unit: beyond it no sum of currents keeps its digits."""

_PREFIXES = {"": 1.0, "m": 1e-3, "µ": 1e-6, "u": 1e-6, "k": 1e3, "M": 1e6}
_SPELLINGS = {"ohm": "Ω", "ohms": "Ω", "mm²": "mm2", "degC": "°C"}
_WITHOUT_PREFIX = {"mm2", "°C"}
_PATTERN = re.compile(r"\s*([-+]?[0-9.]+(?:[eE][-+]?[0-9]+)?)\s*(\S*)\s*")


def parse_quantity(text: object, unit: str, *, typed: str | None = None) -> float:
    """Return the number that a text such as ``7.7 mΩ`` stands for.

    Parameters
    ----------
    text : number and unit, with or without a space between them.
    unit : unit asked for: V, A, Ω, W, s, m, mm2 or °C.
    typed : what an error quotes, if `text` is made of it.

    Returns
    -------
    The value in `unit`. [unit]

    Raises
    ------
    QuantityError
        If the text is no number with this unit.
    """
    quoted = str(text) if typed is None else typed
    match = _PATTERN.fullmatch(str(text).replace("Ω", "Ω"))
    if match is None:
        raise QuantityError(f"'{quoted}' is no value. Write a number and {unit}.")
    number, given = match.groups()
    for spelling, standard in _SPELLINGS.items():
        if given.endswith(spelling):
            given = given.removesuffix(spelling) + standard
    prefix = given.removesuffix(unit)
    if not given.endswith(unit) or (prefix and unit in _WITHOUT_PREFIX):
        raise QuantityError(f"'{quoted}' is not in {unit}. Write a number and {unit}.")
    if prefix not in _PREFIXES:
        allowed = ", ".join(p + unit for p in _PREFIXES)
        raise QuantityError(f"'{quoted}' has an unknown unit. Allowed are {allowed}.")
    try:
        value = float(number) * _PREFIXES[prefix]
    except ValueError:
        what = f"'{number}' in '{quoted}'" if typed is None else f"'{quoted}'"
        raise QuantityError(f"{what} is no number.") from None
    if value != 0.0 and not SMALLEST <= abs(value) <= LARGEST:
        raise QuantityError(
            f"'{quoted}' is out of range. "
            f"Allowed sizes are {SMALLEST:g} to {LARGEST:g} {unit}."
        )
    return value


def format_quantity(value: float, unit: str, *, digits: int = 3) -> str:
    """Return a value with some significant digits and an engineering prefix."""
    if value == 0.0 or unit in _WITHOUT_PREFIX:
        return f"{value:g} {unit}"
    rounded = float(f"{value:.{digits}g}")
    exponent = math.floor(math.log10(abs(rounded)) + 1e-9)
    power, prefix = next(
        ((p, s) for p, s in ((6, "M"), (3, "k"), (0, ""), (-3, "m")) if exponent >= p),
        (-6, "µ"),
    )
    return f"{rounded / 10.0**power:g} {prefix}{unit}"
