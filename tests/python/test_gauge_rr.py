"""Gauge studies: published sheets, a full study in both roundings, oracles, closed forms, designs, what is lacking."""

from __future__ import annotations

import csv
import itertools
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import steadyfilm as sf

from helpers import REPOSITORY
from reference import Args, adapter

ROWS = REPOSITORY / "tests" / "reference" / "rows"


def study_table(name: str) -> dict[str, Any]:
    """A data file of the reference rows as a table."""
    with (ROWS / "data" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {
        "film": [float(row["values"]) for row in rows],
        **{k: [row[k] for row in rows] for k in ("part", "appraiser", "trial")},
    }


COLUMNS: dict[str, Any] = {"unit": "mil", "part": "part", "appraiser": "appraiser"}
PANELS = study_table("g1")
ROUNDED = study_table("g1-rounded")
NARROW = sf.SpecLimits(3.1, 3.3)
WIDE = sf.SpecLimits(3.0, 3.5)


def simulated(
    shape: tuple[int, int, int] = (10, 3, 3),
    sds: tuple[float, float, float, float] = (0.2, 0.03, 0.02, 0.04),
    seed: int = 1,
) -> dict[str, Any]:
    """A crossed study with sds of part, appraiser, interaction and repeatability."""
    rng = np.random.default_rng(seed)
    p, a, _ = shape
    film = (
        3.0
        + rng.normal(0, sds[0], (p, 1, 1))
        + rng.normal(0, sds[1], (1, a, 1))
        + rng.normal(0, sds[2], (p, a, 1))
        + rng.normal(0, sds[3], shape)
    )
    grid = np.indices(shape).reshape(3, -1)
    return {"film": film.ravel(), **dict(zip(("part", "appraiser", "trial"), grid, strict=True))}


# -- reference rows -----------------------------------------------------------------------------------------------------


@adapter("gauge_factors")
def _factors(args: Args) -> dict[str, Any]:
    found = sf.gauge_factors(*(args.count(name) for name in ("trial_count", "appraiser_count", "part_count")))
    return {"K1": found.K1, "K2": found.K2, "K3": found.K3}


def _columns_of(args: Args) -> dict[str, Any]:
    return {"film": args.list("values"), **{name: args.list(name) for name in ("part", "appraiser", "trial")}}


def _range_numbers(found: sf.AverageRangeStudy) -> dict[str, Any]:
    names = ["mean_range", "appraiser_difference", "part_range", "range_upper", "K1", "K2", "K3", "ev", "av", "av_radicand"]
    names += ["grr", "pv", "tv", "ndc", "ndc_ratio"]
    out = {name: getattr(found, name) for name in names}
    out |= {f"pct_{name}": 100 * (found.share_of_total(name) or 0.0) for name in ("ev", "av", "grr", "pv")}
    out["ndc_ratio_sqrt2"] = math.sqrt(2) * out["pv"] / out["grr"]
    return {**out, "appraiser_mean": found.appraiser_means, "appraiser_mean_range": found.appraiser_mean_ranges}


@adapter("grr_average_range")
def _average_range(args: Args) -> dict[str, Any]:
    factors = {name: args.optional(name) for name in ("K1", "K2", "K3", "D4")}
    return _range_numbers(sf.average_range_study(_columns_of(args), "film", trial="trial", **COLUMNS, **factors))


@adapter("grr_from_ranges")
def _from_ranges(args: Args) -> dict[str, Any]:
    numbers = [args.number(name) for name in ("mean_range", "appraiser_difference", "part_range")]
    counts = {name: args.count(name) for name in ("part_count", "trial_count")}
    factors = {name: args.optional(name) for name in ("K1", "K2", "K3")}
    # The appraisers' number does not enter where K2 is given.
    return _range_numbers(sf.gauge_from_ranges(*numbers, unit="", appraiser_count=3, **counts, **factors))


def _wanted(study: sf.GaugeStudy, args: Args) -> sf.GaugeEstimate:
    if args.count("pool_interaction") == 0:
        return study.kept
    assert study.pooled is not None
    return study.pooled


def estimate_numbers(study: sf.GaugeStudy, found: sf.GaugeEstimate) -> dict[str, Any]:
    """Lines and sources by the names that the rows use."""
    short = {"part x appraiser": "interaction"}
    out: dict[str, Any] = {"grand_mean": study.mean, "ndc": found.ndc, "ndc_ratio": found.ndc_ratio}
    for line in found.lines:
        name = short.get(line.source, line.source)
        out |= {f"ss_{name}": line.sum_squares, f"ms_{name}": line.mean_square, f"df_{name}": line.degrees_of_freedom}
        out |= {f"f_{name}": line.f, f"p_{name}": line.p}
    out["ss_total"] = sum(line.sum_squares for line in found.lines)
    out |= {f"variance_{short.get(one.source, one.source)}": one.variance for one in found.sources}
    letters = {"ev": "repeatability", "av": "appraiser", "grr": "grr", "pv": "part", "tv": "total"}
    for name, source in letters.items():
        one = found.source(source)
        out |= {name: one.sd, f"pct_{name}": 100 * (one.share_of_total or 0), f"share_{name}": 100 * (one.share_of_variance or 0)}
    out |= {"interaction_sd": found.interaction_sd, "ndc_ratio_sqrt2": math.sqrt(2) * out["pv"] / out["grr"]}
    return out


@adapter("grr_anova")
def _anova(args: Args) -> dict[str, Any]:
    f_denominator = args.word("f_denominator") if "f_denominator" in args else "model"
    study = sf.gauge_study(_columns_of(args), "film", trial="trial", f_denominator=f_denominator, **COLUMNS)
    return estimate_numbers(study, _wanted(study, args))


@adapter("grr_window_share")
def _window_share(args: Args) -> dict[str, Any]:
    window = sf.SpecLimits(0.0, args.number("window_mil"))
    study = sf.gauge_study(_columns_of(args), "film", trial="trial", specification=window, **COLUMNS)
    return {"percent": 100 * (_wanted(study, args).windows[0].share or 0.0)}


@adapter("pooled_sd")
def _pooled(args: Args) -> dict[str, Any]:
    found = sf.pooled_sd(args.list("ss"), args.list("df"), unit="")
    return {"ss_total": found.sum_squares, "df": found.degrees_of_freedom, "sd": found.sd, "group_sd": found.group_sds}


@adapter("pooled_sd_from_sds")
def _pooled_sds(args: Args) -> dict[str, Any]:
    return {"sd": sf.pooled_sd_from_sds(args.list("sds"), args.list("df"), unit="").sd}


@adapter("grr_intervals")
def _intervals(args: Args) -> dict[str, Any]:
    squares = [args.number(f"ms_{name}") for name in ("part", "appraiser", "interaction", "repeatability")]
    counts = {name: args.count(name) for name in ("part_count", "appraiser_count", "trial_count")}
    found = sf.gauge_intervals(*squares, **counts, confidence_level=args.number("confidence_level"), method=args.word("method"))
    out = {name: value for name, value in vars(found).items() if value is not None}
    out |= {f"pct_grr{end}": 100 * (getattr(found, f"share{end}") or 0.0) for end in ("", "_lower", "_upper")}
    return out


def example_results() -> list[sf.GaugeStudy | sf.AverageRangeStudy | sf.GaugeBootstrap | sf.PooledSd]:
    rng = np.random.default_rng(4)
    pull = {
        "mpa": rng.normal(5, 0.5, 24),
        "panel": np.tile(np.repeat([1, 2, 3, 4], 3), 2),
        "who": np.repeat(["A", "B"], 12),
    }
    with pytest.warns(sf.ConstantDataWarning):
        equal = sf.gauge_study({**simulated((3, 2, 2)), "film": [2.1] * 12}, "film", specification=NARROW, **COLUMNS)
    lacking = {name: np.delete(np.asarray(column), [4]) for name, column in simulated((5, 2, 2), seed=3).items()}
    with pytest.warns(sf.MissingDataWarning, match="1 incomplete part left out"):
        dropped = sf.gauge_study(lacking, "film", unbalanced="drop_parts", **COLUMNS)
    study = sf.gauge_study(PANELS, "film", trial="trial", specification={"total": WIDE, "narrow": NARROW}, **COLUMNS)
    return [
        study,
        sf.gauge_study(ROUNDED, "film", specification=NARROW, **COLUMNS),
        sf.gauge_study(study_table("mr20"), "film", interval_method="satterthwaite", appraiser_effect="fixed", **COLUMNS),
        sf.gauge_study(simulated((6, 1, 3)), "film", unit="um", part="part", specification=sf.SpecLimits(2.0, None)),
        sf.gauge_study(simulated((1, 4, 5)), "film", specification=sf.SpecLimits(None, 3.5), **COLUMNS),
        sf.gauge_study(simulated((6, 3, 1)), "film", **COLUMNS),
        sf.gauge_study(pull, "mpa", unit="MPa", part="panel", appraiser="who", nested=True, specification=sf.SpecLimits(2, None)),
        equal,
        dropped,
        sf.gauge_study(lacking, "film", specification=WIDE, **COLUMNS),
        sf.gauge_study(crossed_with_gauge(), "film", factors=["gauge"], specification=NARROW, **COLUMNS),
        sf.average_range_study(PANELS, "film", specification=NARROW, **COLUMNS),
        sf.average_range_study(simulated((5, 1, 3)), "film", unit="um", part="part"),
        sf.gauge_from_ranges(0.3417, 0.4446, 3.511, unit="mm", part_count=10, appraiser_count=3, trial_count=3),
        sf.gauge_bootstrap(study, replicates=200),
        sf.pooled_sd([2.0, 6.0], [4, 4], unit="mil"),
    ]


# -- a full study in both roundings -------------------------------------------------------------------------------------

# The coating brief's study of ten panels, three inspectors, three readings; computed with a general-purpose statistics
# environment (lm, and REML by lme4), status computed: digits as printed there.
PRINTED = {
    "g1": {
        "kept": "grand_mean 3.224667 ss_part 3.240373 ss_appraiser 0.031327 ss_interaction 0.030140 ss_repeatability 0.067400 "
        "df_part 9 df_appraiser 2 df_interaction 18 df_repeatability 60 f_interaction 1.4906 p_interaction 0.1257 "
        "f_appraiser 9.3543 p_appraiser 0.00164 ev 0.03352 av 0.02159 interaction_sd 0.01355 grr 0.04211 pv 0.19955 tv 0.20394 "
        "pct_grr 20.65 share_grr 4.26 ndc_ratio 6.681 ndc 6",
        "pooled": "ev 0.03536 av 0.02192 grr 0.04160 pct_grr 20.40 ndc_ratio 6.767 ndc 6",
    },
    "g1-rounded": {
        "kept": "grand_mean 3.230000 ss_part 3.262333 ss_appraiser 0.032667 ss_interaction 0.047333 ss_repeatability 0.086667 "
        "f_interaction 1.8205 p_interaction 0.0435 f_appraiser 6.2113 p_appraiser 0.00889 ev 0.03801 av 0.02137 "
        "interaction_sd 0.01988 grr 0.04792 pv 0.19996 tv 0.20562 pct_grr 23.30 share_grr 5.43 ndc_ratio 5.884 ndc 5",
        "pooled": "ev 0.04145 av 0.02207 grr 0.04696 pct_grr 22.83 ndc_ratio 6.012 ndc 6",
    },
}


@pytest.mark.parametrize(("name", "model"), list(itertools.product(PRINTED, ("kept", "pooled"))))
def test_the_full_study_gives_its_printed_numbers(name: str, model: str) -> None:
    study = sf.gauge_study(study_table(name), "film", **COLUMNS)
    found = estimate_numbers(study, getattr(study, model))
    words = PRINTED[name][model].split()
    for quantity, printed in zip(words[::2], words[1::2], strict=True):
        decimals = len(printed.partition(".")[2])
        assert abs(found[quantity] - float(printed)) <= 0.5 * 10.0**-decimals * (1 + 1e-6), quantity


@pytest.mark.parametrize(("name", "wide", "narrow"), [("g1", 50.5, 126.3), ("g1-rounded", 57.5, 143.8)])
def test_windows_of_the_full_study(name: str, wide: float, narrow: float) -> None:
    study = sf.gauge_study(study_table(name), "film", specification={"wide": WIDE, "narrow": NARROW}, **COLUMNS)
    assert [round(100 * (one.share or 0), 1) for one in study.kept.windows] == [wide, narrow]


def test_the_rounded_study_says_that_ndc_hangs_on_pooling() -> None:
    study = sf.gauge_study(ROUNDED, "film", specification=NARROW, **COLUMNS)
    assert (study.kept.ndc, study.pooled.ndc if study.pooled else None) == (5, 6)
    assert study.ndc_depends_on_pooling
    assert "ndc hangs on a choice: 5 with the interaction kept, 6 with it pooled (p 0.043), here it is kept" in study.sentence()
    assert study.sentence().endswith("(otherwise GRR is 0.047 mil, 22.8 % of the total variation).")
    assert any(note.startswith("ndc is 5 with the interaction kept and 6 with it pooled") for note in study.notes)
    plain = sf.gauge_study(PANELS, "film", **COLUMNS).sentence()
    assert "hangs" not in plain
    assert plain.endswith(
        "GRR is 0.0421 mil, 20.6 % of the total variation, ndc 6 (0.0416 mil, 20.4 % of the total variation with the interaction "
        "pooled)."
    )


def test_a_window_whose_verdict_hangs_on_pooling_is_named() -> None:
    # 6 GRR is 0.2527 kept and 0.2496 pooled: 30 % of 0.8372 lies between them.
    study = sf.gauge_study(PANELS, "film", specification=sf.SpecLimits(2.8, 2.8 + 0.8372), **COLUMNS)
    assert study.pooled is not None
    assert [one.windows[0].judgeable for one in (study.kept, study.pooled)] == [False, True]
    assert any(
        note.startswith("the window cannot be judged by single readings with the interaction kept and can with it pooled")
        for note in study.notes
    )


def test_the_pooling_level_decides_and_both_results_stay() -> None:
    at_25 = sf.gauge_study(PANELS, "film", **COLUMNS)
    at_05 = sf.gauge_study(PANELS, "film", pooling_level=0.05, **COLUMNS)
    assert (at_25.chosen, at_05.chosen) == ("kept", "pooled")
    assert at_25.pooled is not None
    assert at_05.pooled is not None
    assert at_25.kept.sources == at_05.kept.sources
    assert at_25.pooled.sources == at_05.pooled.sources
    assert at_05.estimate is at_05.pooled
    assert at_05.other is at_05.kept
    frame = at_25.both_frame("dict")
    assert set(frame["interaction"]) == {"kept", "pooled"}


def test_the_result_leads_with_the_window() -> None:
    study = sf.gauge_study(PANELS, "film", specification=NARROW, **COLUMNS)
    text = study.sentence()
    assert text.startswith("The window (3.1 to 3.3 mil) cannot be judged with this gauge: 6 GRR is 0.253 mil, 126 % of it")
    window = study.windows[0]
    # By hand from the printed sds: people 0.02549, of 0.2: 6 x 0.02549 / 0.2 = 76.5 %; (6 x 0.04211 / 0.06)^2 = 17.7 -> 18;
    # (6 x 0.03352 / 0.06)^2 = 11.2 -> 12.
    assert window.readings is None
    assert window.floor_share == pytest.approx(0.765, abs=5e-4)
    assert (window.appraisers_needed, window.readings_if_alike) == (18, 12)
    assert "takes 76.5 %; it takes 18 readings per verdict, each by another appraiser, or 12 once all read alike" in text
    # Against 1 mil: 25.3 %, within what is wanted.
    wide = sf.gauge_study(PANELS, "film", specification=sf.SpecLimits(2.7, 3.7), **COLUMNS)
    assert wide.sentence().startswith("The window (2.7 to 3.7 mil) can be judged with this gauge by single readings: 6 GRR is")
    assert wide.windows[0].readings == 1
    # Against 0.65 mil: 0.0325^2 wanted, 0.02549^2 stays: 0.03352^2 / 0.000406 = 2.8 -> 3.
    middle = sf.gauge_study(PANELS, "film", specification=sf.SpecLimits(2.9, 3.55), **COLUMNS)
    assert middle.windows[0].readings == 3
    assert "it takes the average of 3 readings per verdict" in middle.sentence()
    bare = sf.gauge_study(PANELS, "film", **COLUMNS)
    assert bare.smallest_window == pytest.approx(6 * bare.grr / 0.3)
    assert "single readings can judge windows of 0.842 mil or more" in bare.sentence()


def test_a_window_with_one_limit_is_weighed_by_the_distance_to_the_mean() -> None:
    study = sf.gauge_study(PANELS, "film", specification=sf.SpecLimits(lower=3.0), **COLUMNS)
    window = study.windows[0]
    assert window.one_sided
    assert window.room == pytest.approx(study.mean - 3.0)
    assert window.share == pytest.approx(3 * study.grr / (study.mean - 3.0))
    told = sf.gauge_study(PANELS, "film", specification=sf.SpecLimits(lower=3.0), process_mean=3.4, **COLUMNS)
    assert told.windows[0].share == pytest.approx(3 * study.grr / 0.4)
    beyond = sf.gauge_study(PANELS, "film", specification=sf.SpecLimits(upper=3.0), **COLUMNS)
    assert beyond.windows[0].share is None
    assert "cannot be weighed: the mean does not lie inside its limit" in beyond.sentence()


# -- oracles and closed forms -------------------------------------------------------------------------------------------


def test_mean_squares_are_those_of_least_squares() -> None:
    import pandas as pd
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    table = simulated((5, 3, 2), seed=8)
    study = sf.gauge_study(table, "film", **COLUMNS)
    fitted = anova_lm(ols("film ~ C(part) * C(appraiser)", data=pd.DataFrame(table)).fit())
    names = ["C(part)", "C(appraiser)", "C(part):C(appraiser)", "Residual"]
    for line, name in zip(study.kept.lines, names, strict=True):
        assert line.sum_squares == pytest.approx(fitted.loc[name, "sum_sq"], rel=1e-9)
        assert line.degrees_of_freedom == fitted.loc[name, "df"]


def test_three_crossed_factors_are_least_squares_too() -> None:
    import pandas as pd
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    table = crossed_with_gauge()
    study = sf.gauge_study(table, "film", factors=["gauge"], **COLUMNS)
    fitted = anova_lm(ols("film ~ C(part) * C(appraiser) * C(gauge)", data=pd.DataFrame(table)).fit())
    sums = sorted(fitted["sum_sq"])
    assert sorted(line.sum_squares for line in study.kept.lines) == pytest.approx(sums, rel=1e-8)
    assert sum(line.degrees_of_freedom for line in study.kept.lines) == len(table["film"]) - 1


def crossed_with_gauge(shape: tuple[int, int, int, int] = (6, 3, 2, 2), seed: int = 3, gauge_sd: float = 0.05) -> dict[str, Any]:
    rng = np.random.default_rng(seed)
    p, a, g, _ = shape
    film = 3.0 + rng.normal(0, 0.2, (p, 1, 1, 1)) + rng.normal(0, 0.03, (1, a, 1, 1)) + rng.normal(0, gauge_sd, (1, 1, g, 1))
    film = film + rng.normal(0, 0.04, shape)
    grid = np.indices(shape).reshape(4, -1)
    return {"film": film.ravel(), **dict(zip(("part", "appraiser", "gauge", "trial"), grid, strict=True))}


def test_expected_mean_squares_of_a_further_factor_by_hand() -> None:
    study = sf.gauge_study(crossed_with_gauge(), "film", factors=["gauge"], **COLUMNS)
    ms = {line.source: line.mean_square for line in study.kept.lines}
    p, a, g, r = 6, 3, 2, 2
    full = "part x appraiser x gauge"
    # Random model, three crossed factors: Montgomery, Design and Analysis of Experiments, three-factor table (from memory).
    by_hand = {
        full: (ms[full] - ms["repeatability"]) / r,
        "part x gauge": (ms["part x gauge"] - ms[full]) / (a * r),
        "gauge": (ms["gauge"] - ms["part x gauge"] - ms["appraiser x gauge"] + ms[full]) / (p * a * r),
        "part": (ms["part"] - ms["part x appraiser"] - ms["part x gauge"] + ms[full]) / (a * g * r),
    }
    for name, variance in by_hand.items():
        assert study.kept.source(name).variance == pytest.approx(variance, rel=1e-9, abs=1e-15)
    measurement = [one for one in study.kept.sources if one.role == "measurement"]
    assert study.kept.grr == pytest.approx(math.sqrt(sum(one.sd**2 for one in measurement)))
    assert {"gauge", "appraiser x gauge", full} <= {one.source for one in measurement}
    assert study.design == "factors"


def test_one_way_and_two_way_intervals_in_closed_form() -> None:
    from scipy import stats

    table = simulated((8, 1, 3), seed=5)
    study = sf.gauge_study(table, "film", unit="mil", part="part")
    film = np.reshape(table["film"], (8, 3))
    within = film.var(axis=1, ddof=1).mean()
    low, high = stats.chi2.ppf([0.025, 0.975], 16)
    repeat = study.kept.source("grr")
    assert repeat.sd_lower == pytest.approx(math.sqrt(16 * within / high), rel=1e-9)
    assert repeat.sd_upper == pytest.approx(math.sqrt(16 * within / low), rel=1e-9)
    # Intraclass correlation, exact by F (Searle, Casella and McCulloch 1992, section 3.6, from memory).
    f = 3 * film.mean(axis=1).var(ddof=1) / within
    lower = (f / stats.f.ppf(0.975, 7, 16) - 1) / 3
    assert study.kept.source("part").share_of_variance_lower == pytest.approx(lower / (1 + lower), rel=1e-9)
    assert study.av is None
    assert "one appraiser" in study.notes[0]


def test_average_and_range_agree_with_their_formulas_at_any_size() -> None:
    table = simulated((7, 4, 5), seed=2)
    found = sf.average_range_study(table, "film", **COLUMNS)
    film = np.reshape(table["film"], (7, 4, 5))
    mean_range = np.ptp(film, axis=2).mean()
    assert found.ev == pytest.approx(mean_range / sf.chart_factors(5).d2, rel=1e-12)
    difference = np.ptp(film.mean(axis=(0, 2)))
    assert found.av_radicand == pytest.approx((difference / sf.d2_star(1, 4).d2_star) ** 2 - found.ev**2 / 35, rel=1e-10)
    assert found.pv == pytest.approx(np.ptp(film.mean(axis=(1, 2))) / sf.d2_star(1, 7).d2_star, rel=1e-12)


# -- properties ---------------------------------------------------------------------------------------------------------


@given(st.integers(0, 10_000), st.floats(-1e4, 1e4), st.floats(0.01, 100.0))
def test_shift_and_scale(seed: int, shift: float, scale: float) -> None:
    table = simulated((4, 3, 2), seed=seed)
    one = sf.gauge_study(table, "film", **COLUMNS)
    two = sf.gauge_study({**table, "film": shift + scale * table["film"]}, "film", **COLUMNS)
    for a, b in zip(one.kept.sources, two.kept.sources, strict=True):
        assert b.variance == pytest.approx(scale**2 * a.variance, rel=1e-6, abs=1e-8 * scale**2)
        assert b.sd_upper == pytest.approx(scale * (a.sd_upper or 0), rel=1e-5, abs=1e-6 * scale)
        assert b.share_of_total == pytest.approx(a.share_of_total, rel=1e-5, abs=1e-4)
    assert two.interaction_p == pytest.approx(one.interaction_p, rel=1e-4)


@given(st.integers(0, 10_000))
def test_the_order_of_rows_does_not_matter(seed: int) -> None:
    table = simulated((4, 3, 2), seed=seed)
    mixed = np.random.default_rng(seed).permutation(24)
    one = sf.gauge_study(table, "film", trial="trial", **COLUMNS)
    two = sf.gauge_study({name: column[mixed] for name, column in table.items()}, "film", trial="trial", **COLUMNS)
    assert [a.variance for a in two.kept.sources] == pytest.approx([a.variance for a in one.kept.sources], rel=1e-10)
    cells = {(p, a, t): v for p, a, t, v in zip(table["part"], table["appraiser"], table["trial"], table["film"], strict=True)}
    for p, a, t, value in zip(two.part, two.appraiser, two.trial, two.values, strict=True):
        assert cells[int(two.parts[p]), int(two.appraisers[a]), int(two.trials[t])] == value


@given(st.integers(0, 10_000))
def test_shares_of_variance_add_up_and_intervals_hold_their_estimates(seed: int) -> None:
    found = sf.gauge_study(simulated((5, 3, 2), seed=seed), "film", **COLUMNS).kept
    parts = [one for one in found.sources if one.role != "sum"]
    assert sum(one.share_of_variance or 0 for one in parts) == pytest.approx(1.0)
    assert (found.source("grr").share_of_variance or 0) + (found.source("part").share_of_variance or 0) == pytest.approx(1.0)
    for one in found.sources:
        assert one.sd_lower is not None
        assert one.sd_lower**2 <= max(0.0, one.variance) + 1e-15
        assert (one.sd_upper or 0) ** 2 >= one.variance - 1e-15


def test_more_readings_by_one_appraiser_reach_what_the_window_says() -> None:
    window = sf.gauge_study(PANELS, "film", specification=sf.SpecLimits(2.9, 3.55), **COLUMNS).windows[0]
    study = sf.gauge_study(PANELS, "film", **COLUMNS)
    people = study.grr**2 - study.ev**2
    assert window.readings is not None

    def share(n: int) -> float:
        return float(6 * math.sqrt(people + study.ev**2 / n) / 0.65)

    assert share(window.readings) <= 0.3 < share(window.readings - 1)


def test_the_bootstrap_repeats_itself_and_lies_near_the_exact_interval() -> None:
    study = sf.gauge_study(simulated((12, 1, 4), seed=6), "film", unit="mil", part="part")
    one, two = sf.gauge_bootstrap(study, replicates=4000, seed=3), sf.gauge_bootstrap(study, replicates=4000, seed=3)
    assert one == two
    found = one.interval("repeatability")
    # A percentile interval of a chi on 36: within a few percent of the exact one.
    assert found.lower == pytest.approx(study.ev * math.sqrt(21.336 / 36), rel=0.03)  # chi-square(0.025; 36)
    assert found.upper == pytest.approx(study.ev * math.sqrt(54.437 / 36), rel=0.03)  # chi-square(0.975; 36)
