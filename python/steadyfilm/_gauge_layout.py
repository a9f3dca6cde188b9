"""From a long table to the readings of a gauge study in order, and what to say when some are missing or too many."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._balanced import Labels, coded, label_columns, usual
from steadyfilm._format import plural
from steadyfilm._input import Column, readings
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError

__all__ = ["Layout", "study_layout", "study_readings"]

Codes = NDArray[np.int64]
_SHOWN = 12


@dataclass(frozen=True)
class Layout:
    """Readings in order with the codes of their labels.

    ``balanced``: every cell is there with the same number of readings, ``trial_count``; the order is then that of the core.
    ``lacks`` says in words what is missing otherwise.
    """

    values: NDArray[np.float64]
    part: Codes
    appraiser: Codes
    trial: Codes
    factor_codes: Codes
    parts: tuple[str, ...]
    appraisers: tuple[str, ...]
    trials: tuple[str, ...]
    factor_levels: tuple[tuple[str, ...], ...]
    trial_count: int
    balanced: bool
    lacks: tuple[str, ...]
    dropped: tuple[str, ...]


def study_readings(data: Any, column: str | None, missing: str) -> Column:
    """The readings; grades in words are pointed to what judges them."""
    try:
        return readings(data, column, missing=missing)
    except DataProblemsError as error:
        if not any(problem.reason == "is not a number" for problem in error.problems):
            raise
        raise DataProblemsError(
            error.problems,
            advice="A gauge study needs readings on a scale. Grades (pass or fail, good or bad) are compared as agreement "
            "between judges instead. " + error.advice,
        ) from None


def study_layout(
    data: Any,
    given: Column,
    *,
    part: Any,
    appraiser: Any,
    trial: Any,
    factors: Sequence[Any],
    nested: bool | str,
    unbalanced: str,
) -> tuple[Layout, dict[str, Any]]:
    """The readings of a study in order, and the names of its columns."""
    if not given.values.size:
        raise InvalidInputError("the study has no readings", argument="data")
    asked = [part, *([] if appraiser is None else [appraiser]), *([] if trial is None else [trial]), *factors]
    columns = label_columns(data, given, asked)
    names: dict[str, Any] = {"part": columns[0][0], "appraiser": None, "trial": None}
    part_words, rest = columns[0][1], columns[1:]
    appraiser_words = np.full(given.values.size, "", dtype=object)
    trial_words: Labels | None = None
    if appraiser is not None:
        (names["appraiser"], appraiser_words), rest = rest[0], rest[1:]
    if trial is not None:
        (names["trial"], trial_words), rest = rest[0], rest[1:]
    names["factors"] = tuple(name for name, _ in rest)
    factor_words = [words for _, words in rest]
    around = _words_around(nested, appraiser_words, appraiser, names["factors"], factor_words)
    part_words = part_words if around is None else _inside(part_words, around)
    if trial_words is not None:
        _refuse_repeats(given, names, part_words, appraiser_words, factor_words, trial_words)

    part_codes, part_keys = coded(part_words)
    appraiser_codes, appraiser_keys = coded(appraiser_words)
    factor_coded = [coded(words) for words in factor_words]
    cells = [appraiser_codes, *(codes for codes, _ in factor_coded)]
    levels = [len(appraiser_keys), *(len(keys) for _, keys in factor_coded)]
    fault, keep, lacks, trial_count = _faults(
        part_codes, [str(key[0]) for key in part_keys], cells, levels, names, appraiser_keys, factor_coded, nested
    )
    dropped: tuple[str, ...] = ()
    if lacks and unbalanced == "drop_parts":
        dropped = tuple(str(key[0]) for key, whole in zip(part_keys, keep, strict=True) if not whole)
        if not keep.any():
            raise InvalidInputError(f"no part is complete:\n{fault}", argument="unbalanced")
        chosen = keep[part_codes]
        part_codes = (np.cumsum(keep) - 1)[part_codes[chosen]].astype(np.int64)
        part_keys = [key for key, whole in zip(part_keys, keep, strict=True) if whole]
        cells = [codes[chosen] for codes in cells]
        rows = np.flatnonzero(chosen)
    else:
        rows = np.arange(given.values.size)
    balanced = not lacks or (bool(dropped) and _equal_groups(part_codes, cells, names, nested))
    trial_codes, trials = _trials(part_codes, cells, None if trial_words is None else trial_words[rows])
    keys = [trial_codes, *reversed(cells[1:]), cells[0], part_codes]
    if isinstance(nested, str):  # the factor around the parts leads
        at = 1 + names["factors"].index(nested)
        keys = [*keys, cells[at]]
    elif nested:
        keys = [*keys, cells[0]]
    order = np.lexsort(keys)
    layout = Layout(
        values=np.ascontiguousarray(given.values[rows][order]),
        part=part_codes[order],
        appraiser=cells[0][order],
        trial=trial_codes[order],
        factor_codes=np.array([codes[order] for codes in cells[1:]], dtype=np.int64).reshape(len(cells) - 1, order.size).T.copy(),
        parts=tuple(str(key[0]) for key in part_keys),
        appraisers=tuple(str(key[0]) for key in appraiser_keys),
        trials=trials,
        factor_levels=tuple(tuple(str(key[0]) for key in keys) for _, keys in factor_coded),
        trial_count=trial_count,
        balanced=balanced,
        lacks=lacks,
        dropped=dropped,
    )
    if lacks and unbalanced == "error":
        leave = f", unbalanced='drop_parts' to leave out {plural(int((~keep).sum()), 'part')} ({int(keep.sum())} remain)"
        raise InvalidInputError(
            f"{fault}\nEnter what is missing, or write unbalanced='reml' to compute it anyhow{leave if keep.any() else ''}.",
            argument="unbalanced",
        )
    return layout, names


def _equal_groups(part: Codes, cells: Sequence[Codes], names: dict[str, Any], nested: bool | str) -> bool:
    """Whether every group that parts are nested in has as many parts."""
    if not nested:
        return True
    around = cells[0 if nested is True else 1 + list(names["factors"]).index(nested)]
    pairs = np.unique(np.stack([around, part]), axis=1)
    return bool(len(set(np.bincount(pairs[0]).tolist())) == 1)


def _words_around(
    nested: bool | str, appraiser_words: Labels, appraiser: Any, names: Sequence[str], factor_words: Sequence[Labels]
) -> Labels | None:
    if nested is False:
        return None
    if nested is True:
        if appraiser is None:
            raise InvalidInputError("nested=True needs an appraiser: parts belong to one appraiser each", argument="nested")
        return appraiser_words
    if nested not in names:
        have = ", ".join(repr(name) for name in names) or "none"
        raise InvalidInputError(f"nested must be True, False or one of the factors ({have}), got {nested!r}", argument="nested")
    return factor_words[list(names).index(nested)]


def _inside(words: Labels, around: Labels) -> Labels:
    """Labels inside their group: part 1 of one is not part 1 of another. Labels that do not come back stay as they are."""
    groups: dict[Any, set[Any]] = {}
    for word, group in zip(words, around, strict=True):
        groups.setdefault(word, set()).add(group)
    if all(len(found) == 1 for found in groups.values()):
        return words
    return np.array([f"{word} of {group}" for word, group in zip(words, around, strict=True)], dtype=object)


def _refuse_repeats(
    given: Column, names: dict[str, Any], part: Labels, appraiser: Labels, factors: Sequence[Labels], trial: Labels
) -> None:
    """A part read twice in one trial by one appraiser is a row that was entered twice, or a wrong label."""
    first: dict[tuple[Any, ...], int] = {}
    problems = []
    for i, key in enumerate(zip(part, appraiser, *factors, trial, strict=True)):
        row = int(given.rows[i]) + 1
        if key in first:
            who = f" by '{appraiser[i]}'" if names["appraiser"] else ""
            what = f"part '{part[i]}'{who}, trial '{trial[i]}' stands in row {first[key]} already"
            problems.append(DataProblem(names["trial"], row, repr(float(given.values[i])), what))
        else:
            first[key] = row
    if problems:
        raise DataProblemsError(
            problems,
            advice="Take out rows that were entered twice, or correct their trial; without trial=... rows are counted in order.",
        )


def _trials(part: Codes, cells: Sequence[Codes], words: Labels | None) -> tuple[Codes, tuple[str, ...]]:
    """Trials by their label, or counted within their cell in row order."""
    if words is not None:
        codes, keys = coded(words)
        return codes, tuple(str(key[0]) for key in keys)
    seen: Counter[tuple[int, ...]] = Counter()
    out = np.zeros(part.size, dtype=np.int64)
    for i, key in enumerate(zip(part.tolist(), *(codes.tolist() for codes in cells), strict=True)):
        out[i] = seen[key]
        seen[key] += 1
    return out, tuple(str(k + 1) for k in range(int(out.max()) + 1))


def _faults(
    part: Codes,
    parts: Sequence[str],
    cells: Sequence[Codes],
    levels: Sequence[int],
    names: dict[str, Any],
    appraisers: Sequence[tuple[Any, ...]],
    factors: Sequence[tuple[Codes, list[tuple[Any, ...]]]],
    nested: bool | str,
) -> tuple[str, NDArray[np.bool_], tuple[str, ...], int]:
    """What keeps a study from being balanced, which parts are complete, and the usual number of readings a cell."""
    shape = (len(parts), *levels)
    counts = np.zeros(shape, dtype=np.int64)
    np.add.at(counts, (part, *cells), 1)
    wanted = np.ones(shape, dtype=bool)
    if nested:  # a part's own group is the only one it can stand in
        axis = 0 if nested is True else 1 + list(names["factors"]).index(nested)
        home = np.zeros(len(parts), dtype=np.int64)
        home[part] = cells[axis]
        wanted = np.arange(levels[axis])[None, :] == home[:, None]
        wanted = np.expand_dims(wanted, tuple(k + 1 for k in range(len(levels)) if k != axis)) & np.ones(shape, dtype=bool)
    trial_count = usual(counts[counts > 0])
    odd = wanted & (counts != trial_count)
    keep = ~odd.reshape(len(parts), -1).any(axis=1)
    lines = []
    labels = [[str(key[0]) for key in appraisers], *([str(key[0]) for key in keys] for _, keys in factors)]
    kinds = ["appraiser", *names["factors"]]
    for index in np.argwhere(odd):
        where = [f"part '{parts[index[0]]}'"]
        where += [
            f"{kind} '{labels[k][index[k + 1]]}'" for k, kind in enumerate(kinds) if k > 0 or names["appraiser"] is not None
        ]
        lines.append(f"{', '.join(where)}: {plural(int(counts[tuple(index)]), 'reading')}, most have {trial_count}")
    if not nested and names["appraiser"] is not None and levels[0] > 1:
        readers = (counts.sum(axis=tuple(range(2, len(shape)))) > 0).sum(axis=1)
        if (readers == 1).all():
            raise InvalidInputError(
                "every part was read by one appraiser only, so that parts and appraisers cannot be told apart as in a crossed "
                "study: let each appraiser read every part, or write nested=True (destructive tests, where parts within an "
                "appraiser stand for parts of one kind)",
                argument="nested",
            )
    if nested:
        inside = np.bincount(home, minlength=levels[axis])
        if len(set(inside.tolist())) > 1:
            kind = kinds[axis]
            lines += [
                f"{kind} '{labels[axis][k]}': {plural(int(count), 'part')}, most have {usual(inside)}"
                for k, count in enumerate(inside)
                if count != usual(inside)
            ]
    more = [f"  ... and {len(lines) - _SHOWN} more"] if len(lines) > _SHOWN else []
    fault = "\n".join(["the study lacks equal numbers of readings:", *(f"  {line}" for line in lines[:_SHOWN]), *more])
    return fault, keep, tuple(lines), trial_count
