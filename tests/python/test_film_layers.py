"""Layers of a build: against covariance algebra and simulation, any number of coats, tables with holes, and what is refused."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

import steadyfilm as sf

from reference import Args, adapter


@adapter("derived_layer_uncertainty")
def _derived(args: Args) -> dict[str, float]:
    found = sf.layer_uncertainty(
        [args.count("readings_primer"), args.count("readings_total")],
        sigma_repeat_mil=args.number("sigma_repeat_mil"),
        sigma_location_mil=[args.number("sigma_primer_location_mil"), args.number("sigma_topcoat_location_mil")],
        same_spot=args.word("same_spot") == "1",
        locations=args.count("locations"),
    )
    return {"uncertainty_mil": float(found.uncertainty[1]), "correlation": float(found.neighbor_correlation[0])}


@adapter("gain_error")
def _gain(args: Args) -> dict[str, float]:
    return {"error_mil": sf.gain_error(args.number("gain"), layer_mil=args.number("topcoat_mil"))}


@adapter("stack_up")
def _stack(args: Args) -> dict[str, float]:
    found = sf.stack_up(centers_mil=args.list("centers_mil"), half_widths_mil=args.list("half_widths_mil"))
    return {f"{name}_mil": getattr(found, name) for name in ("rss_lower", "rss_upper", "worst_lower", "worst_upper")}


@adapter("equal_layer_half_width")
def _share(args: Args) -> dict[str, float]:
    half = sf.equal_layer_half_width(args.count("layer_count"), total_half_width_mil=args.number("total_half_width_mil"))
    return {"half_width_mil": half}


def build_table(bodies: int = 6, coats: int = 3, *, seed: int = 5, repeats: int = 3) -> dict[str, list[Any]]:
    """Readings of builds of several coats at two places of each body."""
    rng = np.random.default_rng(seed)
    rows: dict[str, list[Any]] = {"body": [], "place": [], "after": [], "film": []}
    for body in range(bodies):
        for place in ("roof", "door"):
            build = 0.0
            for coat in range(coats):
                build += rng.normal(20.0 + 10.0 * coat, 2.0)
                for _ in range(repeats):
                    rows["body"].append(f"N{body}")
                    rows["place"].append(place)
                    rows["after"].append(f"coat {coat}")
                    rows["film"].append(build + rng.normal(0.0, 0.8))
    return rows


def derive(rows: dict[str, list[Any]], **options: Any) -> sf.DerivedLayers:
    order = options.pop("order", None) or sorted({name for name in rows["after"] if name is not None})
    return sf.derive_layers(rows, "film", unit="um", spot=["body", "place"], layer="after", order=order, **options)


def without(rows: dict[str, list[Any]], *gone: tuple[str, str, str]) -> dict[str, list[Any]]:
    keep = [key not in gone for key in zip(rows["body"], rows["place"], rows["after"], strict=True)]
    return {name: [x for x, k in zip(column, keep, strict=True) if k] for name, column in rows.items()}


def diagnose(**present: float) -> sf.LayerDiagnosis:
    usual = {"usual_primer_mil": 1.1, "usual_total_mil": 3.2, "sigma_primer_mil": 0.02, "sigma_total_mil": 0.02}
    return sf.diagnose_layers(**{**usual, **present})


def example_results() -> list[Any]:
    return [
        sf.layer_uncertainty([3, 3, 2], sigma_repeat_um=1.2, sigma_offset_um=0.5, gain=0.02, layer_um=[25.0, 50.0, 30.0]),
        sf.layer_uncertainty([3, 3], sigma_repeat_mil=0.05, sigma_location_mil=[0.12, 0.18], same_spot=False),
        sf.stack_up(centers_mil=[1.1, 2.1], half_widths_mil=[0.1, 0.1], correlation=0.3),
        sf.window_consistency({"primer": (1.0, 1.2), "topcoat": (2.0, 2.2)}, (3.0, 3.5), unit="mil"),
        sf.window_consistency({"primer": (25.0, 30.0), "topcoat": (50.0, 56.0)}, (78.0, 84.0), unit="um"),
        diagnose(primer_mil=1.2, total_mil=3.3),
        diagnose(primer_mil=28.0, total_mil=81.3),
        derive(build_table()),
        derive(without(build_table(coats=2), ("N1", "roof", "coat 0"))),
    ]


# -- uncertainty --------------------------------------------------------------------------------------------------------


@given(st.integers(1, 6), st.booleans(), st.integers(0, 10_000))
def test_any_number_of_coats_agrees_with_covariance_algebra(coats: int, same_zero: bool, seed: int) -> None:
    rng = np.random.default_rng(seed)
    counts, spots = rng.integers(1, 9, coats), int(rng.integers(1, 7))
    repeat, offset, gain = rng.uniform(0.1, 2.0, coats), float(rng.uniform(0, 1)), float(rng.uniform(0, 0.1))
    layers = rng.uniform(5, 60, coats)
    # Layers are a matrix times builds: one row a layer, +1 at its build and -1 at the one before.
    difference = np.eye(coats) - np.eye(coats, k=-1)
    zero = np.full((coats, coats), offset**2) if same_zero else np.eye(coats) * offset**2
    builds = np.cumsum(layers)
    covariance = np.diag(repeat**2 / counts / spots) + zero + gain**2 * np.outer(builds, builds)
    expected = difference @ covariance @ difference.T
    found = sf.layer_uncertainty(
        counts.tolist(),
        sigma_repeat_um=repeat.tolist(),
        locations=spots,
        sigma_offset_um=offset,
        same_zero=same_zero,
        gain=gain,
        layer_um=layers.tolist(),
    )
    assert found.error_covariance.reshape(coats, coats) == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert found.total_uncertainty == pytest.approx(math.sqrt(covariance[-1, -1]), rel=1e-9)


@pytest.mark.parametrize("same_spot", [True, False])
def test_three_coats_agree_with_simulation(same_spot: bool) -> None:
    rng, size = np.random.default_rng(11), 200_000
    spread, repeat, counts = np.array([2.0, 3.0, 1.5]), np.array([1.0, 0.8, 1.2]), np.array([3, 2, 4])
    layers = rng.normal(0.0, spread[:, None, None], (3, 3, size))  # layer, place, draw
    builds = []
    for k in range(3):
        place = 0 if same_spot else k
        builds.append(layers[: k + 1, place].sum(axis=0) + rng.normal(0, repeat[k] / math.sqrt(counts[k]), size))
    seen = np.diff(np.array([np.zeros(size), *builds]), axis=0)
    truth = np.array([layers[k, 0 if same_spot else k] for k in range(3)])
    found = sf.layer_uncertainty(
        counts.tolist(), sigma_repeat_um=repeat.tolist(), sigma_location_um=spread.tolist(), same_spot=same_spot
    )
    assert found.error_covariance.reshape(3, 3) == pytest.approx(np.cov(seen - truth), abs=0.12)
    assert found.neighbor_correlation == pytest.approx(np.diag(np.corrcoef(seen), 1), abs=0.01)


def test_micrometers_and_mils_tell_the_same() -> None:
    mil = sf.layer_uncertainty([3, 3], sigma_repeat_mil=0.05, sigma_location_mil=[0.12, 0.18])
    um = sf.layer_uncertainty([3, 3], sigma_repeat_um=0.05 * 25.4, sigma_location_um=[0.12 * 25.4, 0.18 * 25.4])
    assert um.uncertainty == pytest.approx(25.4 * mil.uncertainty, rel=1e-12)
    assert um.neighbor_correlation == pytest.approx(mil.neighbor_correlation, rel=1e-12)
    assert (um.made.unit, mil.made.unit) == ("um", "mil")
    assert "uncertainty_mil" in mil.to_frame("dict")


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: sf.layer_uncertainty([3, 3]), "sigma_repeat_um or sigma_repeat_mil is needed"),
        (lambda: sf.layer_uncertainty([3], sigma_repeat_um=1.0, sigma_repeat_mil=1.0), "not both"),
        (lambda: sf.layer_uncertainty([3], sigma_repeat_um=1.0, sigma_offset_mil=0.1), "in one unit"),
        (lambda: sf.layer_uncertainty([3, 3], sigma_repeat_um=1.0, same_spot=False), "sigma_location"),
        (lambda: sf.layer_uncertainty([3, 0], sigma_repeat_um=1.0), r"readings\[1\] must be 1 or more"),
        (lambda: sf.stack_up(centers_um=[1.0], half_widths_mil=[0.1]), "in one unit"),
        (lambda: sf.stack_up(centers_um=[1.0, 2.0], half_widths_um=[0.1]), "half_widths needs 2 elements"),
        (lambda: sf.stack_up(centers_um=[1.0], half_widths_um=[-0.1]), "must be 0 or more"),
        (lambda: sf.equal_layer_half_width(0, total_half_width_um=1.0), "must be 1 or more"),
    ],
)
def test_what_cannot_be_meant_is_refused(call: Any, words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        call()


# -- tables -------------------------------------------------------------------------------------------------------------


def test_layers_of_a_table_are_differences_of_means_spot_by_spot() -> None:
    rows = build_table()
    found = derive(rows)
    film = np.array(rows["film"]).reshape(-1, 3, 3)  # spot, coat, repeat: rows come in this order
    means = film.mean(axis=2)
    expected = np.diff(means, axis=1, prepend=0.0)
    for k, layer in enumerate(found.layers):
        assert layer.film == pytest.approx(expected[:, k], rel=1e-12)
        assert (layer.count, layer.mean) == (12, pytest.approx(expected[:, k].mean()))
    pooled = np.sqrt(film.var(axis=2, ddof=1).mean(axis=0))
    assert found.sigma_repeat == pytest.approx(pooled.tolist(), rel=1e-12)
    assert found.degrees_of_freedom == (24, 24, 24)
    assert found.layers[1].uncertainty == pytest.approx(np.full(12, math.sqrt((pooled[0] ** 2 + pooled[1] ** 2) / 3)), rel=1e-12)
    assert found.neighbor_correlation[1] == pytest.approx(np.corrcoef(expected[:, 1], expected[:, 2])[0, 1], rel=1e-9)
    shared = -(pooled[1] ** 2) / 3 / (expected[:, 1].std(ddof=1) * expected[:, 2].std(ddof=1))
    assert found.shared_correlation[1] == pytest.approx(shared, rel=1e-9)
    assert found.unpaired == ()


def test_the_order_of_rows_does_not_matter_to_the_layers() -> None:
    rows = build_table()
    mixed = np.random.default_rng(1).permutation(len(rows["film"]))
    again = derive({name: [column[i] for i in mixed] for name, column in rows.items()})
    want = derive(rows)
    index = {key: i for i, key in enumerate(zip(want.keys["body"], want.keys["place"], strict=True))}
    at = [index[key] for key in zip(again.keys["body"], again.keys["place"], strict=True)]
    for one, two in zip(want.layers, again.layers, strict=True):
        assert two.film == pytest.approx(one.film[at], rel=1e-12)


def test_a_spot_without_a_partner_is_listed_and_never_dropped() -> None:
    found = derive(without(build_table(), ("N1", "roof", "coat 1"), ("N4", "door", "coat 0")))
    assert [(item.spot, item.build) for item in found.unpaired] == [("N1 / roof", "coat 1"), ("N4 / door", "coat 0")]
    assert (found.spot_count, found.complete_count, found.incomplete_count) == (12, 10, 2)
    # The missing middle build takes two layers, the missing first one two as well; what remains is kept.
    assert [layer.count for layer in found.layers] == [11, 10, 11]
    assert "2 spots lack a partner reading, first N1 / roof: no reading of 'coat 1'" in found.sentence()
    frame = found.to_frame("dict")
    assert len(frame["film"]) == 36
    assert sorted(set(frame["remark"])) == ["", "no reading of 'coat 0'", "no reading of 'coat 1'"]
    assert (frame["remark"] != "").sum() == np.isnan(frame["film"]).sum() == 4


def test_missing_readings_are_refused_or_leave_the_spot_listed() -> None:
    rows = build_table(repeats=1)
    rows["film"][4] = None
    with pytest.raises(sf.DataProblemsError, match=r"column 'film', row 5: reading is missing"):
        derive(rows)
    with pytest.warns(sf.MissingDataWarning):
        found = derive(rows, missing="drop")
    assert found.unpaired[0] == sf.UnpairedSpot("N0 / door", "coat 1", "missing reading of 'coat 1'")
    assert found.made.missing_rows == (5,)


def test_without_repeats_the_uncertainty_is_not_known_unless_given() -> None:
    rows = build_table(coats=2, repeats=1)
    assert np.isnan(derive(rows).layers[1].uncertainty).all()
    given = derive(rows, sigma_repeat={"coat 0": 0.6, "coat 1": 0.8})
    assert given.layers[1].uncertainty == pytest.approx(np.full(12, 1.0))
    assert given.layers[0].uncertainty == pytest.approx(np.full(12, 0.6))


def test_readings_at_different_spots_are_known_less_well_and_it_is_said() -> None:
    rows = build_table(coats=2)
    apart = derive(rows, same_spot=False, sigma_location=[2.0, 2.0], sigma_repeat=0.3)
    assert apart.layers[1].uncertainty == pytest.approx(np.full(12, math.sqrt(2 * 0.03 + 2 * 4.0)))
    assert "different spots" in apart.sentence()
    with pytest.raises(sf.InvalidInputError, match="sigma_location"):
        derive(rows, same_spot=False)


def test_degenerate_tables_are_answers() -> None:
    one = derive({"body": ["a"], "place": ["b"], "after": ["c"], "film": [30.0]})
    assert (one.layers[0].count, one.layers[0].mean) == (1, 30.0)
    same = derive({"body": ["a"] * 4, "place": ["b"] * 4, "after": ["p", "p", "q", "q"], "film": [30.0] * 4})
    assert same.layers[1].film.tolist() == [0.0]
    assert same.layers[1].uncertainty.tolist() == [0.0]
    assert "not above zero" in same.sentence()


def test_labels_that_fit_nothing_are_told() -> None:
    rows = build_table(coats=2)
    rows["after"] = ["wet" if i % 7 == 0 else name for i, name in enumerate(rows["after"])]
    found = derive(rows, order=["coat 0", "coat 1"])
    assert found.other_builds == {"wet": rows["after"].count("wet")}
    assert "left alone: 11 of 'wet'" in found.sentence()
    with pytest.raises(sf.DataProblemsError, match=r"(?s)no reading of this build.*Nearest labels: 'coat"):
        derive(rows, order=["coat 0", "coat1"])
    with pytest.raises(sf.InvalidInputError, match="different builds"):
        derive(rows, order=["coat 0", "coat 0"])
    with pytest.raises(sf.InvalidInputError, match="names needs 2"):
        derive(rows, order=["coat 0", "coat 1"], names=["film"])
    rows["body"][3] = None
    with pytest.raises(sf.DataProblemsError, match=r"column 'body', row 4: label is missing"):
        derive(rows, order=["coat 0", "coat 1"])


@pytest.mark.parametrize("kind", ["pandas", "polars", "pyarrow"])
def test_any_table_comes_back_in_its_kind(kind: str) -> None:
    from steadyfilm._input import make_table

    rows = build_table()
    table = make_table({name: np.array(column) for name, column in rows.items()}, kind)
    found = derive(table, order=["coat 0", "coat 1", "coat 2"])
    assert type(found.to_frame()).__module__.startswith(kind)
    assert found.layers[2].film == pytest.approx(derive(rows).layers[2].film)


# -- windows ------------------------------------------------------------------------------------------------------------


def test_windows_of_layers_that_conform_imply_the_total_and_not_the_other_way_round() -> None:
    found = sf.window_consistency({"primer": (1.0, 1.2), "topcoat": (2.0, 2.2)}, (3.0, 3.5), unit="mil")
    assert found.implied
    assert (found.room_below, found.room_above) == pytest.approx((0.0, 0.1), abs=1e-12)
    # Primer 0.8 under topcoat 2.4 is 3.2: the total conforms, neither layer does.
    assert found.layer_lower == pytest.approx([0.8, 1.8])
    assert found.layer_upper == pytest.approx([1.5, 2.5])
    assert "the layers aim at 3.20 mil, the total at 3.25" in found.sentence()
    tight = sf.window_consistency({"primer": (1.0, 1.2), "topcoat": (2.0, 2.2)}, (3.05, 3.35), unit="mil")
    assert not tight.implied
    assert "can miss the total's window, 3.05 to 3.35 mil: 0.05 mil too thin or 0.05 mil too thick" in tight.sentence()


@given(
    st.lists(st.tuples(st.integers(10, 90), st.integers(1, 30)), min_size=1, max_size=4), st.integers(-9, 9), st.integers(-9, 9)
)
def test_the_answer_agrees_with_every_corner_of_the_windows(layers: list[tuple[int, int]], below: int, above: int) -> None:
    low, high = sum(a for a, _ in layers), sum(a + w for a, w in layers)
    total = (low + below, high + above)
    assume(total[0] < total[1])
    windows = {f"layer {k}": (a / 10, (a + w) / 10) for k, (a, w) in enumerate(layers)}
    found = sf.window_consistency(windows, (total[0] / 10, total[1] / 10), unit="um")
    corners = [sum(ends) for ends in itertools.product(*[(a, a + w) for a, w in layers])]
    assert found.implied == all(total[0] <= corner <= total[1] for corner in corners)


# -- what a change points to --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("primer", "total", "causes"),
    [
        (1.1, 3.35, ["heavier or thinner topcoat"]),
        (1.25, 3.35, ["zero error of the gauge", "heavier or thinner primer"]),
        (0.95, 3.2, ["primer read with another zero, or before it was hard"]),
        (1.1 * 1.08, 3.2 * 1.08, ["gain error of the gauge"]),
        (1.25, 3.05, []),
        (1.11, 3.19, []),
    ],
)
def test_signatures_name_every_cause_that_explains_both_changes(primer: float, total: float, causes: list[str]) -> None:
    assert list(diagnose(primer_mil=primer, total_mil=total).causes) == causes


def test_a_slip_of_units_is_told_and_not_taken_for_film() -> None:
    both = diagnose(primer_mil=28.0, total_mil=81.3)
    assert both.sentence().startswith("Readings of the primer and total are in the other unit")
    assert diagnose(primer_mil=28.0, total_mil=3.2).slip == "primer"
    assert diagnose(primer_mil=1.0, total_mil=71.3).slip == "total"  # and thin besides
    assert (
        sf.diagnose_layers(
            primer_um=1.1, total_um=81.0, usual_primer_um=28.0, usual_total_um=81.0, sigma_primer_um=0.5, sigma_total_um=0.5
        ).slip
        == "primer"
    )
    assert not any(fit.fits for fit in both.fits)


def test_what_chance_brings_is_no_change_and_two_causes_at_once_are_none_of_the_table() -> None:
    assert "No change beyond what the measurement brings" in diagnose(primer_mil=1.11, total_mil=3.19).sentence()
    assert "more than one thing has changed" in diagnose(primer_mil=1.25, total_mil=3.05).sentence()


@given(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.floats(0.01, 0.2), st.floats(0.01, 0.2))
def test_fits_agree_with_weighted_least_squares(primer: float, total: float, one: float, two: float) -> None:
    found = sf.diagnose_layers(
        primer_um=30.0 + primer,
        total_um=80.0 + total,
        usual_primer_um=30.0,
        usual_total_um=80.0,
        sigma_primer_um=one,
        sigma_total_um=two,
    )
    patterns = {"equal": (1.0, 1.0), "total alone": (0.0, 1.0), "primer alone": (1.0, 0.0), "in proportion": (30.0, 80.0)}
    seen = np.array([found.primer_change / one, found.total_change / two])
    for fit in found.fits:
        line = np.array(patterns[fit.pattern]) / [one, two]
        size, left, _, _ = np.linalg.lstsq(line[:, None], seen, rcond=None)
        assert fit.size == pytest.approx(size[0], rel=1e-9, abs=1e-12)
        assert fit.misfit == pytest.approx(float(left[0]) if left.size else 0.0, rel=1e-6, abs=1e-9)
        assert fit.p_value == pytest.approx(stats.chi2.sf(fit.misfit, 1), rel=1e-9)
    assert found.p_value == pytest.approx(stats.chi2.sf(found.chi_square, 2), rel=1e-9)


def test_the_table_of_signatures_follows_from_the_gauge_model() -> None:
    primer, topcoat = 1.1, 2.1
    moves = {
        "equal": ((primer + 0.1, primer + topcoat + 0.1),),
        "total alone": ((primer, primer + topcoat + 0.1),),
        "primer alone": ((primer + 0.1, primer + topcoat),),
        "in proportion": ((1.03 * primer, 1.03 * (primer + topcoat)),),
        "factor 25.4": ((25.4 * primer, 25.4 * (primer + topcoat)),),
    }
    sign = {1: "+", 0: "0", -1: "-"}
    for signature in sf.LAYER_SIGNATURES:
        for first, second in moves[signature.pattern]:
            changes = (first - primer, second - primer - topcoat, second - first - topcoat)
            if signature.primer.startswith("x"):
                factor = float(signature.primer.removeprefix("x "))
                assert (first / primer, second / (primer + topcoat), (second - first) / topcoat) == pytest.approx((factor,) * 3)
                continue
            told = tuple(sign[0 if abs(x) < 1e-9 else int(np.sign(x))] for x in changes)
            assert told == (signature.primer, signature.total, signature.topcoat)


def test_the_soft_coat_is_warned_of_where_layers_are_derived() -> None:
    assert "before it is hard reads thin" in derive(build_table()).explain().choices["soft coats"]
    assert "data sheet" in sf.SOFT_COAT


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: sf.window_consistency({}, (1.0, 2.0), unit="mil"), "layers"),
        (lambda: sf.window_consistency({"a": (2.0, 1.0)}, (1.0, 2.0), unit="mil"), "lower below upper"),
        (lambda: diagnose(primer_mil=0.0, total_mil=3.2), "primer must be above 0"),
        (lambda: diagnose(primer_mil=1.1, total_um=81.0), "in one unit"),
        (lambda: diagnose(primer_mil=1.1), "total_um or total_mil is needed"),
        (lambda: diagnose(primer_mil=1.1, total_mil=3.2, significance=0.0), "significance must lie between"),
    ],
)
def test_windows_and_changes_that_cannot_be_meant_are_refused(call: Any, words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        call()
