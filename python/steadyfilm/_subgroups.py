"""Rows that belong together: where subgroups start, which of them take no part, and what lies between them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._chart import Points, flags
from steadyfilm._input import column_of, labels
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError

__all__ = ["breaks_between", "excluded_subgroups", "subgroup_starts"]


def subgroup_starts(
    data: Any, subgroup_size: int | None, subgroup: Any, height: int
) -> tuple[NDArray[np.intp], NDArray[np.object_] | None]:
    """First row of each subgroup, and the labels when there are some."""
    if (subgroup_size is None) == (subgroup is None):
        raise InvalidInputError("give either subgroup_size or subgroup", argument="subgroup_size")
    if height == 0:
        raise InvalidInputError("there are no readings", argument="data")
    if subgroup_size is not None:
        if subgroup_size < 2:
            raise InvalidInputError(f"subgroup_size must be 2 or more, got {subgroup_size}", argument="subgroup_size")
        if height % subgroup_size:
            raise InvalidInputError(
                f"{height} rows do not fill subgroups of {subgroup_size}: the last has {height % subgroup_size}; "
                "name the subgroups with subgroup=... if their sizes differ",
                argument="subgroup_size",
            )
        return np.arange(0, height, subgroup_size), None
    name = subgroup if isinstance(subgroup, str) else "subgroup"
    words = labels(column_of(data, subgroup) if isinstance(subgroup, str) else subgroup, name=name)
    if words.size != height:
        raise InvalidInputError(f"{name} has {words.size} rows, the readings have {height}", argument=name)
    problems = [DataProblem(name, i + 1, "", "label is missing") for i, word in enumerate(words) if word is None]
    starts = np.flatnonzero(np.concatenate([[True], words[1:] != words[:-1]]))
    seen: set[str] = set()
    for start in starts:
        if words[start] in seen:
            problems.append(DataProblem(name, int(start) + 1, str(words[start]), "comes back after other subgroups"))
        seen.add(words[start])
    if problems:
        raise DataProblemsError(
            problems, advice="Rows of one subgroup must follow one another: sort the table, or make labels unique."
        )
    return starts, words[starts]


def excluded_subgroups(data: Any, excluded: Any, starts: NDArray[np.intp], height: int) -> NDArray[np.bool_]:
    """Subgroups that the caller leaves out, from flags a subgroup or a row."""
    if excluded is None:
        return np.zeros(starts.size, dtype=bool)
    if not isinstance(excluded, str) and len(excluded) == starts.size:
        return flags(data, excluded, starts.size, "excluded")
    rows = flags(data, excluded, height, "excluded")
    first = rows[starts]
    mixed = np.flatnonzero(np.logical_or.reduceat(rows != np.repeat(first, np.diff([*starts, height])), starts))
    if mixed.size:
        raise InvalidInputError(
            f"subgroup {mixed[0] + 1} is excluded in some of its rows only; exclude whole subgroups, or leave single readings "
            "empty and write missing='drop'",
            argument="excluded",
        )
    return first


def breaks_between(points: Points, starts: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Whether a gap or boundary lies between the first row of a subgroup and that of the one before."""
    passed = np.cumsum(points.break_before)[starts]
    return np.concatenate([[False], np.diff(passed) > 0])
