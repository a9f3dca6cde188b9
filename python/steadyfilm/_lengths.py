"""Arguments that name their unit: one length as ``..._um`` or ``..._mil``, all of a call in the same."""

from __future__ import annotations

from typing import Any

from steadyfilm.errors import InvalidInputError

__all__ = ["in_one_unit"]


def in_one_unit(required: tuple[str, ...], **given: tuple[Any, Any]) -> tuple[str, dict[str, Any]]:
    """The unit that a call's lengths are in, and each length without it.

    Parameters
    ----------
    required : tuple of str
        Lengths that must be there.
    given : pairs
        Each length in micrometers and in mils; absent ones are None.

    Raises
    ------
    InvalidInputError
        A length in both units, lengths in different ones, or a required one that is absent.

    Examples
    --------
    >>> in_one_unit(("layer",), layer=(None, 2.1), offset=(None, None))
    ('mil', {'layer': 2.1, 'offset': None})
    """
    units = {}
    for name, (um, mil) in given.items():
        if um is not None and mil is not None:
            raise InvalidInputError(f"give {name}_um or {name}_mil, not both", argument=f"{name}_mil")
        if um is not None or mil is not None:
            units[name] = "um" if um is not None else "mil"
    for name in required:
        if name not in units:
            raise InvalidInputError(f"{name}_um or {name}_mil is needed", argument=f"{name}_um")
    if len(set(units.values())) > 1:
        names = ", ".join(f"{name}_{unit}" for name, unit in units.items())
        raise InvalidInputError(f"lengths of one call must be in one unit, got {names}", argument=next(iter(units)))
    return next(iter(units.values()), ""), {name: um if um is not None else mil for name, (um, mil) in given.items()}
