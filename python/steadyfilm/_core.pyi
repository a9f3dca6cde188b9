"""
Compiled core of steadyfilm; private, see the typed modules in front of it.
"""

from __future__ import annotations
import collections.abc
import numpy
import numpy.typing
import typing

__all__: list[str] = [
    "AcceptanceLimits",
    "acceptance_limit_for_risk",
    "acceptance_limit_relative",
    "acceptance_risks",
    "activation_energy_from_schedule",
    "addition_volume",
    "agreement_table",
    "aim_point",
    "air_falls",
    "air_recovery",
    "appraiser_rates",
    "area_rule",
    "at_least",
    "average_acceptance_probability",
    "average_range",
    "average_range_from_ranges",
    "below_share_probability",
    "best_plan",
    "beta_cdf",
    "beta_quantile",
    "beta_survival",
    "bias_linearity",
    "bias_range_test",
    "bias_test",
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
    "cheapest_plan",
    "check_standard",
    "chi_match_degrees_of_freedom",
    "chi_square_cdf",
    "chi_square_quantile",
    "chi_square_survival",
    "coating_weight",
    "coating_weight_error",
    "cohen_kappa",
    "combine_levels",
    "compare_gauges",
    "conformance_probability",
    "count_for",
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
    "dft_after_solids_change",
    "diagnose_offset",
    "differences_from_others",
    "distance_weights",
    "dose_ratio",
    "drag_out_concentration",
    "dry_film",
    "episode_counts",
    "equal_layer_half_width",
    "equivalent_time",
    "equivalent_time_trapezoid",
    "ewma_chart",
    "ewma_reach",
    "exact_proportion",
    "f_cdf",
    "f_quantile",
    "f_survival",
    "false_accept_at_limit",
    "fit_oven_lag",
    "fit_pattern",
    "fit_rounded",
    "fleiss_kappa",
    "fleiss_kappa_with_reference",
    "follow_direction",
    "fraction_outside",
    "gain_error",
    "gamma_cdf",
    "gamma_quantile",
    "gamma_survival",
    "gauge_bootstrap",
    "gauge_factors",
    "gauge_intervals",
    "gauge_study",
    "gauge_window",
    "guard_band",
    "guard_band_classes",
    "guard_band_factor",
    "hold_owed",
    "hours_to_concentration",
    "individuals_chart",
    "individuals_limits_from_averages",
    "instruction_set",
    "judge_film",
    "judge_place",
    "kamal_conversion",
    "kamal_peak",
    "kendall_tau_with_reference",
    "kendall_w",
    "lane_episode_counts",
    "layer_uncertainty",
    "limit_met",
    "meets_lower",
    "meets_upper",
    "metered_use",
    "mixed_components",
    "mixed_voc",
    "mixed_volume_solids",
    "monitor",
    "moving_range_degrees_of_freedom",
    "nested_chart",
    "nested_components",
    "nested_false_alarm",
    "ninety_ten_rule",
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
    "operating_curve",
    "operating_point",
    "optimal_repeats",
    "oven_lag",
    "oven_lag_equivalent_time",
    "overbuild_cost",
    "pattern_points",
    "pattern_probability",
    "plan_study",
    "poisson_cdf",
    "pooled_sd",
    "pooled_sd_from_sds",
    "powder_coverage",
    "readings_for_half_width",
    "readings_for_window_share",
    "rinse_flow_for_ratio",
    "rinse_ratio",
    "rough_steel_rule",
    "roughness_corrections",
    "rounded_log_likelihood",
    "rounding_effect",
    "rule_set",
    "rule_signals",
    "scaled_bounds",
    "second_order_time_ratio",
    "share_below",
    "shifted_capability",
    "single_part_study",
    "single_value_window",
    "solids_coverage",
    "spot_mean",
    "spreading_rate",
    "stack_up",
    "student_t_cdf",
    "student_t_quantile",
    "student_t_survival",
    "study_interval",
    "subgroup_chart",
    "subgroup_limits_from_averages",
    "subgroup_signals",
    "successive_layers",
    "summarize",
    "thinner_allowance",
    "time_above",
    "titration_concentration",
    "trace_logging",
    "trace_shape",
    "unbalanced_gauge_study",
    "uniformity_survey",
    "unit_average_uncertainty",
    "use_rates",
    "verification_limit",
    "version",
    "voc_content",
    "voc_per_solids",
    "wet_comb_step",
    "wet_film_target",
    "wet_step_as_dry",
    "window_consistency",
    "window_share",
    "window_steps",
    "zero_ranges",
]

class AcceptanceLimits:
    def __init__(
        self,
        reading: tuple[typing.SupportsFloat | typing.SupportsIndex | None, typing.SupportsFloat | typing.SupportsIndex | None],
        spot: tuple[typing.SupportsFloat | typing.SupportsIndex | None, typing.SupportsFloat | typing.SupportsIndex | None],
        area: tuple[typing.SupportsFloat | typing.SupportsIndex | None, typing.SupportsFloat | typing.SupportsIndex | None],
        unit: tuple[typing.SupportsFloat | typing.SupportsIndex | None, typing.SupportsFloat | typing.SupportsIndex | None],
        thin_below: typing.SupportsFloat | typing.SupportsIndex | None,
        thin_share: typing.SupportsFloat | typing.SupportsIndex | None,
        thin_share_allowed: bool,
        readings_per_spot: typing.SupportsInt | typing.SupportsIndex,
        spots_per_area: typing.SupportsInt | typing.SupportsIndex,
    ) -> None: ...

def acceptance_limit_for_risk(
    process: str,
    first: typing.SupportsFloat | typing.SupportsIndex,
    second: typing.SupportsFloat | typing.SupportsIndex,
    lower: typing.SupportsFloat | typing.SupportsIndex | None,
    upper: typing.SupportsFloat | typing.SupportsIndex | None,
    standard_uncertainty: typing.SupportsFloat | typing.SupportsIndex,
    consumer_risk: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Acceptance limits for a consumer's risk; see steadyfilm.conformity.
    """

def acceptance_limit_relative(
    limit: typing.SupportsFloat | typing.SupportsIndex,
    relative_uncertainty: typing.SupportsFloat | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    side: str,
) -> float:
    """
    Acceptance limit for an uncertainty that is a share of the value; see steadyfilm.conformity.
    """

def acceptance_risks(
    process: str,
    first: typing.SupportsFloat | typing.SupportsIndex,
    second: typing.SupportsFloat | typing.SupportsIndex,
    lower: typing.SupportsFloat | typing.SupportsIndex | None,
    upper: typing.SupportsFloat | typing.SupportsIndex | None,
    standard_uncertainty: typing.SupportsFloat | typing.SupportsIndex,
    accept_lower: typing.SupportsFloat | typing.SupportsIndex | None,
    accept_upper: typing.SupportsFloat | typing.SupportsIndex | None,
) -> dict[str, typing.Any]:
    """
    Consumer's and producer's risk by the joint integral; see steadyfilm.conformity.
    """

def activation_energy_from_schedule(
    temperature_c: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    minutes: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Activation energy that a schedule implies; see steadyfilm.cure_profile.
    """

def addition_volume(
    tank_volume: typing.SupportsFloat | typing.SupportsIndex,
    from_percent: typing.SupportsFloat | typing.SupportsIndex,
    to_percent: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Concentrate to pour in; see steadyfilm.wash_tank.
    """

def agreement_table(
    judge_1: numpy.typing.NDArray[numpy.int64],
    judge_2: numpy.typing.NDArray[numpy.int64],
    categories: typing.SupportsInt | typing.SupportsIndex,
) -> numpy.typing.NDArray[numpy.int64]:
    """
    Counts of pairs of judgements; see steadyfilm.gauge_agreement.
    """

def aim_point(
    lower: typing.SupportsFloat | typing.SupportsIndex,
    sigma: typing.SupportsFloat | typing.SupportsIndex,
    z: typing.SupportsFloat | typing.SupportsIndex,
) -> float:
    """
    Mean above a lower limit; see steadyfilm.film_coverage.
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

def appraiser_rates(
    judgements: numpy.typing.NDArray[numpy.int64],
    trials: typing.SupportsInt | typing.SupportsIndex,
    reference: numpy.typing.NDArray[numpy.int64],
    rejects: numpy.typing.NDArray[numpy.uint8],
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Rates of one appraiser against a reference; see steadyfilm.gauge_agreement.
    """

def area_rule(level: typing.SupportsInt | typing.SupportsIndex) -> dict[str, typing.Any]:
    """
    Areas of spots with restriction levels; see steadyfilm.film_thickness.
    """

def at_least(value: typing.SupportsFloat | typing.SupportsIndex, limit: typing.SupportsFloat | typing.SupportsIndex) -> bool:
    """
    At or above a limit; see steadyfilm.film_thickness.
    """

def average_acceptance_probability(
    true_mean: typing.SupportsFloat | typing.SupportsIndex,
    lower: typing.SupportsFloat | typing.SupportsIndex,
    sigma_location: typing.SupportsFloat | typing.SupportsIndex,
    sigma_repeat: typing.SupportsFloat | typing.SupportsIndex,
    locations: typing.SupportsInt | typing.SupportsIndex,
    readings: typing.SupportsInt | typing.SupportsIndex,
) -> float:
    """
    Chance that an average meets a limit; see steadyfilm.film_thickness.
    """

def average_range(
    values: numpy.typing.NDArray[numpy.float64],
    part_count: typing.SupportsInt | typing.SupportsIndex,
    appraiser_count: typing.SupportsInt | typing.SupportsIndex,
    trial_count: typing.SupportsInt | typing.SupportsIndex,
    K1: typing.SupportsFloat | typing.SupportsIndex | None,
    K2: typing.SupportsFloat | typing.SupportsIndex | None,
    K3: typing.SupportsFloat | typing.SupportsIndex | None,
    D4: typing.SupportsFloat | typing.SupportsIndex | None,
) -> dict[str, typing.Any]:
    """
    A study by averages and ranges; see steadyfilm.gauge_rr.
    """

def average_range_from_ranges(
    mean_range: typing.SupportsFloat | typing.SupportsIndex,
    appraiser_difference: typing.SupportsFloat | typing.SupportsIndex,
    part_range: typing.SupportsFloat | typing.SupportsIndex,
    part_count: typing.SupportsInt | typing.SupportsIndex,
    appraiser_count: typing.SupportsInt | typing.SupportsIndex,
    trial_count: typing.SupportsInt | typing.SupportsIndex,
    K1: typing.SupportsFloat | typing.SupportsIndex | None,
    K2: typing.SupportsFloat | typing.SupportsIndex | None,
    K3: typing.SupportsFloat | typing.SupportsIndex | None,
    D4: typing.SupportsFloat | typing.SupportsIndex | None,
) -> dict[str, typing.Any]:
    """
    The same from three ranges; see steadyfilm.gauge_rr.
    """

def below_share_probability(
    mean_ratio: typing.SupportsFloat | typing.SupportsIndex,
    cv: typing.SupportsFloat | typing.SupportsIndex,
    fraction: typing.SupportsFloat | typing.SupportsIndex,
    readings: typing.SupportsInt | typing.SupportsIndex,
) -> float:
    """
    Chance of a low reading; see steadyfilm.film_thickness.
    """

def best_plan(
    sigma_location: typing.SupportsFloat | typing.SupportsIndex,
    sigma_repeat: typing.SupportsFloat | typing.SupportsIndex,
    sigma_common: typing.SupportsFloat | typing.SupportsIndex,
    cost_location: typing.SupportsFloat | typing.SupportsIndex,
    cost_reading: typing.SupportsFloat | typing.SupportsIndex,
    most_places: typing.SupportsInt | typing.SupportsIndex,
    budget: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    The most certain plan for a budget; see steadyfilm.planning.
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
def bias_linearity(
    values: numpy.typing.NDArray[numpy.float64],
    reference: numpy.typing.NDArray[numpy.float64],
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Regression of bias on reference; see steadyfilm.gauge_bias.
    """

def bias_range_test(
    values: numpy.typing.NDArray[numpy.float64],
    reference: typing.SupportsFloat | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    d2: typing.SupportsFloat | typing.SupportsIndex | None,
    d2_star: typing.SupportsFloat | typing.SupportsIndex | None,
    degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex | None,
) -> dict[str, typing.Any]:
    """
    Bias from the range; see steadyfilm.gauge_bias.
    """

def bias_test(
    values: numpy.typing.NDArray[numpy.float64],
    reference: typing.SupportsFloat | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    reference_uncertainty: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Bias by Student's t; see steadyfilm.gauge_bias.
    """

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

def cheapest_plan(
    sigma_location: typing.SupportsFloat | typing.SupportsIndex,
    sigma_repeat: typing.SupportsFloat | typing.SupportsIndex,
    sigma_common: typing.SupportsFloat | typing.SupportsIndex,
    cost_location: typing.SupportsFloat | typing.SupportsIndex,
    cost_reading: typing.SupportsFloat | typing.SupportsIndex,
    most_places: typing.SupportsInt | typing.SupportsIndex,
    uncertainty: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    The cheapest plan for an uncertainty; see steadyfilm.planning.
    """

def check_standard(
    readings: numpy.typing.NDArray[numpy.float64],
    stated: typing.SupportsFloat | typing.SupportsIndex,
    limit: typing.SupportsFloat | typing.SupportsIndex,
    judge_each: bool,
) -> dict[str, typing.Any]:
    """
    A gauge on one certified standard; see steadyfilm.gauge_bias.
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
def coating_weight(
    loss_mg: typing.SupportsFloat | typing.SupportsIndex, area_m2: typing.SupportsFloat | typing.SupportsIndex
) -> dict[str, typing.Any]:
    """
    Weight over area; see steadyfilm.wash_tank.
    """

def coating_weight_error(
    balance_mg: typing.SupportsFloat | typing.SupportsIndex,
    weighings: typing.SupportsInt | typing.SupportsIndex,
    area_m2: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Error of a coating weight; see steadyfilm.wash_tank.
    """

def cohen_kappa(
    table: numpy.typing.NDArray[numpy.int64],
    categories: typing.SupportsInt | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    disagreement_weights: numpy.typing.NDArray[numpy.float64],
) -> dict[str, typing.Any]:
    """
    Kappa of two judges from their table; see steadyfilm.gauge_agreement.
    """

def combine_levels(
    first: numpy.typing.NDArray[numpy.int32], second: numpy.typing.NDArray[numpy.int32]
) -> tuple[numpy.typing.NDArray[numpy.int32], int]:
    """
    Codes of the combinations that occur, and how many.
    """

def compare_gauges(
    first: numpy.typing.NDArray[numpy.float64],
    second: numpy.typing.NDArray[numpy.float64],
    margin: typing.SupportsFloat | typing.SupportsIndex,
    agreement_share: typing.SupportsFloat | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    significance: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Two gauges on the same panels; see steadyfilm.gauge_bias.
    """

def conformance_probability(
    value: typing.SupportsFloat | typing.SupportsIndex,
    standard_uncertainty: typing.SupportsFloat | typing.SupportsIndex,
    lower: typing.SupportsFloat | typing.SupportsIndex | None,
    upper: typing.SupportsFloat | typing.SupportsIndex | None,
    degrees_of_freedom: typing.SupportsFloat | typing.SupportsIndex | None,
) -> float:
    """
    Chance that the true value lies inside; see steadyfilm.conformity.
    """

def count_for(
    table: tuple[
        collections.abc.Sequence[tuple[typing.SupportsFloat | typing.SupportsIndex, typing.SupportsInt | typing.SupportsIndex]],
        typing.SupportsFloat | typing.SupportsIndex,
        typing.SupportsInt | typing.SupportsIndex,
    ],
    surface: typing.SupportsFloat | typing.SupportsIndex,
) -> int:
    """
    Count of a table for a surface; see steadyfilm.film_thickness.
    """

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

def dft_after_solids_change(
    dft: typing.SupportsFloat | typing.SupportsIndex,
    solids_from: typing.SupportsFloat | typing.SupportsIndex,
    solids_to: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Same wet film, other solids; see steadyfilm.film_coverage.
    """

def diagnose_offset(
    first_shift: typing.SupportsFloat | typing.SupportsIndex,
    first_uncertainty: typing.SupportsFloat | typing.SupportsIndex,
    total_shift: typing.SupportsFloat | typing.SupportsIndex,
    total_uncertainty: typing.SupportsFloat | typing.SupportsIndex,
    correlation: typing.SupportsFloat | typing.SupportsIndex,
    gauge_deviation: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    gauge_uncertainty: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    coverage_factor: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    A shift that all layers share; see steadyfilm.gauge_bias.
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

def distance_weights(
    categories: typing.SupportsInt | typing.SupportsIndex, power: typing.SupportsFloat | typing.SupportsIndex
) -> numpy.typing.NDArray[numpy.float64]:
    """
    Weights of ordered categories; see steadyfilm.gauge_agreement.
    """

def dose_ratio(
    target_c: typing.SupportsFloat | typing.SupportsIndex,
    tolerance_k: typing.SupportsFloat | typing.SupportsIndex,
    activation_energy_kj: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    What a tolerance means for the dose; see steadyfilm.oven_survey.
    """

def drag_out_concentration(
    tank_volume: typing.SupportsFloat | typing.SupportsIndex,
    loss_per_hour: typing.SupportsFloat | typing.SupportsIndex,
    start_percent: typing.SupportsFloat | typing.SupportsIndex,
    hours: typing.SupportsFloat | typing.SupportsIndex,
) -> float:
    """
    Concentration left after loss; see steadyfilm.wash_tank.
    """

def dry_film(
    wft: typing.SupportsFloat | typing.SupportsIndex,
    volume_solids: typing.SupportsFloat | typing.SupportsIndex,
    thinner_fraction: typing.SupportsFloat | typing.SupportsIndex,
) -> float:
    """
    Dry film of a wet one; see steadyfilm.film_coverage.
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

def exact_proportion(
    count: typing.SupportsInt | typing.SupportsIndex,
    total: typing.SupportsInt | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    A share with its exact binomial interval; see steadyfilm.gauge_agreement.
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
def false_accept_at_limit(
    guard_over_expanded: typing.SupportsFloat | typing.SupportsIndex, coverage_factor: typing.SupportsFloat | typing.SupportsIndex
) -> float:
    """
    Chance to accept a true value on the limit; see steadyfilm.conformity.
    """

def fit_oven_lag(
    time_min: numpy.typing.NDArray[numpy.float64],
    air_c: numpy.typing.NDArray[numpy.float64],
    part_c: numpy.typing.NDArray[numpy.float64],
) -> dict[str, typing.Any]:
    """
    Lag of a part behind the air; see steadyfilm.cure_profile.
    """

def fit_pattern(
    change_first: typing.SupportsFloat | typing.SupportsIndex,
    change_second: typing.SupportsFloat | typing.SupportsIndex,
    sigma_first: typing.SupportsFloat | typing.SupportsIndex,
    sigma_second: typing.SupportsFloat | typing.SupportsIndex,
    first: typing.SupportsFloat | typing.SupportsIndex,
    second: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    A pattern of changes of two builds against what was seen; see steadyfilm.film_layers.
    """

def fit_rounded(
    values: numpy.typing.NDArray[numpy.float64],
    step: typing.SupportsFloat | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Normal distribution fitted to rounded readings; see steadyfilm.resolution.
    """

def fleiss_kappa(
    counts: numpy.typing.NDArray[numpy.int64],
    categories: typing.SupportsInt | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Kappa of several judgements a subject; see steadyfilm.gauge_agreement.
    """

def fleiss_kappa_with_reference(
    judgements: numpy.typing.NDArray[numpy.int64],
    reference: numpy.typing.NDArray[numpy.int64],
    categories: typing.SupportsInt | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Kappa of judges with a reference; see steadyfilm.gauge_agreement.
    """

def follow_direction(
    spots: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    window: tuple[typing.SupportsFloat | typing.SupportsIndex | None, typing.SupportsFloat | typing.SupportsIndex | None],
    needed: typing.SupportsInt | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Where a search outward stands; see steadyfilm.film_thickness.
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
def gauge_bootstrap(
    sources: collections.abc.Sequence[
        tuple[
            str,
            str,
            typing.SupportsFloat | typing.SupportsIndex,
            typing.SupportsFloat | typing.SupportsIndex,
            typing.SupportsFloat | typing.SupportsIndex,
            collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
        ]
    ],
    degrees_of_freedom: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    ndc_ratio: typing.SupportsFloat | typing.SupportsIndex,
    replicates: typing.SupportsInt | typing.SupportsIndex,
    seed: typing.SupportsInt | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> list[typing.Any]:
    """
    Parametric bootstrap; see steadyfilm.gauge_rr.
    """

def gauge_factors(
    trial_count: typing.SupportsInt | typing.SupportsIndex,
    appraiser_count: typing.SupportsInt | typing.SupportsIndex,
    part_count: typing.SupportsInt | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Factors of ranges; see steadyfilm.gauge_rr.
    """

def gauge_intervals(
    ms_part: typing.SupportsFloat | typing.SupportsIndex,
    ms_appraiser: typing.SupportsFloat | typing.SupportsIndex,
    ms_interaction: typing.SupportsFloat | typing.SupportsIndex,
    ms_repeatability: typing.SupportsFloat | typing.SupportsIndex,
    part_count: typing.SupportsInt | typing.SupportsIndex,
    appraiser_count: typing.SupportsInt | typing.SupportsIndex,
    trial_count: typing.SupportsInt | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    method: str,
) -> dict[str, typing.Any]:
    """
    Intervals from mean squares; see steadyfilm.gauge_rr.
    """

def gauge_study(
    values: numpy.typing.NDArray[numpy.float64],
    factors: collections.abc.Sequence[
        tuple[str, typing.SupportsInt | typing.SupportsIndex, str, bool, typing.SupportsInt | typing.SupportsIndex]
    ],
    trial_count: typing.SupportsInt | typing.SupportsIndex,
    pooling_level: typing.SupportsFloat | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    interval_method: str,
    f_denominator: str,
) -> dict[str, typing.Any]:
    """
    A balanced study; see steadyfilm.gauge_rr.
    """

def gauge_window(
    sources: collections.abc.Sequence[
        tuple[
            str,
            str,
            typing.SupportsFloat | typing.SupportsIndex,
            typing.SupportsFloat | typing.SupportsIndex,
            typing.SupportsFloat | typing.SupportsIndex,
            collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
        ]
    ],
    lower: typing.SupportsFloat | typing.SupportsIndex | None,
    upper: typing.SupportsFloat | typing.SupportsIndex | None,
    mean: typing.SupportsFloat | typing.SupportsIndex,
    sigma_multiple: typing.SupportsFloat | typing.SupportsIndex,
    share_limit: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    A window against a study; see steadyfilm.gauge_rr.
    """

def guard_band(
    lower: typing.SupportsFloat | typing.SupportsIndex | None,
    upper: typing.SupportsFloat | typing.SupportsIndex | None,
    standard_uncertainty: typing.SupportsFloat | typing.SupportsIndex,
    alpha: typing.SupportsFloat | typing.SupportsIndex,
    bias_bound: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    A window drawn in and out by guard bands; see steadyfilm.conformity.
    """

def guard_band_classes(
    lower: typing.SupportsFloat | typing.SupportsIndex | None,
    upper: typing.SupportsFloat | typing.SupportsIndex | None,
    standard_uncertainty: typing.SupportsFloat | typing.SupportsIndex,
    alpha: typing.SupportsFloat | typing.SupportsIndex,
    bias_bound: typing.SupportsFloat | typing.SupportsIndex,
    values: numpy.typing.NDArray[numpy.float64],
) -> list[str]:
    """
    Clearly in, doubtful or clearly out; see steadyfilm.conformity.
    """

def guard_band_factor(
    alpha: typing.SupportsFloat | typing.SupportsIndex, sides: typing.SupportsInt | typing.SupportsIndex
) -> float:
    """
    Factor of the standard uncertainty in a guard band; see steadyfilm.conformity.
    """

def hold_owed(
    time_min: numpy.typing.NDArray[numpy.float64],
    temperature_c: numpy.typing.NDArray[numpy.float64],
    schedule_c: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    schedule_min: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    overbake_c: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    overbake_min: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
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

def hours_to_concentration(
    tank_volume: typing.SupportsFloat | typing.SupportsIndex,
    loss_per_hour: typing.SupportsFloat | typing.SupportsIndex,
    start_percent: typing.SupportsFloat | typing.SupportsIndex,
    level_percent: typing.SupportsFloat | typing.SupportsIndex,
) -> float:
    """
    Hours until a level; see steadyfilm.wash_tank.
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

def judge_film(
    limits: AcceptanceLimits,
    values: numpy.typing.NDArray[numpy.float64],
    spot_start: numpy.typing.NDArray[numpy.int64],
    area_start: numpy.typing.NDArray[numpy.int64],
    unit_start: numpy.typing.NDArray[numpy.int64],
    suspect: numpy.typing.NDArray[numpy.uint8],
    spot_taken: numpy.typing.NDArray[numpy.int64],
    areas_required: typing.SupportsInt | typing.SupportsIndex,
    readings_required: typing.SupportsInt | typing.SupportsIndex,
    guard: tuple[
        typing.SupportsFloat | typing.SupportsIndex,
        typing.SupportsFloat | typing.SupportsIndex,
        typing.SupportsFloat | typing.SupportsIndex,
    ]
    | None,
) -> dict[str, typing.Any]:
    """
    Judge units by limits; see steadyfilm.film_thickness.
    """

def judge_place(
    time_min: numpy.typing.NDArray[numpy.float64],
    temperature_c: numpy.typing.NDArray[numpy.float64],
    schedule_c: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    schedule_min: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    overbake_c: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    overbake_min: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
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

def kendall_tau_with_reference(
    ratings: numpy.typing.NDArray[numpy.float64],
    judges: typing.SupportsInt | typing.SupportsIndex,
    reference: numpy.typing.NDArray[numpy.float64],
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Rankings against a known order; see steadyfilm.gauge_agreement.
    """

def kendall_w(
    ratings: numpy.typing.NDArray[numpy.float64],
    judges: typing.SupportsInt | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Concordance of rankings; see steadyfilm.gauge_agreement.
    """

def lane_episode_counts(
    z: numpy.typing.NDArray[numpy.float64],
    lanes: typing.SupportsInt | typing.SupportsIndex,
    break_before: numpy.typing.NDArray[numpy.uint8],
    point_reach: typing.SupportsFloat | typing.SupportsIndex,
    smoothing: typing.SupportsFloat | typing.SupportsIndex,
    ewma_reach: typing.SupportsFloat | typing.SupportsIndex,
) -> numpy.typing.NDArray[numpy.int32]:
    """
    Episodes of each of many series that lie side by side; see steadyfilm.baseline.expected_episodes.
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

def limit_met(
    readings: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    limit: typing.SupportsFloat | typing.SupportsIndex,
    lower: bool,
) -> bool:
    """
    Whether a mean meets a limit; see steadyfilm.film_thickness.
    """

def meets_lower(
    value: typing.SupportsFloat | typing.SupportsIndex, limit: typing.SupportsFloat | typing.SupportsIndex
) -> bool: ...
def meets_upper(
    value: typing.SupportsFloat | typing.SupportsIndex, limit: typing.SupportsFloat | typing.SupportsIndex
) -> bool: ...
def metered_use(totals: numpy.typing.NDArray[numpy.float64]) -> numpy.typing.NDArray[numpy.float64]:
    """
    Differences of meter readings; see steadyfilm.wash_tank.
    """

def mixed_components(
    values: numpy.typing.NDArray[numpy.float64],
    random: collections.abc.Sequence[
        tuple[str, typing.Annotated[numpy.typing.ArrayLike, numpy.int32], typing.SupportsInt | typing.SupportsIndex]
    ],
    fixed: collections.abc.Sequence[
        tuple[str, typing.Annotated[numpy.typing.ArrayLike, numpy.int32], typing.SupportsInt | typing.SupportsIndex]
    ],
    covariates: collections.abc.Sequence[tuple[str, typing.Annotated[numpy.typing.ArrayLike, numpy.float64]]],
    restricted: bool,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    profile_intervals: bool,
) -> dict[str, typing.Any]:
    """
    Components by (restricted) maximum likelihood; see steadyfilm.variance_components.
    """

def mixed_voc(
    parts: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    voc: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
) -> float:
    """
    VOC of a mix; see steadyfilm.film_coverage.
    """

def mixed_volume_solids(
    parts: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    volume_solids: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    thinner_fraction: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Solids of a mix; see steadyfilm.film_coverage.
    """

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

def ninety_ten_rule() -> dict[str, typing.Any]:
    """
    The 90/10 rule; see steadyfilm.film_thickness.
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

@typing.overload
def operating_curve(
    means: numpy.typing.NDArray[numpy.float64],
    accept_lower: typing.SupportsFloat | typing.SupportsIndex | None,
    accept_upper: typing.SupportsFloat | typing.SupportsIndex | None,
    sigma_average: typing.SupportsFloat | typing.SupportsIndex,
    probability: numpy.typing.NDArray[numpy.float64],
) -> None:
    """
    Chance to accept at each true mean; see steadyfilm.conformity.
    """

@typing.overload
def operating_curve(
    limits: AcceptanceLimits,
    areas: typing.SupportsInt | typing.SupportsIndex,
    spots: typing.SupportsInt | typing.SupportsIndex,
    readings: typing.SupportsInt | typing.SupportsIndex,
    sigma_area: typing.SupportsFloat | typing.SupportsIndex,
    sigma_location: typing.SupportsFloat | typing.SupportsIndex,
    sigma_repeat: typing.SupportsFloat | typing.SupportsIndex,
    true_means: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    draws: typing.SupportsInt | typing.SupportsIndex,
    seed: typing.SupportsInt | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Operating curve of a rule and a plan; see steadyfilm.film_thickness.
    """

def operating_point(
    accept_lower: typing.SupportsFloat | typing.SupportsIndex | None,
    accept_upper: typing.SupportsFloat | typing.SupportsIndex | None,
    sigma_average: typing.SupportsFloat | typing.SupportsIndex,
    probability: typing.SupportsFloat | typing.SupportsIndex,
    side: str,
) -> float:
    """
    True mean that is accepted with a given chance; see steadyfilm.conformity.
    """

def optimal_repeats(
    sigma_location: typing.SupportsFloat | typing.SupportsIndex,
    sigma_repeat: typing.SupportsFloat | typing.SupportsIndex,
    cost_location: typing.SupportsFloat | typing.SupportsIndex,
    cost_reading: typing.SupportsFloat | typing.SupportsIndex,
) -> float:
    """
    Repeats a place for the money, not whole; see steadyfilm.planning.
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

def overbuild_cost(
    area: typing.SupportsFloat | typing.SupportsIndex,
    overbuild: typing.SupportsFloat | typing.SupportsIndex,
    metric: bool,
    volume_solids: typing.SupportsFloat | typing.SupportsIndex,
    transfer_efficiency: typing.SupportsFloat | typing.SupportsIndex,
    price: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Paint in film beyond the aim; see steadyfilm.film_coverage.
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

def plan_study(
    sigma_repeat: typing.SupportsFloat | typing.SupportsIndex,
    sigma_appraiser: typing.SupportsFloat | typing.SupportsIndex,
    sigma_interaction: typing.SupportsFloat | typing.SupportsIndex,
    relative_width: typing.SupportsFloat | typing.SupportsIndex,
    fewest_parts: typing.SupportsInt | typing.SupportsIndex,
    most_parts: typing.SupportsInt | typing.SupportsIndex,
    most_appraisers: typing.SupportsInt | typing.SupportsIndex,
    most_trials: typing.SupportsInt | typing.SupportsIndex,
    cost_part: typing.SupportsFloat | typing.SupportsIndex,
    cost_appraiser: typing.SupportsFloat | typing.SupportsIndex,
    cost_reading: typing.SupportsFloat | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    method: str,
    interaction: bool,
) -> list[typing.Any]:
    """
    Sizes of study for a wanted width; see steadyfilm.planning.
    """

def poisson_cdf(
    count: typing.SupportsFloat | typing.SupportsIndex, mean: typing.SupportsFloat | typing.SupportsIndex
) -> float: ...
def pooled_sd(
    sums_of_squares: numpy.typing.NDArray[numpy.float64], degrees_of_freedom: numpy.typing.NDArray[numpy.float64]
) -> dict[str, typing.Any]:
    """
    Pooled sd; see steadyfilm.gauge_rr.
    """

def pooled_sd_from_sds(
    sds: numpy.typing.NDArray[numpy.float64], degrees_of_freedom: numpy.typing.NDArray[numpy.float64]
) -> dict[str, typing.Any]:
    """
    Pooled sd; see steadyfilm.gauge_rr.
    """

def powder_coverage(
    specific_gravity: typing.SupportsFloat | typing.SupportsIndex,
    thickness: typing.SupportsFloat | typing.SupportsIndex,
    metric: bool,
    utilization: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Area that a mass of powder covers; see steadyfilm.film_coverage.
    """

def readings_for_half_width(
    sd: typing.SupportsFloat | typing.SupportsIndex,
    half_width: typing.SupportsFloat | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Readings for a half width; see steadyfilm.planning.
    """

def readings_for_window_share(
    sigma_repeat: typing.SupportsFloat | typing.SupportsIndex,
    window_width: typing.SupportsFloat | typing.SupportsIndex,
    share: typing.SupportsFloat | typing.SupportsIndex,
    sigma_common: typing.SupportsFloat | typing.SupportsIndex,
    sigma_spread: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Readings whose average takes at most a share of the window; see steadyfilm.planning.
    """

def rinse_flow_for_ratio(
    drag_per_hour: typing.SupportsFloat | typing.SupportsIndex, ratio_percent: typing.SupportsFloat | typing.SupportsIndex
) -> float:
    """
    Fresh water for a share; see steadyfilm.wash_tank.
    """

def rinse_ratio(
    drag_per_hour: typing.SupportsFloat | typing.SupportsIndex, flow_per_hour: typing.SupportsFloat | typing.SupportsIndex
) -> float:
    """
    Share of a tank in its rinse; see steadyfilm.wash_tank.
    """

def rough_steel_rule(share_allowed: bool) -> dict[str, typing.Any]:
    """
    The 80 % rule; see steadyfilm.film_thickness.
    """

def roughness_corrections() -> list[typing.Any]:
    """
    Correction of each blast profile; see steadyfilm.film_thickness.
    """

def rounded_log_likelihood(
    values: numpy.typing.NDArray[numpy.float64],
    step: typing.SupportsFloat | typing.SupportsIndex,
    mean: typing.SupportsFloat | typing.SupportsIndex,
    sd: typing.SupportsFloat | typing.SupportsIndex,
) -> float:
    """
    Log-likelihood of rounded readings; see steadyfilm.resolution.
    """

def rounding_effect(
    sigma: typing.SupportsFloat | typing.SupportsIndex,
    step: typing.SupportsFloat | typing.SupportsIndex,
    mean: typing.SupportsFloat | typing.SupportsIndex,
    subgroup_size: typing.SupportsInt | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    What charts make of rounded readings; see steadyfilm.resolution.
    """

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

def scaled_bounds(
    shares: tuple[typing.SupportsFloat | typing.SupportsIndex | None, typing.SupportsFloat | typing.SupportsIndex | None],
    window: tuple[typing.SupportsFloat | typing.SupportsIndex | None, typing.SupportsFloat | typing.SupportsIndex | None],
) -> dict[str, typing.Any]:
    """
    Limits of a rule for a window; see steadyfilm.film_thickness.
    """

def second_order_time_ratio(
    from_conversion: typing.SupportsFloat | typing.SupportsIndex, to_conversion: typing.SupportsFloat | typing.SupportsIndex
) -> float:
    """
    Time to one conversion over another; see steadyfilm.cure_kinetics.
    """

def share_below(
    lower: typing.SupportsFloat | typing.SupportsIndex,
    mean: typing.SupportsFloat | typing.SupportsIndex,
    sigma: typing.SupportsFloat | typing.SupportsIndex,
) -> float:
    """
    Normal share below a limit; see steadyfilm.film_coverage.
    """

def shifted_capability(
    cp: typing.SupportsFloat | typing.SupportsIndex, shift_sigma: typing.SupportsFloat | typing.SupportsIndex
) -> dict[str, typing.Any]: ...
def single_part_study(
    values: numpy.typing.NDArray[numpy.float64],
    reference: typing.SupportsFloat | typing.SupportsIndex,
    tolerance_width: typing.SupportsFloat | typing.SupportsIndex,
    tolerance_share: typing.SupportsFloat | typing.SupportsIndex,
    sigma_spread: typing.SupportsFloat | typing.SupportsIndex,
    required: typing.SupportsFloat | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Cg and Cgk of one part; see steadyfilm.gauge_bias.
    """

def single_value_window(
    value: typing.SupportsFloat | typing.SupportsIndex, share: typing.SupportsFloat | typing.SupportsIndex | None
) -> dict[str, typing.Any]:
    """
    Window of a single value; see steadyfilm.film_thickness.
    """

def solids_coverage(metric: bool) -> float:
    """
    Area times film of a volume of solids; see steadyfilm.film_coverage.
    """

def spot_mean(
    readings: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    dropped: collections.abc.Sequence[typing.SupportsInt | typing.SupportsIndex],
) -> float:
    """
    Mean of a spot; see steadyfilm.film_thickness.
    """

def spreading_rate(
    volume_solids: typing.SupportsFloat | typing.SupportsIndex,
    dft: typing.SupportsFloat | typing.SupportsIndex,
    metric: bool,
    transfer_efficiency: typing.SupportsFloat | typing.SupportsIndex,
    other_losses: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Area that a volume covers; see steadyfilm.film_coverage.
    """

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
def study_interval(
    sigma_repeat: typing.SupportsFloat | typing.SupportsIndex,
    sigma_appraiser: typing.SupportsFloat | typing.SupportsIndex,
    sigma_interaction: typing.SupportsFloat | typing.SupportsIndex,
    parts: typing.SupportsInt | typing.SupportsIndex,
    appraisers: typing.SupportsInt | typing.SupportsIndex,
    trials: typing.SupportsInt | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    method: str,
    interaction: bool,
) -> dict[str, typing.Any]:
    """
    Interval of the measurement sd that a study gives; see steadyfilm.planning.
    """

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

def thinner_allowance(
    voc_mass: typing.SupportsFloat | typing.SupportsIndex,
    volume: typing.SupportsFloat | typing.SupportsIndex,
    thinner_voc: typing.SupportsFloat | typing.SupportsIndex,
    limit: typing.SupportsFloat | typing.SupportsIndex,
) -> float:
    """
    Thinner at which a mix reaches a VOC limit; see steadyfilm.film_coverage.
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

def titration_concentration(
    titrant_ml: typing.SupportsFloat | typing.SupportsIndex,
    percent_per_ml: typing.SupportsFloat | typing.SupportsIndex,
    reading_uncertainty: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Concentration from titrant; see steadyfilm.wash_tank.
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

def unbalanced_gauge_study(
    values: numpy.typing.NDArray[numpy.float64],
    factors: collections.abc.Sequence[
        tuple[
            str,
            typing.Annotated[numpy.typing.ArrayLike, numpy.int32],
            typing.SupportsInt | typing.SupportsIndex,
            str,
            bool,
            typing.SupportsInt | typing.SupportsIndex,
        ]
    ],
    pooling_level: typing.SupportsFloat | typing.SupportsIndex,
    confidence_level: typing.SupportsFloat | typing.SupportsIndex,
    interval_method: str,
) -> dict[str, typing.Any]:
    """
    A study of any layout; see steadyfilm.gauge_rr.
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

def unit_average_uncertainty(
    sigma_location: typing.SupportsFloat | typing.SupportsIndex,
    sigma_repeat: typing.SupportsFloat | typing.SupportsIndex,
    location_count: typing.SupportsInt | typing.SupportsIndex,
    readings_per_location: typing.SupportsInt | typing.SupportsIndex,
    sigma_common: typing.SupportsFloat | typing.SupportsIndex,
) -> float:
    """
    Standard uncertainty of a unit's average; see steadyfilm.planning.
    """

def use_rates(
    used: numpy.typing.NDArray[numpy.float64], exposure: numpy.typing.NDArray[numpy.float64]
) -> numpy.typing.NDArray[numpy.float64]:
    """
    Use for area or hours; see steadyfilm.wash_tank.
    """

def verification_limit(
    gauge_tolerance: typing.SupportsFloat | typing.SupportsIndex, standard_tolerance: typing.SupportsFloat | typing.SupportsIndex
) -> float:
    """
    Root sum of squares of two tolerances; see steadyfilm.gauge_bias.
    """

def voc_content(
    voc_mass: typing.SupportsFloat | typing.SupportsIndex,
    volume: typing.SupportsFloat | typing.SupportsIndex,
    water: typing.SupportsFloat | typing.SupportsIndex,
    exempt: typing.SupportsFloat | typing.SupportsIndex,
    solids: typing.SupportsFloat | typing.SupportsIndex | None,
) -> dict[str, typing.Any]:
    """
    VOC over paint, paint less water, solids; see steadyfilm.film_coverage.
    """

def voc_per_solids(
    voc: typing.SupportsFloat | typing.SupportsIndex, density: typing.SupportsFloat | typing.SupportsIndex
) -> float:
    """
    VOC in a volume of solids; see steadyfilm.film_coverage.
    """

def wet_comb_step(wft: typing.SupportsFloat | typing.SupportsIndex, metric: bool) -> float:
    """
    Step of a wet-film comb; see steadyfilm.film_coverage.
    """

def wet_film_target(
    dft: typing.SupportsFloat | typing.SupportsIndex,
    volume_solids: typing.SupportsFloat | typing.SupportsIndex,
    thinner_fraction: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Wet film for a dry one; see steadyfilm.film_coverage.
    """

def wet_step_as_dry(
    step: typing.SupportsFloat | typing.SupportsIndex, volume_solids: typing.SupportsFloat | typing.SupportsIndex
) -> float:
    """
    Dry film between two notches; see steadyfilm.film_coverage.
    """

def window_consistency(
    lower: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    upper: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
    total_lower: typing.SupportsFloat | typing.SupportsIndex,
    total_upper: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    Windows of layers against that of their total; see steadyfilm.film_layers.
    """

def window_share(
    standard_uncertainty: typing.SupportsFloat | typing.SupportsIndex,
    window_width: typing.SupportsFloat | typing.SupportsIndex,
    sigma_spread: typing.SupportsFloat | typing.SupportsIndex,
) -> float:
    """
    Part of a window that the spread of a measurement takes; see steadyfilm.planning.
    """

def window_steps(
    lower: typing.SupportsFloat | typing.SupportsIndex,
    upper: typing.SupportsFloat | typing.SupportsIndex,
    step: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]:
    """
    How finely a display divides a window; see steadyfilm.resolution.
    """

def zero_ranges(
    values: numpy.typing.NDArray[numpy.float64], offsets: collections.abc.Sequence[typing.SupportsInt | typing.SupportsIndex]
) -> dict[str, typing.Any]:
    """
    Groups of readings whose range is zero; see steadyfilm.resolution.
    """

version: str
