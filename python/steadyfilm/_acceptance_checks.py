"""Readings that cannot be relied on: those of a gauge between its last passed and its next passed check around a failed one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import number, plural
from steadyfilm._input import labels, optional_numbers, table, times
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError
from steadyfilm.units import LENGTH_UNITS, convert_length, unit_symbol

__all__ = ["AccuracyCheck", "accuracy_checks", "suspect_readings", "unchecked_notes"]

Texts = NDArray[np.object_]
ADVICE = "A check says when, by which gauge, what it showed and what the standard states; leave other rows out of the log."


@dataclass(frozen=True)
class AccuracyCheck:
    """One check of a gauge on standards; lengths in the unit of the readings that it vouches for."""

    gauge: str
    time: str
    """Local time as ISO 8601, of its last reading."""
    passed: bool
    deviation: float
    """On the standard where it came nearest to the limit, or went beyond it most: mean shown less stated."""
    stated: float
    limit: float
    """What gauge and standard are allowed there, combined."""


def accuracy_checks(
    data: Any,
    *,
    unit: str,
    time: str = "time",
    gauge: str = "gauge",
    value: str = "value",
    stated: str = "stated",
    standard: Sequence[str] | str = (),
    check: str | None = None,
    unit_of_measure: str | None = None,
    gauge_percent: float = 0.0,
    gauge_absolute: float = 0.0,
    standard_percent: float = 0.0,
    standard_absolute: float = 0.0,
) -> tuple[AccuracyCheck, ...]:
    """Which checks of a gauge verification log passed; one check is all rows of one gauge at one time, on any standards.

    A check passes if on each standard the mean of its readings lies within the combined limit of gauge and standard, as in
    `verify_gauge`.

    Parameters
    ----------
    data : table
        One row a reading on a standard.
    unit : {"mil", "um"}
        Unit of the result and of the absolute tolerances, and of the rows unless ``unit_of_measure`` names a column.
    time, gauge, value, stated : str
        Columns of the local time, the gauge, the reading, and what the standard's certificate states.
    standard : column name or names
        Columns that tell standards, and metals below them, apart; the stated value does if left out.
    check : str, optional
        Column that tells the checks of a gauge apart, where the readings of one check have times of their own.
    unit_of_measure : str, optional
        Column of each row's unit.
    gauge_percent, gauge_absolute, standard_percent, standard_absolute : float
        What the maker allows the gauge and the certificate the standard: percent of the stated value plus a length.

    Returns
    -------
    tuple of AccuracyCheck
        In the order of time.

    Raises
    ------
    DataProblemsError
        Rows without a time, gauge, reading or stated value, and units that are no lengths; all at once.
    InvalidInputError
        No tolerance, or a negative one.

    Examples
    --------
    >>> log = {"time": ["2026-03-02 06:05"] * 2, "gauge": ["Q", "Q"], "value": [1.08, 1.06], "stated": [1.05, 1.05]}
    >>> [(x.gauge, x.passed, round(x.deviation, 3)) for x in accuracy_checks(log, unit="mil", gauge_percent=3)]
    [('Q', True, 0.02)]
    """
    unit = unit_symbol(unit, among=LENGTH_UNITS)
    allowed = {
        "gauge_percent": gauge_percent,
        "gauge_absolute": gauge_absolute,
        "standard_percent": standard_percent,
        "standard_absolute": standard_absolute,
    }
    for name, amount in allowed.items():
        if not 0.0 <= amount < float("inf"):
            raise InvalidInputError(f"{name} must be 0 or more, got {amount}", argument=name)
    if not any(allowed.values()):
        raise InvalidInputError(
            "a tolerance is needed: what the maker allows the gauge, and the certificate the standard", argument="gauge_percent"
        )
    whole = table(data)
    moments, names = times(whole, time), _words(whole, gauge)
    shown, certified = optional_numbers(whole, value), optional_numbers(whole, stated)
    measure = np.full(len(names), unit, dtype=object) if unit_of_measure is None else _words(whole, unit_of_measure)
    columns = [standard] if isinstance(standard, str) else list(standard)
    which = list(zip(*(_words(whole, column) for column in columns), strict=True)) if columns else [()] * len(names)
    problems = []
    for column, absent in (
        (time, np.isnat(moments)),
        (gauge, names == ""),
        (value, ~np.isfinite(shown)),
        (stated, ~np.isfinite(certified)),
    ):
        problems += [DataProblem(column, int(i) + 1, "", "is missing") for i in np.flatnonzero(absent)]
    factor: dict[str, float] = {}
    for text in dict.fromkeys(measure.tolist()):
        try:
            factor[text] = convert_length(1.0, given=unit_symbol(text, among=LENGTH_UNITS), wanted=unit)
        except InvalidInputError as error:
            row = int(np.flatnonzero(measure == text)[0]) + 1
            problems.append(DataProblem(unit_of_measure or "unit", row, repr(text), str(error)))
    if problems:
        raise DataProblemsError(sorted(problems, key=lambda item: item.row), advice=ADVICE)
    session = [str(x) for x in (moments if check is None else _words(whole, check))]
    rows: dict[tuple[str, str], dict[Any, list[int]]] = {}
    for i in np.argsort(moments, kind="stable"):
        one = rows.setdefault((session[i], names[i]), {})
        one.setdefault((which[i], measure[i], float(certified[i])), []).append(int(i))
    found = []
    for (_, name), standards in rows.items():
        parts = []
        last = max(moments[i] for at in standards.values() for i in at)
        for (_, text, value_stated), at in standards.items():
            nominal = value_stated * factor[text]
            own = gauge_percent / 100.0 * abs(nominal) + gauge_absolute
            limit = _core.verification_limit(own, standard_percent / 100.0 * abs(nominal) + standard_absolute)
            checked = _core.check_standard(np.ascontiguousarray(shown[at] * factor[text]), nominal, limit, False)
            parts.append((bool(checked["passes"]), float(shown[at].mean() * factor[text] - nominal), nominal, limit))
        # A standard of 0 (bare metal) may be allowed nothing by percents: beyond it is beyond all.
        worst = max(parts, key=lambda x: (not x[0], abs(x[1]) / x[3] if x[3] > 0.0 else abs(x[1])))
        found.append(AccuracyCheck(name, _moment(last), all(x[0] for x in parts), worst[1], worst[2], worst[3]))
    return tuple(sorted(found, key=lambda x: x.time))


def _moment(time: np.datetime64) -> str:
    """To the minute, to the second where there are seconds.

    >>> _moment(np.datetime64("2026-03-02T06:05:00.000000")), _moment(np.datetime64("2026-03-02T06:05:09.000000"))
    ('2026-03-02T06:05', '2026-03-02T06:05:09')
    """
    whole = time.astype("datetime64[m]")
    return str(whole if whole == time else time.astype("datetime64[s]") if time.astype("datetime64[s]") == time else time)


def suspect_readings(
    data: Any, checks: Sequence[AccuracyCheck], *, unit: str, time: str = "time", gauge: str = "gauge"
) -> NDArray[np.object_]:
    """Why readings cannot be relied on, for the ``suspect`` column of `accept_film`; "" where nothing speaks against one.

    A reading is suspect if the next check of its gauge failed (between the last passed check and the failed one), or the last
    check before it did (until the next passed one). A gauge without checks, or readings after its last check, are not made
    suspect by that: nothing failed.

    Parameters
    ----------
    data : table
        One row a reading, in any order.
    checks : sequence of AccuracyCheck
        See `accuracy_checks`.
    unit : str
        Unit of the checks, for the texts.
    time, gauge : str
        Columns of the readings' local times and gauges; needed in each row.

    Examples
    --------
    >>> log = {"time": ["2026-03-02 06:00", "2026-03-02 14:00"], "gauge": ["Q", "Q"], "value": [2.0, 2.2], "stated": [2.0, 2.0]}
    >>> checks = accuracy_checks(log, unit="mil", gauge_percent=5)
    >>> film = {"time": ["2026-03-02 05:00", "2026-03-02 09:00"], "gauge": ["Q", "Q"]}
    >>> [print(x or "-") for x in suspect_readings(film, checks, unit="mil")] and None
    -
    gauge Q failed its check of 2026-03-02 14:00 (+0.2 mil on 2 mil, 0.1 mil allowed), last passed 2026-03-02 06:00
    """
    whole = table(data)
    moments, names = times(whole, time), _words(whole, gauge)
    problems = [
        DataProblem(column, int(i) + 1, "", "is missing: without it no check of a gauge vouches for the reading")
        for column, absent in ((time, np.isnat(moments)), (gauge, names == ""))
        for i in np.flatnonzero(absent)
    ]
    if problems:
        raise DataProblemsError(sorted(problems, key=lambda item: item.row), advice="Fill it in, or judge without the log.")
    out = np.full(len(names), "", dtype=object)
    for name in dict.fromkeys(names.tolist()):
        own = sorted((x for x in checks if x.gauge == name), key=lambda x: np.datetime64(x.time))
        at = np.array([x.time for x in own], dtype="datetime64[us]")
        for i in np.flatnonzero(names == name) if own else ():
            # At the very moment of a check that check alone speaks.
            before = int(np.searchsorted(at, moments[i], side="right")) - 1
            after = int(np.searchsorted(at, moments[i], side="left"))
            failed = [k for k in (after, before) if 0 <= k < len(own) and not own[k].passed]
            if failed:
                out[i] = _why(own, failed[-1], unit)
    out.flags.writeable = False
    return out


def _why(own: Sequence[AccuracyCheck], k: int, unit: str) -> str:
    """The first failed check of the run that reaches to ``k``, and the passed one before it."""
    while k and not own[k - 1].passed:
        k -= 1
    check = own[k]
    off = f"{number(check.deviation, 3) if check.deviation < 0 else f'+{number(check.deviation, 3)}'} {unit}"
    text = f"{off} on {number(check.stated, 4)} {unit}, {number(check.limit, 3)} {unit} allowed"
    since = f"last passed {own[k - 1].time.replace('T', ' ')}" if k else "none passed before"
    return f"gauge {check.gauge} failed its check of {check.time.replace('T', ' ')} ({text}), {since}"


def unchecked_notes(gauge: Sequence[str], time: NDArray[np.datetime64], checks: Sequence[AccuracyCheck]) -> tuple[str, ...]:
    """Readings that no check vouches for: of gauges that are not in the log, and after a gauge's last check."""
    names = np.asarray(gauge, dtype=object)
    notes = []
    for name in dict.fromkeys(names.tolist()):
        own = sorted(x.time for x in checks if x.gauge == name)
        mine = names == name
        if not own:
            notes.append(f"Gauge {name} is not in the log of checks: {plural(int(mine.sum()), 'reading')} unchecked.")
        elif late := int((mine & (time > np.datetime64(own[-1]))).sum()):
            notes.append(f"Gauge {name}: {plural(late, 'reading')} after its last check ({own[-1].replace('T', ' ')}).")
    return tuple(notes)


def _words(whole: Any, column: str) -> Texts:
    return np.array(["" if x is None else str(x).strip() for x in labels(whole.column(column), name=column)], dtype=object)
