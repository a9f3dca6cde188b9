"""What a log itself shows to be wrong with it, probe by probe: each fault with its time and amount, and what readings are worth.

Every threshold here is common practice, no source, and an option (``LogRules``).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._cure.logs import BakeTraces, LogFault, Trace
from steadyfilm._cure.options import LogRules
from steadyfilm._cure.recipes import Recipe
from steadyfilm._format import fixed, number

__all__ = ["Screened", "screen_bake"]

Floats = NDArray[np.float64]
SOUND, SUSPECT, LOST = 0, 1, 2

LEAST_READINGS = 10
"""Fewer readings tell nothing about lags, twins or units."""
FAR_K = 40.0
NEAR_K = 20.0
SAME_OVEN_K = 6.0
"""From one reading to the next a temperature moves by less, so that a step to 1.8 t + 32 within this is another unit."""
TWIN_MOVES = 10
"""Two probes that move together to the digit so many times in a row are one."""
HOT_C = 80.0
"""Schedules up to this are what the limit of a jump is meant for; hotter ovens warm a part faster in proportion."""
ROOM_C = 20.0
COLD_C = 5.0
"""A shop is warmer than this: a log in F whose readings would be colder is a log in C."""
TELLING_K = 5.0
"""Air and part must be so far apart at some time for a lag to show."""


@dataclass(frozen=True)
class Screened:
    """A trace with what each reading is worth, and where its place may be without any."""

    trace: Trace
    state: NDArray[np.uint8]
    begin_min: float | None
    end_min: float | None
    gap_limit_min: float
    faults: tuple[LogFault, ...]

    @property
    def gap_medians(self) -> float:
        """The limit of a gap in median intervals, as the core takes it."""
        steps = np.diff(self.trace.minutes)
        return self.gap_limit_min / float(np.median(steps)) if steps.size else 1.0


@dataclass
class _Work:
    """One trace while it is screened."""

    trace: Trace
    state: NDArray[np.uint8]
    faults: list[LogFault] = field(default_factory=list)

    def mark(self, where: NDArray[np.bool_] | slice, worth: int) -> None:
        self.state[where] = np.maximum(self.state[where], worth)

    @property
    def sound(self) -> NDArray[np.bool_]:
        return np.asarray(self.state == SOUND)


def screen_bake(bake: BakeTraces, recipe: Recipe, air: Sequence[str], rules: LogRules) -> dict[str, Screened]:
    """Every trace of a bake with its faults; times of faults count from the start of the bake."""
    works = {x.probe: _Work(x, np.zeros(x.minutes.size, dtype=np.uint8)) for x in bake.traces}
    parts = [name for name in works if name not in air]
    _unit_swaps(bake.bake, list(works.values()), recipe)
    for name, work in works.items():
        _rail(bake.bake, work, rules)
        if name in parts:
            _jumps(bake.bake, work, rules, recipe)
        _stuck(bake.bake, work, [other for other in works.values() if other is not work], rules)
    _follows_air(bake.bake, works, parts, [name for name in works if name in air], rules)
    _twins(bake.bake, works)
    ends = _ends(bake.bake, works, parts, recipe, rules)
    out = {}
    for name, work in works.items():
        _gaps(bake.bake, work, rules)
        begin, end = ends.get(name, (None, None))
        limit = _limit(work, rules) if work.trace.minutes.size > 1 else rules.longest_interval_min
        out[name] = Screened(work.trace, work.state, begin, end, limit, tuple(sorted(work.faults, key=lambda x: x.from_min)))
    return out


def _fault(
    bake: str, work: _Work, kind: str, first: float, last: float, amount: float, unit: str, effect: str, words: str
) -> None:
    work.faults.append(LogFault(bake, work.trace.probe, kind, first, last, amount, unit, effect, words))


# -- units --------------------------------------------------------------------------------------


def _unit_swaps(bake: str, works: Sequence[_Work], recipe: Recipe) -> None:
    """Readings that make no sense as declared, yet do in the other unit: 65.6 C and 150 F are the same oven."""
    wanted = [point.temperature_c for point in recipe.schedule]
    hottest = [point.temperature_c for point in recipe.overbake] + [-math.inf if recipe.maximum_c is None else recipe.maximum_c]
    low, high = min(wanted), max([*wanted, *hottest])
    fits = (low - NEAR_K, high + NEAR_K)
    seen: list[tuple[_Work, float, bool]] = []  # with the top of its readings, and whether they are F declared C
    certain = set()
    for work in works:
        t = work.trace.temperature_c
        if t.size < LEAST_READINGS or _swapped_stretches(bake, work, fits):
            continue
        top = float(np.median(np.sort(t)[-max(3, t.size // 4) :]))
        if top > high + FAR_K and fits[0] <= (top - 32.0) / 1.8 <= fits[1]:
            seen.append((work, top, True))
            certain.add(True)
        elif top < low - FAR_K and fits[0] <= top * 1.8 + 32.0 <= fits[1]:
            # A bake that never got warm looks alike, unless some probe was colder than a shop is.
            seen.append((work, top, False))
            if float(t.min()) < COLD_C:
                certain.add(False)
    for work, top, is_f in seen:
        if is_f not in certain:
            continue
        if is_f:
            words = f"readings declared C lie at {number(top, 4)}, which is {number((top - 32.0) / 1.8, 4)} C if they are F"
        else:
            words = f"readings declared F lie at {number(top * 1.8 + 32.0, 4)}, which suits the recipe if they are C"
        work.mark(slice(None), LOST)
        words += ": declare the unit; as declared they mean nothing"
        _fault(bake, work, "unit swap", _first(work), _last(work), top, "C", "lost", words)


def _swapped_stretches(bake: str, work: _Work, fits: tuple[float, float]) -> bool:
    """Stretches of a trace in the other unit: from one reading to the next all is 1.8 t + 32 of what it was, or back."""
    t, minutes = work.trace.temperature_c, work.trace.minutes
    old, new = t[:-1], t[1:]
    far = np.abs(new - old) > NEAR_K
    up = far & (np.abs(new - (1.8 * old + 32.0)) < SAME_OVEN_K)  # from here on as if F
    down = far & (np.abs(old - (1.8 * new + 32.0)) < SAME_OVEN_K)
    changes = [(int(i) + 1, bool(up[i])) for i in np.flatnonzero(up | down)]
    if not changes or any(one[1] == two[1] for one, two in pairwise(changes)):
        return False
    ends = [0, *(at for at, _ in changes), t.size]
    # Which of both is the wrong one: the one whose readings do not suit the recipe where the other's do.
    first_is_high = not changes[0][1]
    stretches = [(a, b, first_is_high == (k % 2 == 0)) for k, (a, b) in enumerate(pairwise(ends))]
    top_high = max(float(t[a:b].max()) for a, b, is_high in stretches if is_high)
    top_low = max(float(t[a:b].max()) for a, b, is_high in stretches if not is_high)
    wrong = top_high > fits[1] and fits[0] <= (top_high - 32.0) / 1.8 <= fits[1]  # the high ones are F declared C
    if not wrong and not top_low < fits[0] <= top_high <= fits[1]:
        return False
    for a, b, is_high in stretches:
        if is_high is not wrong:
            continue
        value = float(t[a:b].max())
        if wrong:
            words = f"readings up to {number(value, 4)} C, which is {number((value - 32.0) / 1.8, 4)} C if they are F"
        else:
            words = f"readings up to {number(value, 4)} C, which is {number(value * 1.8 + 32.0, 4)} C if they are C taken for F"
        words += ": the unit changed within the bake; these readings mean nothing as declared"
        work.mark(slice(a, b), LOST)
        _fault(bake, work, "unit swap", float(minutes[a]), float(minutes[b - 1]), value, "C", "lost", words)
    return True


# -- single readings ----------------------------------------------------------------------------


def _rail(bake: str, work: _Work, rules: LogRules) -> None:
    """Readings at the end of the instrument's range: an open circuit."""
    t, minutes = work.trace.temperature_c, work.trace.minutes
    beyond = ((t < rules.lowest_c) | (t > rules.highest_c)) & (work.state != LOST)
    for first, last in _runs(beyond):
        value = float(t[first])
        words = f"{number(value)} C is no temperature of a bake but an open circuit"
        work.mark(slice(first, last + 1), LOST)
        _fault(bake, work, "open circuit", float(minutes[first]), float(minutes[last]), value, "C", "lost", words)


def _jumps(bake: str, work: _Work, rules: LogRules, recipe: Recipe) -> None:
    """A step over a minute that metal cannot make: the probe fell off, was moved, or its lead broke for a while."""
    hottest = max(point.temperature_c for point in recipe.schedule)
    limit = rules.jump_k_per_min * max(1.0, (hottest - ROOM_C) / (HOT_C - ROOM_C))
    keep = np.flatnonzero(work.state != LOST)
    t, minutes = work.trace.temperature_c[keep], work.trace.minutes[keep]
    if t.size < 2:
        return
    back = np.searchsorted(minutes, minutes - 1.0 + 1e-9, side="right") - 1
    back = np.where(back < 0, 0, np.minimum(back, np.arange(t.size) - 1).clip(0))
    over = np.maximum(minutes - minutes[back], 1e-12)
    # Shorter than a minute only at the start, where noise would make any rate.
    rate = np.where(over >= 1.0 - 1e-6, (t - t[back]) / over, 0.0)
    jumps: list[tuple[int, float, float]] = []  # the reading behind it, how far, and in which time
    for first, last in _runs(np.abs(rate) > limit):
        start = int(back[first])
        step = np.diff(t[start : last + 1])
        at = start + 1 + int(np.argmax(np.abs(step)))
        jumps.append((at, float(t[last] - t[start]), float(minutes[last] - minutes[start])))
    k = 0
    while k < len(jumps):
        at, size, over_min = jumps[k]
        pair = next((m for m in range(k + 1, len(jumps)) if jumps[m][1] * size < 0.0), None)
        end = jumps[pair][0] if pair is not None else t.size
        rows = keep[at:end]
        # A step that comes back says nothing of the time between; one up that stays may be the air, which is a figure.
        stays = pair is None and size > 0.0
        work.mark(np.isin(np.arange(work.state.size), rows), SUSPECT if stays else LOST)
        since, until = float(minutes[at]), float(minutes[end - 1])
        words = f"{fixed(size, 1)} K in {number(over_min, 3)} min, more than metal can ({number(limit, 3)} K/min at most)"
        words += ", and back" if pair is not None else "; what follows is not the part's"
        _fault(bake, work, "jump", since, until, size, "K", "not observed" if stays else "lost", words)
        if pair is None:
            break
        k = pair + 1


def _stuck(bake: str, work: _Work, others: Sequence[_Work], rules: LogRules) -> None:
    """The same figure again and again."""
    t, minutes = work.trace.temperature_c, work.trace.minutes
    if t.size <= rules.stuck_readings:
        return
    levels = np.unique(t)
    step = float(np.diff(levels).min()) if levels.size > 1 else math.inf
    same = np.concatenate([[False], (np.diff(t) == 0.0) & (work.state[1:] == SOUND)])
    for second, last in _runs(same):
        first = second - 1
        count = last - first + 1
        if count <= rules.stuck_readings:
            continue
        if rules.fine_step_k < step < math.inf and not _moved(others, minutes[first], minutes[last], 3.0 * step):
            continue  # a coarse display may well stand still on the plateau
        words = f"{count} readings of {number(float(t[first]), 4)} C in a row: the value is stuck"
        work.mark(slice(first, last + 1), SUSPECT)
        _fault(bake, work, "stuck", float(minutes[first]), float(minutes[last]), float(count), "readings", "not observed", words)


def _moved(others: Sequence[_Work], first: float, last: float, by: float) -> bool:
    for other in others:
        inside = (other.trace.minutes >= first) & (other.trace.minutes <= last) & (other.state != LOST)
        if inside.any() and float(np.ptp(other.trace.temperature_c[inside])) > by:
            return True
    return False


# -- probes against one another -----------------------------------------------------------------


def _follows_air(bake: str, works: Mapping[str, _Work], parts: Sequence[str], air: Sequence[str], rules: LogRules) -> None:
    """A probe whose part has no lag hangs in the air."""
    for name in parts:
        work = works[name]
        keep = np.flatnonzero(work.sound)
        minutes = work.trace.minutes[keep]
        own = work.trace.temperature_c[keep]
        known = [works[x] for x in air if works[x].sound.sum() >= 2]
        if keep.size < LEAST_READINGS or not known:
            continue
        driver = np.mean([np.interp(minutes, x.trace.minutes[x.sound], x.trace.temperature_c[x.sound]) for x in known], axis=0)
        if max(float(np.abs(driver - own).max()), float(np.ptp(driver))) < TELLING_K:
            continue  # always as warm as the air: no lag shows
        found = _core.fit_oven_lag(np.ascontiguousarray(minutes), np.ascontiguousarray(driver), np.ascontiguousarray(own))
        lag = found["time_constant_min"]
        # The fitted start stands for nothing when the part is the air from the first reading on.
        if lag >= rules.air_lag_min:
            continue
        work.mark(work.sound, SUSPECT)
        words = f"lags {fixed(lag, 2)} min behind the air: the probe hangs in the air, not on the part"
        _fault(bake, work, "follows the air", _first(work), _last(work), lag, "min", "not observed", words)


def _twins(bake: str, works: Mapping[str, _Work]) -> None:
    """Two probes alike to the digit: one is wired twice, and nobody knows which place it is on."""
    names = list(works)
    for i, one in enumerate(names):
        for two in names[i + 1 :]:
            a, b = works[one], works[two]
            _, at_a, at_b = np.intersect1d(a.trace.minutes, b.trace.minutes, return_indices=True)
            keep = (a.state[at_a] != LOST) & (b.state[at_b] != LOST)
            ta, tb = a.trace.temperature_c[at_a][keep], b.trace.temperature_c[at_b][keep]
            if ta.size < LEAST_READINGS:
                continue
            if not np.array_equal(ta, tb):
                for first, last in _runs(ta == tb):
                    if np.count_nonzero(np.diff(ta[first : last + 1])) >= TWIN_MOVES:
                        _twin_stretch(bake, ((a, one), (b, two)), at_a[keep][first : last + 1], at_b[keep][first : last + 1])
                continue
            if np.unique(ta).size < 3:
                continue
            for work, other in ((a, two), (b, one)):
                words = f"{ta.size} readings equal to the digit to those of '{other}': one probe is wired twice"
                work.mark(work.sound, SUSPECT)
                _fault(bake, work, "twin", _first(work), _last(work), float(ta.size), "readings", "not observed", words)


def _twin_stretch(
    bake: str, pair: tuple[tuple[_Work, str], tuple[_Work, str]], at_one: NDArray[np.intp], at_two: NDArray[np.intp]
) -> None:
    (a, one), (b, two) = pair
    for work, at, other in ((a, at_one, two), (b, at_two, one)):
        minutes = work.trace.minutes[at]
        words = f"{at.size} readings in a row equal to the digit to those of '{other}': both showed one probe"
        work.mark(np.isin(np.arange(work.state.size), at), SUSPECT)
        first, last = float(minutes[0]), float(minutes[-1])
        _fault(bake, work, "twin", first, last, float(at.size), "readings", "not observed", words)


# -- what is not there --------------------------------------------------------------------------


def _ends(
    bake: str, works: Mapping[str, _Work], parts: Sequence[str], recipe: Recipe, rules: LogRules
) -> dict[str, tuple[float | None, float | None]]:
    """First and last minute of the load where a part's own trace does not reach them."""
    if not parts:
        return {}
    load_end = max(_last(works[name]) for name in parts)
    load_begin = min(_first(work) for work in works.values())
    hot = min(point.temperature_c for point in recipe.schedule)
    limits = [_limit(work, rules) for work in works.values() if work.trace.minutes.size > 1]
    usual = float(np.median(limits)) if limits else 0.0
    out: dict[str, tuple[float | None, float | None]] = {}
    for name in parts:
        work = works[name]
        limit = _limit(work, rules) if work.trace.minutes.size > 1 else usual
        begin: float | None = None
        end: float | None = None
        if _first(work) - load_begin > limit:
            begin = load_begin
            amount = _first(work) - load_begin
            words = f"first reading {fixed(amount, 0)} min after the start of the bake"
            _fault(bake, work, "starts late", load_begin, _first(work), amount, "min", "not observed", words)
        if load_end - _last(work) > limit:
            end = load_end
            amount = load_end - _last(work)
            words = f"last reading {fixed(amount, 0)} min before the last one of the load"
            _fault(bake, work, "ends early", _last(work), load_end, amount, "min", "not observed", words)
        earliest = float(work.trace.temperature_c[0])
        if work.state[0] != LOST and earliest >= hot:
            # How long it was hot before is not known: as long as any schedule point asks, if all is credited.
            longest = max(point.minutes for point in recipe.schedule)
            begin = _first(work) - max(longest, 2.0 * limit)
            words = f"the log starts with the place at {number(earliest, 4)} C already: the time before is not known"
            _fault(
                bake,
                work,
                "starts hot",
                _first(work),
                _first(work),
                float(work.trace.temperature_c[0]),
                "C",
                "not observed",
                words,
            )
        if work.trace.minutes.size < 2:  # one reading shows no time at all, and so no lack of it
            begin = _first(work) - max(point.minutes for point in recipe.schedule)
        out[name] = (begin, end)
    return out


def _gaps(bake: str, work: _Work, rules: LogRules) -> None:
    minutes = work.trace.minutes
    if minutes.size < 2:
        words = f"{minutes.size} reading alone: no time can be told"
        _fault(bake, work, "one reading", _first(work), _last(work), float(minutes.size), "readings", "not observed", words)
        return
    limit = _limit(work, rules)
    steps = np.diff(minutes)
    for i in np.flatnonzero(steps > limit * (1.0 + 1e-9)):
        first, last, length = float(minutes[i]), float(minutes[i + 1]), float(steps[i])
        words = f"{fixed(length, 0)} min between two readings"
        if abs(length - float(np.median(steps)) - 60.0) <= max(0.5, float(np.median(steps))):
            words += "; an hour and an interval: the clock may have been set forward"
        _fault(bake, work, "gap", first, last, length, "min", "not observed", words)


def _limit(work: _Work, rules: LogRules) -> float:
    return min(rules.gap_medians * float(np.median(np.diff(work.trace.minutes))), rules.longest_interval_min)


def _first(work: _Work) -> float:
    return float(work.trace.minutes[0])


def _last(work: _Work) -> float:
    return float(work.trace.minutes[-1])


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of every run of true.

    >>> _runs(np.array([False, True, True, False, True]))
    [(1, 2), (4, 4)]
    """
    edges = np.diff(np.concatenate([[0], flags.astype(np.int8), [0]]))
    return list(zip(np.flatnonzero(edges == 1).tolist(), (np.flatnonzero(edges == -1) - 1).tolist(), strict=True))
