"""Terms of a mixed model: from column names to codes and names of levels, and how a term is called."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._balanced import label_columns
from steadyfilm._input import Column, column_of, optional_numbers, table
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError

__all__ = ["Term", "covariate_columns", "read_terms"]

Codes = NDArray[np.int32]


@dataclass(frozen=True)
class Term:
    """One term: its columns, its name in tables, its place in words, a code a reading, and the label of each code."""

    columns: tuple[str, ...]
    name: str
    place: str
    codes: Codes
    labels: tuple[str, ...]

    def for_core(self) -> tuple[str, Codes, int]:
        return self.name, self.codes, len(self.labels)


def read_terms(data: Any, given: Column, random: Sequence[Any], fixed: Sequence[Any]) -> tuple[list[Term], list[Term]]:
    """Random and fixed terms; a tuple of column names is the combination of these columns."""
    for name, terms in (("random", random), ("fixed", fixed)):
        if isinstance(terms, str) or not isinstance(terms, Sequence):
            raise InvalidInputError(f"{name} must be a list of terms, got {terms!r}", argument=name)
    wanted = [*random, *fixed]
    pieces = [item if isinstance(item, tuple) else (item,) for item in wanted]
    names = [tuple(_name(piece, i) for piece in item) for i, item in enumerate(pieces, 1)]
    for own in names:
        if not own or len(set(own)) < len(own):
            raise InvalidInputError(f"a combination needs different columns, got {own}", argument="random")
    if len(set(map(frozenset, names))) < len(names):
        twice = next(own for own in names if sum(set(own) == set(other) for other in names) > 1)
        raise InvalidInputError(f"the term {' x '.join(twice)} stands there twice: leave one out", argument="random")
    single: dict[str, tuple[Codes, list[str]]] = {}
    for item, own in zip(pieces, names, strict=True):
        for piece, name in zip(item, own, strict=True):
            if name not in single:
                single[name] = _codes(data, given, piece, name)
    alone = {own[0] for own in names if len(own) == 1}
    found = [_term(own, single, alone) for own in names]
    return found[: len(random)], found[len(random) :]


def covariate_columns(data: Any, given: Column, names: Sequence[str]) -> list[tuple[str, NDArray[np.float64]]]:
    """Numbers beside the readings; a missing one is an error."""
    if isinstance(names, str):
        raise InvalidInputError(f"covariates must be a list of column names, got {names!r}", argument="covariates")
    out = []
    problems: list[DataProblem] = []
    for name in names:
        column_of(data, name)  # says so when the readings came without a table
        numbers = optional_numbers(data, name)[given.rows]
        absent = np.flatnonzero(np.isnan(numbers))
        problems += [DataProblem(name, int(given.rows[i]) + 1, "", "number is missing") for i in absent]
        out.append((name, np.ascontiguousarray(numbers)))
    if problems:
        raise DataProblemsError(problems, advice="Leave those rows out, or leave the covariate out.")
    return out


def _name(piece: Any, i: int) -> str:
    return piece if isinstance(piece, str) else f"labels {i}"


def _codes(data: Any, given: Column, piece: Any, name: str) -> tuple[Codes, list[str]]:
    """Codes in the order of first appearance; whole numbers take a way without a Python object a reading."""
    source = table(data).column(piece) if isinstance(piece, str) else piece
    array = source.to_numpy() if hasattr(source, "to_numpy") else source
    plain = isinstance(array, np.ndarray) and not isinstance(array, np.ma.MaskedArray) and array.dtype.kind in "iu"
    if plain and array.shape == (given.values.size + len(given.missing_rows),):
        kinds, first, inverse = np.unique(array[given.rows], return_index=True, return_inverse=True)
        order = np.argsort(first, kind="stable")
        place = np.empty(order.size, dtype=np.int32)
        place[order] = np.arange(order.size, dtype=np.int32)
        return place[inverse], [str(int(kinds[i])) for i in order]
    words = label_columns(data, given, [piece])[0][1]
    seen: dict[str, int] = {}
    codes = np.array([seen.setdefault(word, len(seen)) for word in words], dtype=np.int32)
    return codes, list(seen)


def _term(own: tuple[str, ...], single: dict[str, tuple[Codes, list[str]]], alone: set[str]) -> Term:
    codes, labels = single[own[0]]
    if len(own) == 1:
        return Term(own, own[0], f"from {own[0]} to {own[0]}", codes, tuple(labels))
    for name in own[1:]:
        more, words = single[name]
        combined, levels = _core.combine_levels(codes, more)
        first = np.full(levels, combined.size, dtype=np.int64)
        np.minimum.at(first, combined, np.arange(combined.size))
        labels = [f"{labels[codes[i]]}, {words[more[i]]}" for i in first]
        codes = combined
    # A column that is a term by itself crosses the others; else it is counted inside them.
    if own[-1] in alone:
        others = " and ".join(own[1:])
        return Term(own, " x ".join(own), f"from {own[0]} to {own[0]}, differently for each {others}", codes, tuple(labels))
    outer = " of a ".join(reversed(own[:-1]))
    name = " in ".join(reversed(own))
    return Term(own, name, f"from {own[-1]} to {own[-1]} within a {outer}", codes, tuple(labels))
