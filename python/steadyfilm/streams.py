"""Many streams in one call: a change common to all and a change of one stream, told apart."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._callable import make_callable
from steadyfilm._format import number, plural, with_unit
from steadyfilm._input import check_options, readings, table, times
from steadyfilm._points import stream_labels
from steadyfilm._result import Explanation, Made, Result, Step, build, frozen
from steadyfilm._streams_search import Compared, Gathered, best_step, compare
from steadyfilm.errors import ConstantDataWarning, DataProblem, DataProblemsError, InvalidInputError
from steadyfilm.limits import ControlLimits

__all__ = ["StreamsChart", "streams"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

TOLD = 5
"""So many streams are named in a sentence."""

LONGEST_NAME = 40

MOVED, POINT, QUIET, FEW = "moved", "single point", "quiet", "too few points"


@dataclass(frozen=True, eq=False, repr=False)
class StreamsChart(Result):
    """Streams against one another, in the unit of the data unless said.

    Arrays without another word have one element a stream, in the order of names. A point's ``difference`` is its distance from
    the center of its stream, less the mean of the same over the other streams at that moment; limits belong to differences.

    Attributes
    ----------
    stream : array
        Names; levels of several columns are joined by " / ".
    count, center : array
        Points of the stream, and their mean.
    sigma_difference, lower, upper, multiple : array
        Spread of the differences from their moving ranges, their limits, and how many sigma these lie away; NaN without limits.
    state : array
        "moved", "single point", "quiet", or "too few points": the stream has no limits of its own.
    change, change_moment : array
        Size of the step that fits a moved stream best, and the moment at which it starts, from 0; NaN and -1 for others.
    reference : array
        Whether the stream counts among the others: not with too few points, nor once it is known to have moved.
    offsets, moment, difference, ewma : array
        Points, stream after stream: where each stream begins, each point's moment, difference and its EWMA.
    level, level_ewma : array
        One element a moment: mean distance of the reference streams from their centers.
    time : array or None
        Of each moment.
    comparison : str
        "others", or "center": too few streams are measured at the same moments, so each is compared with its own center alone.
    charted_tests, point_chance, expected_false : int, float, float
        Points times tests; the chance of a signal of each, and how many a steady set of streams shows on average.
    """

    _plot: ClassVar[str] = "streams:plot_streams"

    stream: NDArray[np.object_]
    count: Ints
    center: Floats
    sigma_difference: Floats
    lower: Floats
    upper: Floats
    multiple: Floats
    state: NDArray[np.object_]
    beyond_count: Ints
    ewma_count: Ints
    change: Floats
    change_moment: Ints
    reference: Bools
    offsets: Ints
    moment: Ints
    difference: Floats
    ewma: Floats
    signal_point: Ints
    signal_side: Ints
    signal_test: NDArray[np.object_]
    level: Floats
    level_ewma: Floats
    time: NDArray[np.datetime64] | None
    common_limits: ControlLimits
    common_sigma: float
    common_multiple: float
    common_state: str
    common_change: float
    common_change_moment: int
    comparison: str
    together_share: float
    stream_count: int
    moved_count: int
    charted_tests: int
    point_chance: float
    expected_false: float
    fewest_points: int

    def sentence(self) -> str:
        own = "its own center" if self.stream_count == 1 else "their own centers"
        against = "the others" if self.comparison == "others" else own
        moved = np.flatnonzero(self.state == MOVED)
        single = np.flatnonzero(self.state == POINT)
        few = np.flatnonzero(self.state == FEW)
        if len(few) == self.stream_count:
            return f"{_streams(self.stream_count)}, none with the {self.fewest_points} points that limits of its own need."
        if moved.size:
            told = ", ".join(
                f"{self.name(i)} {self._step(self.change[i], int(self.change_moment[i]))}" for i in self.strongest()[:TOLD]
            )
            text = f"{moved.size} of {_streams(self.stream_count)} moved against {against}: {told}{_more(moved.size)}"
        else:
            text = f"None of {_streams(self.stream_count)} moved against {against}"
        if moved.size and self.comparison == "others" and int((self.state != FEW).sum()) == 2:
            text += "; with two streams the difference does not tell which of them moved"
        if self.stream_count == 1:
            pass  # one stream is the level common to all
        elif self.common_state == MOVED:
            text += f"; the level common to all moved {self._step(self.common_change, self.common_change_moment)}"
        elif self.common_state == FEW:
            text += "; too few moments to judge the level common to all"
        else:
            text += f"; the level common to all {'has a single point off' if self.common_state == POINT else 'is steady'}"
        if single.size:
            text += f"; a single point is off in {', '.join(self.name(i) for i in single[:TOLD])}{_more(single.size)}"
        if few.size:
            names = ", ".join(f"{self.name(i)} ({self.count[i]})" for i in few[:TOLD])
            text += f"; no limits of its own, fewer than {self.fewest_points} points compared: {names}{_more(few.size)}"
        if self.expected_false >= 0.5:
            text += f"; a steady set of streams would show about {number(self.expected_false, 2)} signals"
        if self.comparison == "center" and self.stream_count > 1:
            text += "; measured at different moments, so that a change common to all shows in each: give every=..."
        return text + "."

    def name(self, stream: int) -> str:
        """A stream's name for texts, cut when long; what is not seen is written as its number."""
        words = "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in str(self.stream[stream]) or "all points")
        return words if len(words) <= LONGEST_NAME else f"{words[: LONGEST_NAME - 1]}\u2026"

    def strongest(self) -> Ints:
        """Moved streams, the largest step in sigma first."""
        moved = np.flatnonzero(self.state == MOVED)
        size = np.abs(self.change[moved]) / np.where(self.sigma_difference[moved] > 0.0, self.sigma_difference[moved], 1.0)
        return np.asarray(moved[np.argsort(-size, kind="stable")], dtype=np.int64)

    def points_of(self, stream: int) -> slice:
        """Where the points of a stream stand in ``moment``, ``difference`` and ``ewma``."""
        return slice(int(self.offsets[stream]), int(self.offsets[stream + 1]))

    def _step(self, size: float, moment: int) -> str:
        when = f"moment {moment + 1}" if self.time is None else str(self.time[moment].astype("datetime64[m]")).replace("T", " ")
        sign = "+" if size > 0 else ""
        return f"by {sign}{with_unit(size, self.made.unit, 3)} from {when}"

    def _columns(self) -> dict[str, Any]:
        since = [self.change_moment[i] for i in range(self.stream_count)]
        when: Any
        if self.time is None:
            when = [int(at) + 1 if at >= 0 else None for at in since]
        else:
            when = [str(self.time[at].astype("datetime64[s]")) if at >= 0 else None for at in since]
        return {
            "stream": self.stream,
            "state": self.state,
            "count": self.count,
            "center": self.center,
            "sigma_difference": self.sigma_difference,
            "lower": self.lower,
            "upper": self.upper,
            "beyond_count": self.beyond_count,
            "ewma_count": self.ewma_count,
            "change": self.change,
            "changed_from": np.array(when, dtype=object),
            "reference": self.reference,
        }

    def explain(self) -> Explanation:
        options = self.made.options
        tests = {"charted_tests": self.charted_tests}
        if options["sigma_multiple"] is None:
            chance = {"false_alarm": float(options["false_alarm"]), **tests}
            steps = [Step("point_chance", "1 - exp(log(1 - false_alarm) / charted_tests)", chance, self.point_chance)]
            held = f"placed so that a steady set of streams shows any signal with a chance of at most {options['false_alarm']:g}"
        else:
            steps = []
            held = f"{options['sigma_multiple']:g} sigma for every point: false alarms grow with the number of points"
        expected = {**tests, "point_chance": self.point_chance}
        steps.append(Step("expected_false", "charted_tests * point_chance", expected, self.expected_false))
        if np.isfinite(self.common_limits.upper):
            line = {
                "center": self.common_limits.center,
                "common_multiple": self.common_multiple,
                "common_sigma": self.common_sigma,
            }
            steps.append(Step("common_limits_upper", "center + common_multiple * common_sigma", line, self.common_limits.upper))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "limits": held,
                "multiple": "Student's t with 0.61 (n - 1) degrees of freedom, those of a mean moving range"
                if options["sigma_multiple"] is None
                else "given",
                "tests": "points beyond their limit"
                + (f", and EWMA with smoothing {options['smoothing']:g}" if options["smoothing"] > 0.0 else ""),
                "chances": "for independent normal points",
                "compared with": "the mean of the others at the same moment, each less its center; streams that moved left out"
                if self.comparison == "others"
                else "the center of the stream itself",
                "measured together": f"{number(100 * self.together_share, 3)} % of the points have company at their moment",
                "moments": options["moments"],
                "own limits": f"from {self.fewest_points} points compared on",
            },
            sources=("cpp/methods/streams.md",),
        )


def streams(
    data: Any,
    value: str,
    *,
    unit: str,
    stream: Sequence[str] | str,
    time: str | None = None,
    every: timedelta | None = None,
    false_alarm: float = 0.01,
    sigma_multiple: float | None = None,
    smoothing: float = 0.2,
    fewest_points: int = 20,
    threads: int = 0,
    missing: str = "error",
) -> StreamsChart:
    """Chart many streams at once: what all of them did together, and what each did against the others.

    At each moment the streams' mean distance from their centers is the level common to all. A stream's difference is its own
    distance less the mean of the others'. A stream that moved is taken out of what the others are compared with.

    Parameters
    ----------
    data : table
        One row a point; any order of rows with ``time``, production order without.
    value : str
        Column of the points.
    unit : str
        Unit of the points.
    stream : column name or names
        Each combination of labels is a stream.
    time : str, optional
        Column of times; points at the same time belong together. Without it the first points of all streams do, the second ones,
        and so on.
    every : timedelta, optional
        Gathers each stream's points over such stretches of time into their mean, for streams that are not measured at the same
        moments. Needs ``time``.
    false_alarm : float
        Chance that a steady set of streams shows any signal at all: over all streams, points and both tests.
    sigma_multiple : float, optional
        Limits at this distance for every point instead.
    smoothing : float
        Of the EWMA; 0 for none.
    fewest_points : int
        A stream with fewer points compared gets no limits of its own, and is not counted among the others.
    threads : int
        At most so many; 0 for as many as the processor runs at once. The result is the same.
    missing : {"error", "drop"}
        Missing points are refused, or left out.

    Raises
    ------
    DataProblemsError
        Missing or non-numeric cells, with column, row and value.
    InvalidInputError
        Options out of their domain.

    Warns
    -----
    ConstantDataWarning
        The differences of a stream do not vary.

    Examples
    --------
    >>> rng = np.random.default_rng(4)
    >>> film = rng.normal(2.1, 0.05, (60, 4)) + rng.normal(0, 0.05, (60, 1))
    >>> film[40:, 2] += 0.3
    >>> found = streams({"film": film.ravel(), "gun": ["A", "B", "C", "D"] * 60}, "film", unit="mil", stream="gun")
    >>> found.state.tolist()
    ['quiet', 'quiet', 'moved', 'quiet']
    >>> print(found.sentence())
    1 of 4 streams moved against the others: C by +0.296 mil from moment 41; the level common to all is steady.
    """
    check_options(streams, locals())
    _check(false_alarm, sigma_multiple, smoothing, fewest_points, time, every)
    whole = table(data)
    given = readings(whole, value, missing=missing)
    if not given.values.size:
        raise InvalidInputError(f"column '{value}' has no points", argument="value")
    names = stream_labels(whole, [stream] if isinstance(stream, str) else list(stream), whole.height)[given.rows]
    stamps = None if time is None else times(whole.column(time), name=time)
    if stamps is not None and (gone := np.flatnonzero(np.isnat(stamps))).size:
        raise DataProblemsError([DataProblem(str(time), int(row) + 1, "", "time is missing") for row in gone])
    labels, points, moments, merged = _gather(given.values, names, None if stamps is None else stamps[given.rows], every)

    size = len(labels)
    alone = _core.chart_streams(
        points.value, np.empty(0, dtype=np.uint8), points.offsets, np.array([3.0]), 0.0, fewest_points, threads, np.empty(0)
    )
    usable = np.asarray(alone["count"] >= fewest_points)
    present = np.bincount(points.moment[usable[points.stream]], minlength=points.moments)
    company = present[points.moment] - usable[points.stream] > 0
    share = float(company.mean()) if company.size else 0.0
    others = share >= 0.5 and int(usable.sum()) >= 2
    kinds = 1 if smoothing == 0.0 else 2
    tests = kinds * (points.value.size + points.moments)
    if sigma_multiple is None:
        chance = -float(np.expm1(np.log1p(-false_alarm) / max(tests, 1)))
    else:
        chance = 2.0 * _core.normal_survival(float(sigma_multiple))
    made = compare(
        points,
        alone["center"],
        usable,
        others=others,
        chance=chance,
        sigma_multiple=sigma_multiple,
        smoothing=smoothing,
        fewest_points=fewest_points,
        threads=threads,
    )
    state, change, since = _states(made, points)
    common_state, common_change, common_since = _common(made)
    limited = made.found["has_limits"].view(bool)
    if bool((made.found["sigma_within"][limited] == 0.0).any()):
        warnings.warn(
            "the differences of a stream do not vary: sigma 0 is an answer, seldom the truth", ConstantDataWarning, stacklevel=2
        )
    return _result(
        labels, points, moments, made, alone, state, change, since, common_state, common_change, common_since,
        others=others, share=share, tests=tests, chance=chance, fewest_points=fewest_points,
        made_by=Made(
            function="streams",
            unit=unit,
            count=int(points.value.size),
            missing_rows=given.missing_rows,
            frame=given.frame,
            options={
                "false_alarm": false_alarm,
                "sigma_multiple": sigma_multiple,
                "smoothing": smoothing,
                "missing": missing,
                "moments": _moments_words(time, every, merged),
                "streams": size,
            },
            version=_core.version,
        ),
    )  # fmt: skip


def _check(
    false_alarm: float,
    sigma_multiple: float | None,
    smoothing: float,
    fewest_points: int,
    time: str | None,
    every: timedelta | None,
) -> None:
    if not 0.0 < false_alarm < 1.0:
        raise InvalidInputError(f"false_alarm must lie between 0 and 1, got {false_alarm}", argument="false_alarm")
    if sigma_multiple is not None and not (np.isfinite(sigma_multiple) and sigma_multiple > 0.0):
        raise InvalidInputError(f"sigma_multiple must be positive and finite, got {sigma_multiple}", argument="sigma_multiple")
    if not 0.0 <= smoothing <= 1.0:
        raise InvalidInputError(f"smoothing must lie between 0 and 1, got {smoothing}", argument="smoothing")
    if fewest_points < 2:
        raise InvalidInputError(f"fewest_points must be 2 or more, got {fewest_points}", argument="fewest_points")
    if every is not None and time is None:
        raise InvalidInputError("every needs time=...", argument="every")
    if every is not None and every <= timedelta(0):
        raise InvalidInputError(f"every must be a stretch of time, got {every}", argument="every")


def _gather(
    values: Floats, names: NDArray[np.object_], stamps: NDArray[np.datetime64] | None, every: timedelta | None
) -> tuple[list[str], Gathered, NDArray[np.datetime64] | None, int]:
    """Streams by name, their points in the order of moments, and how many points were merged into means."""
    labels = sorted(set(names.tolist()))
    index = {name: i for i, name in enumerate(labels)}
    which = np.array([index[name] for name in names.tolist()], dtype=np.int64)
    moments: NDArray[np.datetime64] | None = None
    if stamps is None:
        order = np.argsort(which, kind="stable")
        starts = np.concatenate([[0], np.cumsum(np.bincount(which, minlength=len(labels)))])
        moment = np.empty(which.size, dtype=np.int64)
        moment[order] = np.arange(which.size) - starts[which[order]]
    else:
        if every is not None:
            width = np.timedelta64(every) // np.timedelta64(1, "us")
            ticks = stamps.astype("datetime64[us]").astype(np.int64)
            stamps = (ticks // width * width).astype("datetime64[us]")
        moments, moment = np.unique(stamps, return_inverse=True)
        moment = moment.reshape(-1).astype(np.int64)
    order = np.lexsort((np.arange(which.size), moment, which))
    which, moment, value = which[order], moment[order], values[order]
    first = np.ones(which.size, dtype=bool)
    first[1:] = (which[1:] != which[:-1]) | (moment[1:] != moment[:-1])
    at = np.flatnonzero(first)
    merged = which.size - at.size
    if merged:
        count = np.diff(np.concatenate([at, [which.size]]))
        value = np.add.reduceat(value, at) / count
    which, moment = which[at], moment[at]
    offsets = np.concatenate([[0], np.cumsum(np.bincount(which, minlength=len(labels)))]).astype(np.int64)
    total = int(moment.max()) + 1 if moment.size else 0
    return labels, Gathered(np.ascontiguousarray(value), which, moment, offsets, total), moments, merged


def _states(made: Compared, points: Gathered) -> tuple[NDArray[np.object_], Floats, Ints]:
    """What each stream did; the step that fits those that moved."""
    found = made.found
    size = made.multiples.size
    state = np.full(size, QUIET, dtype=object)
    state[found["has_limits"] == 0] = FEW
    change, since = np.full(size, np.nan), np.full(size, -1, dtype=np.int64)
    for s in np.flatnonzero(found["beyond_count"] + found["ewma_count"] > 0):
        part = slice(int(points.offsets[s]), int(points.offsets[s + 1]))
        there = np.flatnonzero(~np.isnan(made.difference[part]))
        x, sigma = made.difference[part][there], float(found["sigma_within"][s])
        if _single_point(x, float(found["center"][s]), sigma, float(made.multiples[s])):
            state[s] = POINT
            continue
        step = best_step(x, sigma)
        state[s], change[s], since[s] = MOVED, step.size, points.moment[part][there[step.first]]
    return state, change, since


def _common(made: Compared) -> tuple[str, float, int]:
    common = made.common
    if not common["has_limits"][0]:
        return FEW, float("nan"), -1
    if not common["beyond_count"][0] + common["ewma_count"][0]:
        return QUIET, float("nan"), -1
    there = np.flatnonzero(~np.isnan(made.level))
    x, sigma = made.level[there], float(common["sigma_within"][0])
    if _single_point(x, float(common["center"][0]), sigma, made.common_multiple):
        return POINT, float("nan"), -1
    step = best_step(x, sigma)
    return MOVED, step.size, int(there[step.first])


def _single_point(x: Floats, center: float, sigma: float, multiple: float) -> bool:
    """Whether nothing is left of the signals without the farthest point."""
    if not sigma > 0.0 or x.size < 4:
        return False
    farthest = int(np.argmax(np.abs(x - center)))
    rest = np.delete(x, farthest)
    return bool(np.abs(rest - rest.mean()).max() <= multiple * sigma) and best_step(rest, sigma).strength <= multiple


def _result(
    labels: list[str],
    points: Gathered,
    moments: NDArray[np.datetime64] | None,
    made: Compared,
    alone: dict[str, Any],
    state: NDArray[np.object_],
    change: Floats,
    since: Ints,
    common_state: str,
    common_change: float,
    common_since: int,
    *,
    others: bool,
    share: float,
    tests: int,
    chance: float,
    fewest_points: int,
    made_by: Made,
) -> StreamsChart:
    found, common = made.found, made.common
    limited = found["has_limits"] != 0
    return build(
        StreamsChart,
        {},
        made=made_by,
        stream=np.array(labels, dtype=object),
        count=alone["count"],
        center=alone["center"],
        sigma_difference=np.where(limited, found["sigma_within"], np.nan),
        lower=found["lower"],
        upper=found["upper"],
        multiple=np.where(limited, made.multiples, np.nan),
        state=state,
        beyond_count=found["beyond_count"],
        ewma_count=found["ewma_count"],
        change=change,
        change_moment=since,
        reference=made.reference,
        offsets=points.offsets,
        moment=points.moment,
        difference=made.difference,
        ewma=made.ewma,
        signal_point=found["signal_point"],
        signal_side=found["signal_side"],
        signal_test=np.array(["ewma" if test else "beyond" for test in found["signal_test"]], dtype=object),
        level=made.level,
        level_ewma=made.level_ewma,
        time=None if moments is None else frozen(moments),
        common_limits=ControlLimits(float(common["lower"][0]), float(common["center"][0]), float(common["upper"][0])),
        common_sigma=float(common["sigma_within"][0]),
        common_multiple=made.common_multiple,
        common_state=common_state,
        common_change=common_change,
        common_change_moment=common_since,
        comparison="others" if others else "center",
        together_share=share,
        stream_count=len(labels),
        moved_count=int((state == MOVED).sum()),
        charted_tests=tests,
        point_chance=chance,
        expected_false=tests * chance,
        fewest_points=fewest_points,
    )


def _streams(count: int) -> str:
    return plural(count, "stream")


def _more(count: int) -> str:
    return f" and {count - TOLD} more" if count > TOLD else ""


def _moments_words(time: str | None, every: timedelta | None, merged: int) -> str:
    if time is None:
        return "by position: the first points of all streams together, and so on"
    words = f"column {time}" if every is None else f"column {time}, in stretches of {every}"
    return words if not merged else f"{words}; {merged} points of a stream at one moment averaged with another"


make_callable(__name__)
