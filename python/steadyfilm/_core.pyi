"""
Compiled core of steadyfilm; private, see the typed modules in front of it.
"""

from __future__ import annotations
import collections.abc
import numpy
import numpy.typing
import typing

__all__: list[str] = [
    "activation_energy_from_schedule",
    "air_falls",
    "air_recovery",
    "beta_cdf",
    "beta_quantile",
    "beta_survival",
    "binomial_cdf",
    "body_components",
    "c4",
    "c5",
    "capability",
    "capability_from_moments",
    "capability_indices",
    "cell_means",
    "chart_factors",
    "chart_streams",
    "chi_match_degrees_of_freedom",
    "chi_square_cdf",
    "chi_square_quantile",
    "chi_square_survival",
    "cp_interval",
    "cpk_interval",
    "cpk_sampling_distribution",
    "cpm_index",
    "cpm_interval",
    "cure_equivalence",
    "cure_rate_factor",
    "d2",
    "d2_star",
    "d3",
    "degree_of_cure",
    "describe_rule",
    "differences_from_others",
    "dose_ratio",
    "episode_counts",
    "equal_layer_half_width",
    "equivalent_time",
    "equivalent_time_trapezoid",
    "ewma_chart",
    "ewma_reach",
    "f_cdf",
    "f_quantile",
    "f_survival",
    "fit_oven_lag",
    "fraction_outside",
    "gain_error",
    "gamma_cdf",
    "gamma_quantile",
    "gamma_survival",
    "hold_owed",
    "individuals_chart",
    "individuals_limits_from_averages",
    "instruction_set",
    "judge_place",
    "kamal_conversion",
    "kamal_peak",
    "layer_uncertainty",
    "meets_lower",
    "meets_upper",
    "monitor",
    "moving_range_degrees_of_freedom",
    "nested_chart",
    "nested_components",
    "nested_false_alarm",
    "noncentral_chi_square_cdf",
    "noncentral_chi_square_quantile",
    "noncentral_chi_square_survival",
    "noncentral_t_cdf",
    "noncentral_t_quantile",
    "noncentral_t_survival",
    "normal_cdf",
    "normal_quantile",
    "normal_survival",
    "nth_order_conversion",
    "one_sided_index_critical_value",
    "one_sided_index_interval",
    "one_sided_index_moments",
    "one_way_anova",
    "oven_lag",
    "oven_lag_equivalent_time",
    "pattern_points",
    "pattern_probability",
    "poisson_cdf",
    "rule_set",
    "rule_signals",
    "second_order_time_ratio",
    "shifted_capability",
    "stack_up",
    "student_t_cdf",
    "student_t_quantile",
    "student_t_survival",
    "subgroup_chart",
    "subgroup_limits_from_averages",
    "subgroup_signals",
    "successive_layers",
    "summarize",
    "time_above",
    "trace_logging",
    "trace_shape",
    "uniformity_survey",
    "version",
]

def activation_energy_from_schedule(
    temperature_c: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    minutes: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Activation energy that a schedule implies; see steadyfilm.cure_profile.
    """

def air_falls(
    time_min: numpy.typing.NDArray[numpy.float64],
    air_c: numpy.typing.NDArray[numpy.float64],
    level_c: typing.SupportsFloat | typing.SupportsIndex,
    band_k: typing.SupportsFloat | typing.SupportsIndex,
    least_min: typing.SupportsFloat | typing.SupportsIndex,
    recovery_min: typing.SupportsFloat | typing.SupportsIndex,
) -> list[typing.Any]:
    """
    Stretches in which the air fell; see steadyfilm.oven_survey.
    """

def air_recovery(
    time_min: numpy.typing.NDArray[numpy.float64],
    air_c: numpy.typing.NDArray[numpy.float64],
    level_c: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    How air comes back after a door; see steadyfilm.oven_survey.
    """

def beta_cdf(
    value: typing.SupportsFloat | typing.SupportsIndex,
    shape_1: typing.SupportsFloat | typing.SupportsIndex,
    shape_2: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def beta_quantile(
    probability: typing.SupportsFloat | typing.SupportsIndex,
    shape_1: typing.SupportsFloat | typing.SupportsIndex,
    shape_2: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def beta_survival(
    value: typing.SupportsFloat | typing.SupportsIndex,
    shape_1: typing.SupportsFloat | typing.SupportsIndex,
    shape_2: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def binomial_cdf(
    count: typing.SupportsFloat | typing.SupportsIndex,
    trials: typing.SupportsFloat | typing.SupportsIndex,
    probability: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def body_components(
    values: numpy.typing.NDArray[numpy.float64],
    location_count: typing.SupportsInt | typing.SupportsIndex,
    repeats: typing.SupportsInt | typing.SupportsIndex,
    units_per_day: numpy.typing.NDArray[numpy.int64],
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Components of the body model; see steadyfilm.variance_components.
    """

def c4(n: typing.SupportsFloat | typing.SupportsIndex) -> float: ...
def c5(n: typing.SupportsFloat | typing.SupportsIndex) -> float: ...
def capability(
    values: numpy.typing.NDArray[numpy.float64],
    lower: typing.SupportsFloat | typing.SupportsIndex | None,
    upper: typing.SupportsFloat | typing.SupportsIndex | None,
    target: typing.SupportsFloat | typing.SupportsIndex | None,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    cpm_definition: str,
    sigma_within: typing.SupportsFloat | typing.SupportsIndex | None,
    degrees_of_freedom_within: typing.SupportsFloat | typing.SupportsIndex | None,
    stable: bool | None,
) -> dict[str, typing.Any]: ...
def capability_from_moments(
    mean: typing.SupportsFloat | typing.SupportsIndex,
    sigma_total: typing.SupportsFloat | typing.SupportsIndex,
    count: typing.SupportsInt | typing.SupportsIndex,
    lower: typing.SupportsFloat | typing.SupportsIndex | None,
    upper: typing.SupportsFloat | typing.SupportsIndex | None,
    target: typing.SupportsFloat | typing.SupportsIndex | None,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    cpm_definition: str,
    sigma_within: typing.SupportsFloat | typing.SupportsIndex | None,
    degrees_of_freedom_within: typing.SupportsFloat | typing.SupportsIndex | None,
    stable: bool | None,
) -> dict[str, typing.Any]: ...
def capability_indices(
    mean: typing.SupportsFloat | typing.SupportsIndex,
    sigma: typing.SupportsFloat | typing.SupportsIndex,
    lower: typing.SupportsFloat | typing.SupportsIndex | None,
    upper: typing.SupportsFloat | typing.SupportsIndex | None,
    target: typing.SupportsFloat | typing.SupportsIndex | None,
) -> dict[str, typing.Any]: ...
def cell_means(
    values: numpy.typing.NDArray[numpy.float64],
    cell: numpy.typing.NDArray[numpy.int64],
    cells: typing.SupportsInt | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Mean and scatter of the readings of each cell; see steadyfilm.film_layers.
    """

def chart_factors(subgroup_size: typing.SupportsInt | typing.SupportsIndex) -> dict[str, typing.Any]: ...
def chart_streams(
    values: numpy.typing.NDArray[numpy.float64],
    takes_part: numpy.typing.NDArray[numpy.uint8],
    offsets: numpy.typing.NDArray[numpy.int64],
    multiples: numpy.typing.NDArray[numpy.float64],
    smoothing: typing.SupportsFloat | typing.SupportsIndex,
    fewest_points: typing.SupportsInt | typing.SupportsIndex,
    threads: typing.SupportsInt | typing.SupportsIndex,
    ewma: numpy.typing.NDArray[numpy.float64],
) -> dict[str, typing.Any]:
    """
    Chart each of many streams; see steadyfilm.streams.
    """

def chi_match_degrees_of_freedom(relative_variance: typing.SupportsFloat | typing.SupportsIndex) -> float: ...
def chi_square_cdf(
    value: typing.SupportsFloat | typing.SupportsIndex, degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex
) -> float: ...
def chi_square_quantile(
    probability: typing.SupportsFloat | typing.SupportsIndex, degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex
) -> float: ...
def chi_square_survival(
    value: typing.SupportsFloat | typing.SupportsIndex, degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex
) -> float: ...
def cp_interval(
    estimate: typing.SupportsFloat | typing.SupportsIndex,
    degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    sides: typing.SupportsInt | typing.SupportsIndex,
) -> dict[str, typing.Any]: ...
def cpk_interval(
    estimate: typing.SupportsFloat | typing.SupportsIndex,
    sample_size: typing.SupportsInt | typing.SupportsIndex,
    degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    sides: typing.SupportsInt | typing.SupportsIndex,
    method: str,
) -> dict[str, typing.Any]: ...
def cpk_sampling_distribution(
    cpk: typing.SupportsFloat | typing.SupportsIndex,
    off_center_sigma: typing.SupportsFloat | typing.SupportsIndex,
    sample_size: typing.SupportsInt | typing.SupportsIndex,
    alpha: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]: ...
def cpm_index(
    values: numpy.typing.NDArray[numpy.float64],
    lower: typing.SupportsFloat | typing.SupportsIndex | None,
    upper: typing.SupportsFloat | typing.SupportsIndex | None,
    target: typing.SupportsFloat | typing.SupportsIndex | None,
    definition: str,
) -> float: ...
def cpm_interval(
    estimate: typing.SupportsFloat | typing.SupportsIndex,
    sample_size: typing.SupportsInt | typing.SupportsIndex,
    off_target_sigma: typing.SupportsFloat | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    sides: typing.SupportsInt | typing.SupportsIndex,
    method: str,
) -> dict[str, typing.Any]: ...
def cure_equivalence(
    model: str,
    pre_exponential_per_min: typing.SupportsFloat | typing.SupportsIndex,
    activation_energy_kj: typing.SupportsFloat | typing.SupportsIndex,
    second_pre_exponential_per_min: typing.SupportsFloat | typing.SupportsIndex,
    second_activation_energy_kj: typing.SupportsFloat | typing.SupportsIndex,
    m: typing.SupportsFloat | typing.SupportsIndex,
    n: typing.SupportsFloat | typing.SupportsIndex,
    diffusion: bool,
) -> dict[str, typing.Any]:
    """
    What equivalent time is worth for a model; see steadyfilm.cure_kinetics.
    """

def cure_rate_factor(
    temperature_c: typing.SupportsFloat | typing.SupportsIndex,
    activation_energy_kj: typing.SupportsFloat | typing.SupportsIndex,
    reference_c: typing.SupportsFloat | typing.SupportsIndex,
) -> float:
    """
    Minutes at the reference that one minute is worth; see steadyfilm.cure_profile.
    """

def d2(subgroup_size: typing.SupportsInt | typing.SupportsIndex) -> float: ...
def d2_star(
    groups: typing.SupportsInt | typing.SupportsIndex, subgroup_size: typing.SupportsInt | typing.SupportsIndex
) -> dict[str, typing.Any]: ...
def d3(subgroup_size: typing.SupportsInt | typing.SupportsIndex) -> float: ...
def degree_of_cure(
    time_min: numpy.typing.NDArray[numpy.float64],
    temperature_c: numpy.typing.NDArray[numpy.float64],
    model: str,
    pre_exponential_per_min: typing.SupportsFloat | typing.SupportsIndex,
    activation_energy_kj: typing.SupportsFloat | typing.SupportsIndex,
    second_pre_exponential_per_min: typing.SupportsFloat | typing.SupportsIndex,
    second_activation_energy_kj: typing.SupportsFloat | typing.SupportsIndex,
    m: typing.SupportsFloat | typing.SupportsIndex,
    n: typing.SupportsFloat | typing.SupportsIndex,
    initial_conversion: typing.SupportsFloat | typing.SupportsIndex,
    diffusion: typing.Annotated[collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex], "FixedSize(3)"] | None,
    gas_constant_j: typing.SupportsFloat | typing.SupportsIndex,
    conversion: numpy.typing.NDArray[numpy.float64],
) -> None:
    """
    Conversion at each reading of a trace; see steadyfilm.cure_kinetics.
    """

def describe_rule(word: str) -> str:
    """
    Shop words of a rule; see steadyfilm.run_rules.
    """

def differences_from_others(
    values: numpy.typing.NDArray[numpy.float64],
    stream: numpy.typing.NDArray[numpy.int64],
    moment: numpy.typing.NDArray[numpy.int64],
    centers: numpy.typing.NDArray[numpy.float64],
    reference: numpy.typing.NDArray[numpy.uint8],
    difference: numpy.typing.NDArray[numpy.float64],
    level: numpy.typing.NDArray[numpy.float64],
) -> None:
    """
    Distance of each point from the others at its moment; see steadyfilm.streams.
    """

def dose_ratio(
    target_c: typing.SupportsFloat | typing.SupportsIndex,
    tolerance_k: typing.SupportsFloat | typing.SupportsIndex,
    activation_energy_kj: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    What a tolerance means for the dose; see steadyfilm.oven_survey.
    """

def episode_counts(
    limits: dict[str, typing.Any], value: numpy.typing.NDArray[numpy.float64], offsets: numpy.typing.NDArray[numpy.int64]
) -> numpy.typing.NDArray[numpy.int64]:
    """
    Episodes of each of many series; see steadyfilm.baseline.expected_episodes.
    """

def equal_layer_half_width(
    total_half_width: typing.SupportsFloat | typing.SupportsIndex,
    layer_count: typing.SupportsInt | typing.SupportsIndex,
    correlation: typing.SupportsFloat | typing.SupportsIndex,
) -> float:
    """
    Share of a total's half width; see steadyfilm.film_layers.
    """

def equivalent_time(
    time_min: numpy.typing.NDArray[numpy.float64],
    temperature_c: numpy.typing.NDArray[numpy.float64],
    activation_energy_kj: typing.SupportsFloat | typing.SupportsIndex,
    reference_c: typing.SupportsFloat | typing.SupportsIndex,
    state: numpy.typing.NDArray[numpy.uint8],
    gap_medians: typing.SupportsFloat | typing.SupportsIndex,
    begin_min: typing.SupportsFloat | typing.SupportsIndex | None,
    end_min: typing.SupportsFloat | typing.SupportsIndex | None,
    threads: typing.SupportsInt | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Minutes at the reference that cure as much; see steadyfilm.cure_profile.
    """

def equivalent_time_trapezoid(
    time_min: numpy.typing.NDArray[numpy.float64],
    temperature_c: numpy.typing.NDArray[numpy.float64],
    activation_energy_kj: typing.SupportsFloat | typing.SupportsIndex,
    reference_c: typing.SupportsFloat | typing.SupportsIndex,
    sample_min: typing.SupportsFloat | typing.SupportsIndex | None,
    gap_medians: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    The same by the trapezoid of the factor; see steadyfilm.cure_profile.
    """

def ewma_chart(
    values: numpy.typing.NDArray[numpy.float64],
    takes_part: numpy.typing.NDArray[numpy.uint8],
    break_before: numpy.typing.NDArray[numpy.uint8],
    smoothing: typing.SupportsFloat | typing.SupportsIndex,
    sigma_multiple: typing.SupportsFloat | typing.SupportsIndex,
    time_varying: bool,
    center: typing.SupportsFloat | typing.SupportsIndex | None,
    sigma_point: typing.SupportsFloat | typing.SupportsIndex | None,
) -> dict[str, typing.Any]:
    """
    EWMA chart; see steadyfilm.chart_ewma.
    """

def ewma_reach(
    smoothing: typing.SupportsFloat | typing.SupportsIndex,
    ewma_multiple: typing.SupportsFloat | typing.SupportsIndex,
    time_varying: bool,
    count: typing.SupportsInt | typing.SupportsIndex,
) -> float:
    """
    Distance of EWMA limits from the center in sigma; see steadyfilm.monitor.
    """

def f_cdf(
    value: typing.SupportsFloat | typing.SupportsIndex,
    numerator_df: typing.SupportsFloat | typing.SupportsIndex,
    denominator_df: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def f_quantile(
    probability: typing.SupportsFloat | typing.SupportsIndex,
    numerator_df: typing.SupportsFloat | typing.SupportsIndex,
    denominator_df: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def f_survival(
    value: typing.SupportsFloat | typing.SupportsIndex,
    numerator_df: typing.SupportsFloat | typing.SupportsIndex,
    denominator_df: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def fit_oven_lag(
    time_min: numpy.typing.NDArray[numpy.float64],
    air_c: numpy.typing.NDArray[numpy.float64],
    part_c: numpy.typing.NDArray[numpy.float64],
) -> dict[str, typing.Any]:
    """
    Lag of a part behind the air; see steadyfilm.cure_profile.
    """

def fraction_outside(
    mean: typing.SupportsFloat | typing.SupportsIndex,
    sigma: typing.SupportsFloat | typing.SupportsIndex,
    lower: typing.SupportsFloat | typing.SupportsIndex | None,
    upper: typing.SupportsFloat | typing.SupportsIndex | None,
) -> dict[str, typing.Any]: ...
def gain_error(gain: typing.SupportsFloat | typing.SupportsIndex, layer: typing.SupportsFloat | typing.SupportsIndex) -> float:
    """
    Error of a layer from an error of the scale; see steadyfilm.film_layers.
    """

def gamma_cdf(
    value: typing.SupportsFloat | typing.SupportsIndex,
    shape: typing.SupportsFloat | typing.SupportsIndex,
    rate: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def gamma_quantile(
    probability: typing.SupportsFloat | typing.SupportsIndex,
    shape: typing.SupportsFloat | typing.SupportsIndex,
    rate: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def gamma_survival(
    value: typing.SupportsFloat | typing.SupportsIndex,
    shape: typing.SupportsFloat | typing.SupportsIndex,
    rate: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def hold_owed(
    time_min: numpy.typing.NDArray[numpy.float64],
    temperature_c: numpy.typing.NDArray[numpy.float64],
    schedule_c: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    schedule_min: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    maximum_c: typing.SupportsFloat | typing.SupportsIndex | None,
    dose_min: typing.SupportsFloat | typing.SupportsIndex | None,
    activation_energy_kj: typing.SupportsFloat | typing.SupportsIndex,
    reference_c: typing.SupportsFloat | typing.SupportsIndex,
    unbroken: bool,
    hold_c: typing.SupportsFloat | typing.SupportsIndex,
    state: numpy.typing.NDArray[numpy.uint8],
    gap_medians: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Minutes still owed at a hold; see steadyfilm.cure_profile.
    """

def individuals_chart(
    values: numpy.typing.NDArray[numpy.float64],
    takes_part: numpy.typing.NDArray[numpy.uint8],
    break_before: numpy.typing.NDArray[numpy.uint8],
    span: typing.SupportsInt | typing.SupportsIndex,
    estimator: str,
    sigma_multiple: typing.SupportsFloat | typing.SupportsIndex,
    center: typing.SupportsFloat | typing.SupportsIndex | None,
    sigma_within: typing.SupportsFloat | typing.SupportsIndex | None,
    divisor: typing.SupportsFloat | typing.SupportsIndex | None,
) -> dict[str, typing.Any]:
    """
    Individuals and moving-range chart; see steadyfilm.chart_individuals.
    """

def individuals_limits_from_averages(
    center: typing.SupportsFloat | typing.SupportsIndex,
    mean_moving_range: typing.SupportsFloat | typing.SupportsIndex,
    span: typing.SupportsInt | typing.SupportsIndex,
    estimator: str,
    sigma_multiple: typing.SupportsFloat | typing.SupportsIndex,
    divisor: typing.SupportsFloat | typing.SupportsIndex | None,
) -> dict[str, typing.Any]:
    """
    Limits from averages alone; see steadyfilm.chart_individuals.
    """

def instruction_set() -> str:
    """
    Instruction set of the long loops: baseline, v3 or v4.
    """

def judge_place(
    time_min: numpy.typing.NDArray[numpy.float64],
    temperature_c: numpy.typing.NDArray[numpy.float64],
    schedule_c: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    schedule_min: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    maximum_c: typing.SupportsFloat | typing.SupportsIndex | None,
    dose_min: typing.SupportsFloat | typing.SupportsIndex | None,
    activation_energy_kj: typing.SupportsFloat | typing.SupportsIndex,
    reference_c: typing.SupportsFloat | typing.SupportsIndex,
    unbroken: bool,
    dose_role: str,
    state: numpy.typing.NDArray[numpy.uint8],
    gap_medians: typing.SupportsFloat | typing.SupportsIndex,
    begin_min: typing.SupportsFloat | typing.SupportsIndex | None,
    end_min: typing.SupportsFloat | typing.SupportsIndex | None,
) -> dict[str, typing.Any]:
    """
    Whether a place had its cure; see steadyfilm.cure_profile.
    """

def kamal_conversion(
    k1_per_min: typing.SupportsFloat | typing.SupportsIndex,
    k2_per_min: typing.SupportsFloat | typing.SupportsIndex,
    m: typing.SupportsFloat | typing.SupportsIndex,
    n: typing.SupportsFloat | typing.SupportsIndex,
    initial_conversion: typing.SupportsFloat | typing.SupportsIndex,
    time_min: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
) -> numpy.typing.NDArray[numpy.float64]:
    """
    Conversion at one temperature; see steadyfilm.cure_kinetics.
    """

def kamal_peak(
    k1_per_min: typing.SupportsFloat | typing.SupportsIndex, k2_per_min: typing.SupportsFloat | typing.SupportsIndex
) -> dict[str, typing.Any]:
    """
    When the rate is largest; see steadyfilm.cure_kinetics.
    """

def layer_uncertainty(
    readings: collections.abc.Sequence[typing.SupportsInt | typing.SupportsIndex],
    sigma_repeat: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    sigma_location: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    same_spot: bool,
    locations: typing.SupportsInt | typing.SupportsIndex,
    sigma_offset: typing.SupportsFloat | typing.SupportsIndex,
    same_zero: bool,
    gain: typing.SupportsFloat | typing.SupportsIndex,
    layer: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
) -> dict[str, typing.Any]:
    """
    Uncertainty of layers found as differences; see steadyfilm.film_layers.
    """

def meets_lower(
    value: typing.SupportsFloat | typing.SupportsIndex, limit: typing.SupportsFloat | typing.SupportsIndex
) -> bool: ...
def meets_upper(
    value: typing.SupportsFloat | typing.SupportsIndex, limit: typing.SupportsFloat | typing.SupportsIndex
) -> bool: ...
def monitor(
    limits: dict[str, typing.Any],
    state: dict[str, typing.Any],
    value: numpy.typing.NDArray[numpy.float64],
    takes_part: numpy.typing.NDArray[numpy.uint8],
    break_before: numpy.typing.NDArray[numpy.uint8],
    center: numpy.typing.NDArray[numpy.float64],
    sigma_point: numpy.typing.NDArray[numpy.float64],
    offsets: numpy.typing.NDArray[numpy.int64],
) -> dict[str, typing.Any]:
    """
    Judge new points against fixed limits; see steadyfilm.monitor.
    """

def moving_range_degrees_of_freedom(
    ranges: typing.SupportsInt | typing.SupportsIndex, adjacent_ranges: typing.SupportsInt | typing.SupportsIndex
) -> float: ...
def nested_chart(
    values: numpy.typing.NDArray[numpy.float64],
    location_count: typing.SupportsInt | typing.SupportsIndex,
    repeats: typing.SupportsInt | typing.SupportsIndex,
    takes_part: numpy.typing.NDArray[numpy.uint8],
    break_before: numpy.typing.NDArray[numpy.uint8],
    spread: str,
    estimator: str,
    sigma_multiple: typing.SupportsFloat | typing.SupportsIndex,
    center: typing.SupportsFloat | typing.SupportsIndex | None,
    sigma_average: typing.SupportsFloat | typing.SupportsIndex | None,
    sigma_inside: typing.SupportsFloat | typing.SupportsIndex | None,
    location_means: numpy.typing.NDArray[numpy.float64],
) -> dict[str, typing.Any]:
    """
    Chart of nested readings; see steadyfilm.chart_nested.
    """

def nested_components(
    values: numpy.typing.NDArray[numpy.float64],
    counts: numpy.typing.NDArray[numpy.int64],
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Components of nested readings; see steadyfilm.variance_components.
    """

def nested_false_alarm(
    sigma_unit: typing.SupportsFloat | typing.SupportsIndex,
    sigma_location: typing.SupportsFloat | typing.SupportsIndex,
    sigma_repeat: typing.SupportsFloat | typing.SupportsIndex,
    location_count: typing.SupportsInt | typing.SupportsIndex,
    readings_per_location: typing.SupportsInt | typing.SupportsIndex,
    location_rms: typing.SupportsFloat | typing.SupportsIndex,
    sigma_multiple: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Chance that an ordinary averages chart calls an in-control unit; see steadyfilm.chart_nested.
    """

def noncentral_chi_square_cdf(
    value: typing.SupportsFloat | typing.SupportsIndex,
    degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex,
    noncentrality: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def noncentral_chi_square_quantile(
    probability: typing.SupportsFloat | typing.SupportsIndex,
    degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex,
    noncentrality: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def noncentral_chi_square_survival(
    value: typing.SupportsFloat | typing.SupportsIndex,
    degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex,
    noncentrality: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def noncentral_t_cdf(
    value: typing.SupportsFloat | typing.SupportsIndex,
    degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex,
    noncentrality: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def noncentral_t_quantile(
    probability: typing.SupportsFloat | typing.SupportsIndex,
    degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex,
    noncentrality: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def noncentral_t_survival(
    value: typing.SupportsFloat | typing.SupportsIndex,
    degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex,
    noncentrality: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def normal_cdf(value: typing.SupportsFloat | typing.SupportsIndex) -> float: ...
def normal_quantile(probability: typing.SupportsFloat | typing.SupportsIndex) -> float: ...
def normal_survival(value: typing.SupportsFloat | typing.SupportsIndex) -> float: ...
def nth_order_conversion(
    rate_per_min: typing.SupportsFloat | typing.SupportsIndex,
    time_min: typing.SupportsFloat | typing.SupportsIndex,
    order: typing.SupportsFloat | typing.SupportsIndex,
) -> float:
    """
    Conversion of nth order; see steadyfilm.cure_kinetics.
    """

def one_sided_index_critical_value(
    index: typing.SupportsFloat | typing.SupportsIndex,
    sample_size: typing.SupportsInt | typing.SupportsIndex,
    alpha: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def one_sided_index_interval(
    estimate: typing.SupportsFloat | typing.SupportsIndex,
    sample_size: typing.SupportsInt | typing.SupportsIndex,
    degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    sides: typing.SupportsInt | typing.SupportsIndex,
) -> dict[str, typing.Any]: ...
def one_sided_index_moments(
    index: typing.SupportsFloat | typing.SupportsIndex, sample_size: typing.SupportsInt | typing.SupportsIndex
) -> dict[str, typing.Any]: ...
def one_way_anova(
    values: numpy.typing.NDArray[numpy.float64], offsets: numpy.typing.NDArray[numpy.int64]
) -> dict[str, typing.Any]:
    """
    One-way table; see steadyfilm.variance_components.
    """

def oven_lag(
    air_c: typing.SupportsFloat | typing.SupportsIndex,
    start_c: typing.SupportsFloat | typing.SupportsIndex,
    time_constant_min: typing.SupportsFloat | typing.SupportsIndex,
    oven_min: typing.SupportsFloat | typing.SupportsIndex,
    threshold_c: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    A part that follows the air with a first-order lag; see steadyfilm.cure_profile.
    """

def oven_lag_equivalent_time(
    air_c: typing.SupportsFloat | typing.SupportsIndex,
    start_c: typing.SupportsFloat | typing.SupportsIndex,
    time_constant_min: typing.SupportsFloat | typing.SupportsIndex,
    oven_min: typing.SupportsFloat | typing.SupportsIndex,
    activation_energy_kj: typing.SupportsFloat | typing.SupportsIndex,
    reference_c: typing.SupportsFloat | typing.SupportsIndex,
) -> float:
    """
    Equivalent time of a part that follows the air; see steadyfilm.cure_profile.
    """

def pattern_points(
    z: numpy.typing.NDArray[numpy.float64],
    word: str,
    point: typing.SupportsInt | typing.SupportsIndex,
    side: typing.SupportsInt | typing.SupportsIndex,
    length: typing.SupportsInt | typing.SupportsIndex,
) -> list[int]:
    """
    Points that make up a signal's pattern; see steadyfilm.run_rules.
    """

def pattern_probability(word: str) -> float:
    """
    Chance that given points form a rule's pattern; see steadyfilm.run_rules.
    """

def poisson_cdf(
    count: typing.SupportsFloat | typing.SupportsIndex, mean: typing.SupportsFloat | typing.SupportsIndex
) -> float: ...
def rule_set(name: str) -> list[str]:
    """
    Words of a named set of rules; see steadyfilm.run_rules.
    """

def rule_signals(
    z: numpy.typing.NDArray[numpy.float64],
    takes_part: numpy.typing.NDArray[numpy.uint8],
    break_before: numpy.typing.NDArray[numpy.uint8],
    rules: collections.abc.Sequence[str],
    last_point_beyond: bool,
    clear_after_signal: bool,
) -> dict[str, typing.Any]:
    """
    Points at which a rule is met; see steadyfilm.run_rules.
    """

def second_order_time_ratio(
    from_conversion: typing.SupportsFloat | typing.SupportsIndex, to_conversion: typing.SupportsFloat | typing.SupportsIndex
) -> float:
    """
    Time to one conversion over another; see steadyfilm.cure_kinetics.
    """

def shifted_capability(
    cp: typing.SupportsFloat | typing.SupportsIndex, shift_sigma: typing.SupportsFloat | typing.SupportsIndex
) -> dict[str, typing.Any]: ...
def stack_up(
    centers: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    half_widths: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    correlation: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Total of layers within windows; see steadyfilm.film_layers.
    """

def student_t_cdf(
    value: typing.SupportsFloat | typing.SupportsIndex, degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex
) -> float: ...
def student_t_quantile(
    probability: typing.SupportsFloat | typing.SupportsIndex, degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex
) -> float: ...
def student_t_survival(
    value: typing.SupportsFloat | typing.SupportsIndex, degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex
) -> float: ...
def subgroup_chart(
    values: numpy.typing.NDArray[numpy.float64],
    offsets: numpy.typing.NDArray[numpy.uint64],
    takes_part: numpy.typing.NDArray[numpy.uint8],
    spread: str,
    estimator: str,
    sigma_multiple: typing.SupportsFloat | typing.SupportsIndex,
    center: typing.SupportsFloat | typing.SupportsIndex | None,
    sigma_within: typing.SupportsFloat | typing.SupportsIndex | None,
) -> dict[str, typing.Any]:
    """
    Subgroup chart; see steadyfilm.chart_subgroup.
    """

def subgroup_limits_from_averages(
    center: typing.SupportsFloat | typing.SupportsIndex,
    mean_spread: typing.SupportsFloat | typing.SupportsIndex,
    mean_factor: typing.SupportsFloat | typing.SupportsIndex,
    lower_factor: typing.SupportsFloat | typing.SupportsIndex,
    upper_factor: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Limits from averages alone; see steadyfilm.chart_subgroup.
    """

def subgroup_signals(
    values: numpy.typing.NDArray[numpy.float64],
    subgroup_size: typing.SupportsInt | typing.SupportsIndex,
    center: typing.SupportsFloat | typing.SupportsIndex | None,
    sigma_within: typing.SupportsFloat | typing.SupportsIndex | None,
    sigma_multiple: typing.SupportsFloat | typing.SupportsIndex,
    rules: collections.abc.Sequence[str],
    threads: typing.SupportsInt | typing.SupportsIndex,
    means: numpy.typing.NDArray[numpy.float64],
    ranges: numpy.typing.NDArray[numpy.float64],
) -> dict[str, typing.Any]:
    """
    Signals of very many equal subgroups; see steadyfilm.chart_subgroup.
    """

def successive_layers(
    builds: numpy.typing.NDArray[numpy.float64],
    coats: typing.SupportsInt | typing.SupportsIndex,
    layers: numpy.typing.NDArray[numpy.float64],
) -> None:
    """
    Layers from builds, row by row; see steadyfilm.film_layers.
    """

def summarize(values: numpy.typing.NDArray[numpy.float64]) -> dict[str, typing.Any]:
    """
    Moments of float64 values; see steadyfilm.summary.
    """

def time_above(
    time_min: numpy.typing.NDArray[numpy.float64],
    temperature_c: numpy.typing.NDArray[numpy.float64],
    threshold_c: typing.SupportsFloat | typing.SupportsIndex,
    state: numpy.typing.NDArray[numpy.uint8],
    gap_medians: typing.SupportsFloat | typing.SupportsIndex,
    begin_min: typing.SupportsFloat | typing.SupportsIndex | None,
    end_min: typing.SupportsFloat | typing.SupportsIndex | None,
    threads: typing.SupportsInt | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Time at or above a temperature; see steadyfilm.cure_profile.
    """

def trace_logging(
    time_min: numpy.typing.NDArray[numpy.float64],
    temperature_c: numpy.typing.NDArray[numpy.float64],
    state: numpy.typing.NDArray[numpy.uint8],
    gap_medians: typing.SupportsFloat | typing.SupportsIndex,
    begin_min: typing.SupportsFloat | typing.SupportsIndex | None,
    end_min: typing.SupportsFloat | typing.SupportsIndex | None,
) -> dict[str, typing.Any]:
    """
    Gaps and faulty stretches of a trace; see steadyfilm.cure_profile.
    """

def trace_shape(
    time_min: numpy.typing.NDArray[numpy.float64],
    temperature_c: numpy.typing.NDArray[numpy.float64],
    slope_window_min: typing.SupportsFloat | typing.SupportsIndex,
    soak_band_c: typing.SupportsFloat | typing.SupportsIndex,
    state: numpy.typing.NDArray[numpy.uint8],
    gap_medians: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Peak, ramp and soak of a trace; see steadyfilm.cure_profile.
    """

def uniformity_survey(
    readings: numpy.typing.NDArray[numpy.float64],
    places: typing.SupportsInt | typing.SupportsIndex,
    target_c: typing.SupportsFloat | typing.SupportsIndex,
    activation_energy_kj: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Cold and hot places of an oven; see steadyfilm.oven_survey.
    """

version: str
