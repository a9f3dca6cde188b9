"""Public names of steadyfilm; written by tests/regenerate."""

from steadyfilm.baseline import Baseline as Baseline
from steadyfilm.baseline import BaselineStream as BaselineStream
from steadyfilm.baseline import baseline as baseline
from steadyfilm.baseline import points_for as points_for
from steadyfilm.baseline import residual_days as residual_days
from steadyfilm.capability import Capability as Capability
from steadyfilm.capability import CapabilityIndices as CapabilityIndices
from steadyfilm.capability import CpkDistribution as CpkDistribution
from steadyfilm.capability import FractionOutside as FractionOutside
from steadyfilm.capability import IndexEstimate as IndexEstimate
from steadyfilm.capability import IndexInterval as IndexInterval
from steadyfilm.capability import OneSidedIndexMoments as OneSidedIndexMoments
from steadyfilm.capability import ShiftedCapability as ShiftedCapability
from steadyfilm.capability import capability as capability
from steadyfilm.capability import capability_indices as capability_indices
from steadyfilm.capability import cp_interval as cp_interval
from steadyfilm.capability import cpk_interval as cpk_interval
from steadyfilm.capability import cpk_sampling_distribution as cpk_sampling_distribution
from steadyfilm.capability import cpm_index as cpm_index
from steadyfilm.capability import cpm_interval as cpm_interval
from steadyfilm.capability import fraction_outside as fraction_outside
from steadyfilm.capability import one_sided_index_critical_value as one_sided_index_critical_value
from steadyfilm.capability import one_sided_index_interval as one_sided_index_interval
from steadyfilm.capability import one_sided_index_moments as one_sided_index_moments
from steadyfilm.capability import shifted_capability as shifted_capability
from steadyfilm.chart_ewma import EwmaChart as EwmaChart
from steadyfilm.chart_ewma import ewma_chart as ewma_chart
from steadyfilm.chart_individuals import IndividualsChart as IndividualsChart
from steadyfilm.chart_individuals import IndividualsLimits as IndividualsLimits
from steadyfilm.chart_individuals import individuals_chart as individuals_chart
from steadyfilm.chart_individuals import individuals_limits_from_averages as individuals_limits_from_averages
from steadyfilm.chart_nested import NestedChart as NestedChart
from steadyfilm.chart_nested import NestedFalseAlarm as NestedFalseAlarm
from steadyfilm.chart_nested import nested_chart as nested_chart
from steadyfilm.chart_nested import nested_false_alarm as nested_false_alarm
from steadyfilm.chart_subgroup import SignalArrays as SignalArrays
from steadyfilm.chart_subgroup import SubgroupChart as SubgroupChart
from steadyfilm.chart_subgroup import SubgroupLimits as SubgroupLimits
from steadyfilm.chart_subgroup import SubgroupSignals as SubgroupSignals
from steadyfilm.chart_subgroup import WithinSigma as WithinSigma
from steadyfilm.chart_subgroup import subgroup_chart as subgroup_chart
from steadyfilm.chart_subgroup import subgroup_limits_from_averages as subgroup_limits_from_averages
from steadyfilm.chart_subgroup import subgroup_signals as subgroup_signals
from steadyfilm.conformity import AcceptanceLimit as AcceptanceLimit
from steadyfilm.conformity import AcceptanceRisks as AcceptanceRisks
from steadyfilm.conformity import GuardBand as GuardBand
from steadyfilm.conformity import OperatingCurve as OperatingCurve
from steadyfilm.conformity import ReadingConformity as ReadingConformity
from steadyfilm.conformity import acceptance_limit_for_risk as acceptance_limit_for_risk
from steadyfilm.conformity import acceptance_limit_relative as acceptance_limit_relative
from steadyfilm.conformity import acceptance_risks as acceptance_risks
from steadyfilm.conformity import assess_reading as assess_reading
from steadyfilm.conformity import conformance_probability as conformance_probability
from steadyfilm.conformity import false_accept_at_limit as false_accept_at_limit
from steadyfilm.conformity import guard_band as guard_band
from steadyfilm.conformity import guard_band_factor as guard_band_factor
from steadyfilm.conformity import operating_curve as operating_curve
from steadyfilm.constants import ChartFactors as ChartFactors
from steadyfilm.constants import D2Star as D2Star
from steadyfilm.constants import c4 as c4
from steadyfilm.constants import c5 as c5
from steadyfilm.constants import chart_factors as chart_factors
from steadyfilm.constants import chi_match_degrees_of_freedom as chi_match_degrees_of_freedom
from steadyfilm.constants import d2 as d2
from steadyfilm.constants import d2_star as d2_star
from steadyfilm.constants import d3 as d3
from steadyfilm.constants import moving_range_degrees_of_freedom as moving_range_degrees_of_freedom
from steadyfilm.distributions import beta_cdf as beta_cdf
from steadyfilm.distributions import beta_quantile as beta_quantile
from steadyfilm.distributions import beta_survival as beta_survival
from steadyfilm.distributions import binomial_cdf as binomial_cdf
from steadyfilm.distributions import chi_square_cdf as chi_square_cdf
from steadyfilm.distributions import chi_square_quantile as chi_square_quantile
from steadyfilm.distributions import chi_square_survival as chi_square_survival
from steadyfilm.distributions import f_cdf as f_cdf
from steadyfilm.distributions import f_quantile as f_quantile
from steadyfilm.distributions import f_survival as f_survival
from steadyfilm.distributions import gamma_cdf as gamma_cdf
from steadyfilm.distributions import gamma_quantile as gamma_quantile
from steadyfilm.distributions import gamma_survival as gamma_survival
from steadyfilm.distributions import noncentral_chi_square_cdf as noncentral_chi_square_cdf
from steadyfilm.distributions import noncentral_chi_square_quantile as noncentral_chi_square_quantile
from steadyfilm.distributions import noncentral_chi_square_survival as noncentral_chi_square_survival
from steadyfilm.distributions import noncentral_t_cdf as noncentral_t_cdf
from steadyfilm.distributions import noncentral_t_quantile as noncentral_t_quantile
from steadyfilm.distributions import noncentral_t_survival as noncentral_t_survival
from steadyfilm.distributions import normal_cdf as normal_cdf
from steadyfilm.distributions import normal_quantile as normal_quantile
from steadyfilm.distributions import normal_survival as normal_survival
from steadyfilm.distributions import poisson_cdf as poisson_cdf
from steadyfilm.distributions import student_t_cdf as student_t_cdf
from steadyfilm.distributions import student_t_quantile as student_t_quantile
from steadyfilm.distributions import student_t_survival as student_t_survival
from steadyfilm.errors import ConstantDataWarning as ConstantDataWarning
from steadyfilm.errors import DataProblem as DataProblem
from steadyfilm.errors import DataProblemsError as DataProblemsError
from steadyfilm.errors import InvalidInputError as InvalidInputError
from steadyfilm.errors import MissingDataWarning as MissingDataWarning
from steadyfilm.errors import MissingExtraError as MissingExtraError
from steadyfilm.errors import PlanError as PlanError
from steadyfilm.errors import SteadyfilmError as SteadyfilmError
from steadyfilm.errors import SteadyfilmWarning as SteadyfilmWarning
from steadyfilm.false_alarms import DayModel as DayModel
from steadyfilm.false_alarms import ExpectedEpisodes as ExpectedEpisodes
from steadyfilm.false_alarms import day_model as day_model
from steadyfilm.false_alarms import expected_episodes as expected_episodes
from steadyfilm.film_layers import DerivedLayer as DerivedLayer
from steadyfilm.film_layers import DerivedLayers as DerivedLayers
from steadyfilm.film_layers import LayerUncertainty as LayerUncertainty
from steadyfilm.film_layers import StackUp as StackUp
from steadyfilm.film_layers import UnpairedSpot as UnpairedSpot
from steadyfilm.film_layers import derive_layers as derive_layers
from steadyfilm.film_layers import equal_layer_half_width as equal_layer_half_width
from steadyfilm.film_layers import gain_error as gain_error
from steadyfilm.film_layers import layer_uncertainty as layer_uncertainty
from steadyfilm.film_layers import stack_up as stack_up
from steadyfilm.film_layers import successive_layers as successive_layers
from steadyfilm.findings import Event as Event
from steadyfilm.findings import Finding as Finding
from steadyfilm.findings import Findings as Findings
from steadyfilm.findings import GaugeCheck as GaugeCheck
from steadyfilm.findings import GaugeFault as GaugeFault
from steadyfilm.findings import findings as findings
from steadyfilm.findings import gauge_checks as gauge_checks
from steadyfilm.findings import logged_events as logged_events
from steadyfilm.gauge_rr import AverageRangeStudy as AverageRangeStudy
from steadyfilm.gauge_rr import BootstrapInterval as BootstrapInterval
from steadyfilm.gauge_rr import GaugeBootstrap as GaugeBootstrap
from steadyfilm.gauge_rr import GaugeEffect as GaugeEffect
from steadyfilm.gauge_rr import GaugeEstimate as GaugeEstimate
from steadyfilm.gauge_rr import GaugeFactors as GaugeFactors
from steadyfilm.gauge_rr import GaugeIntervals as GaugeIntervals
from steadyfilm.gauge_rr import GaugeSource as GaugeSource
from steadyfilm.gauge_rr import GaugeStudy as GaugeStudy
from steadyfilm.gauge_rr import PooledSd as PooledSd
from steadyfilm.gauge_rr import WindowShare as WindowShare
from steadyfilm.gauge_rr import average_range_study as average_range_study
from steadyfilm.gauge_rr import gauge_bootstrap as gauge_bootstrap
from steadyfilm.gauge_rr import gauge_factors as gauge_factors
from steadyfilm.gauge_rr import gauge_from_ranges as gauge_from_ranges
from steadyfilm.gauge_rr import gauge_intervals as gauge_intervals
from steadyfilm.gauge_rr import gauge_study as gauge_study
from steadyfilm.gauge_rr import pooled_sd as pooled_sd
from steadyfilm.gauge_rr import pooled_sd_from_sds as pooled_sd_from_sds
from steadyfilm.limits import ControlLimits as ControlLimits
from steadyfilm.limits import SpecLimits as SpecLimits
from steadyfilm.measurability import AcceptCurve as AcceptCurve
from steadyfilm.measurability import GaugeSpread as GaugeSpread
from steadyfilm.measurability import GuardZone as GuardZone
from steadyfilm.measurability import JudgedStudy as JudgedStudy
from steadyfilm.measurability import Measurability as Measurability
from steadyfilm.measurability import StudyColumns as StudyColumns
from steadyfilm.measurability import StudyWindow as StudyWindow
from steadyfilm.measurability import WindowAnswer as WindowAnswer
from steadyfilm.measurability import judge_gauge as judge_gauge
from steadyfilm.measurability import judge_gauge_file as judge_gauge_file
from steadyfilm.measurability import judge_planned_study as judge_planned_study
from steadyfilm.measurability import plan_windows as plan_windows
from steadyfilm.monitor import Episode as Episode
from steadyfilm.monitor import Monitored as Monitored
from steadyfilm.monitor import MonitorLimits as MonitorLimits
from steadyfilm.monitor import MonitorPoints as MonitorPoints
from steadyfilm.monitor import MonitorState as MonitorState
from steadyfilm.monitor import monitor as monitor
from steadyfilm.monitor import monitor_points as monitor_points
from steadyfilm.monitor import spread_limits as spread_limits
from steadyfilm.plan import Plan as Plan
from steadyfilm.plan import load_plan as load_plan
from steadyfilm.plan import plan_schema as plan_schema
from steadyfilm.plan import read_plan as read_plan
from steadyfilm.planning import GaugeStudyInterval as GaugeStudyInterval
from steadyfilm.planning import GaugeStudyPlan as GaugeStudyPlan
from steadyfilm.planning import HalfWidthReadings as HalfWidthReadings
from steadyfilm.planning import PlanOption as PlanOption
from steadyfilm.planning import ReadingPlan as ReadingPlan
from steadyfilm.planning import ShareReadings as ShareReadings
from steadyfilm.planning import StudyMeanSquare as StudyMeanSquare
from steadyfilm.planning import StudyOption as StudyOption
from steadyfilm.planning import gauge_study_interval as gauge_study_interval
from steadyfilm.planning import optimal_repeats as optimal_repeats
from steadyfilm.planning import plan_gauge_study as plan_gauge_study
from steadyfilm.planning import plan_readings as plan_readings
from steadyfilm.planning import readings_for_half_width as readings_for_half_width
from steadyfilm.planning import readings_for_window_share as readings_for_window_share
from steadyfilm.planning import unit_average_uncertainty as unit_average_uncertainty
from steadyfilm.planning import window_share as window_share
from steadyfilm.resolution import RoundedFit as RoundedFit
from steadyfilm.resolution import RoundingEffect as RoundingEffect
from steadyfilm.resolution import WindowResolution as WindowResolution
from steadyfilm.resolution import ZeroRanges as ZeroRanges
from steadyfilm.resolution import fit_rounded as fit_rounded
from steadyfilm.resolution import rounding_effect as rounding_effect
from steadyfilm.resolution import window_resolution as window_resolution
from steadyfilm.resolution import zero_ranges as zero_ranges
from steadyfilm.review import LayerReview as LayerReview
from steadyfilm.review import Review as Review
from steadyfilm.review import StandingDifference as StandingDifference
from steadyfilm.review import Variation as Variation
from steadyfilm.review import review_files as review_files
from steadyfilm.review import review_readings as review_readings
from steadyfilm.run_rules import BEYOND_LIMITS as BEYOND_LIMITS
from steadyfilm.run_rules import NELSON as NELSON
from steadyfilm.run_rules import WESTERN_ELECTRIC as WESTERN_ELECTRIC
from steadyfilm.run_rules import Signal as Signal
from steadyfilm.run_rules import find_signals as find_signals
from steadyfilm.run_rules import pattern_points as pattern_points
from steadyfilm.run_rules import pattern_probability as pattern_probability
from steadyfilm.screens import DataFault as DataFault
from steadyfilm.screens import DataPattern as DataPattern
from steadyfilm.screens import PileUp as PileUp
from steadyfilm.screens import ScreenRun as ScreenRun
from steadyfilm.screens import Screens as Screens
from steadyfilm.screens import screen as screen
from steadyfilm.streams import StreamsChart as StreamsChart
from steadyfilm.streams import streams as streams
from steadyfilm.summary import Summary as Summary
from steadyfilm.summary import summarize as summarize
from steadyfilm.units import LENGTH_UNITS as LENGTH_UNITS
from steadyfilm.units import MICROMETERS_PER_MIL as MICROMETERS_PER_MIL
from steadyfilm.units import convert_length as convert_length
from steadyfilm.units import length_unit as length_unit
from steadyfilm.variance_components import AnovaLine as AnovaLine
from steadyfilm.variance_components import BodyComponents as BodyComponents
from steadyfilm.variance_components import FixedEffect as FixedEffect
from steadyfilm.variance_components import LocationEffect as LocationEffect
from steadyfilm.variance_components import MeanEstimate as MeanEstimate
from steadyfilm.variance_components import MixedComponent as MixedComponent
from steadyfilm.variance_components import MixedComponents as MixedComponents
from steadyfilm.variance_components import NestedComponents as NestedComponents
from steadyfilm.variance_components import OneWayAnova as OneWayAnova
from steadyfilm.variance_components import SearchEnd as SearchEnd
from steadyfilm.variance_components import VarianceComponent as VarianceComponent
from steadyfilm.variance_components import VarianceRatio as VarianceRatio
from steadyfilm.variance_components import VarianceSum as VarianceSum
from steadyfilm.variance_components import body_components as body_components
from steadyfilm.variance_components import mixed_components as mixed_components
from steadyfilm.variance_components import nested_components as nested_components
from steadyfilm.variance_components import one_way_anova as one_way_anova

__version__: str
__all__ = [
    "BEYOND_LIMITS",
    "LENGTH_UNITS",
    "MICROMETERS_PER_MIL",
    "NELSON",
    "WESTERN_ELECTRIC",
    "AcceptCurve",
    "AcceptanceLimit",
    "AcceptanceRisks",
    "AnovaLine",
    "AverageRangeStudy",
    "Baseline",
    "BaselineStream",
    "BodyComponents",
    "BootstrapInterval",
    "Capability",
    "CapabilityIndices",
    "ChartFactors",
    "ConstantDataWarning",
    "ControlLimits",
    "CpkDistribution",
    "D2Star",
    "DataFault",
    "DataPattern",
    "DataProblem",
    "DataProblemsError",
    "DayModel",
    "DerivedLayer",
    "DerivedLayers",
    "Episode",
    "Event",
    "EwmaChart",
    "ExpectedEpisodes",
    "Finding",
    "Findings",
    "FixedEffect",
    "FractionOutside",
    "GaugeBootstrap",
    "GaugeCheck",
    "GaugeEffect",
    "GaugeEstimate",
    "GaugeFactors",
    "GaugeFault",
    "GaugeIntervals",
    "GaugeSource",
    "GaugeSpread",
    "GaugeStudy",
    "GaugeStudyInterval",
    "GaugeStudyPlan",
    "GuardBand",
    "GuardZone",
    "HalfWidthReadings",
    "IndexEstimate",
    "IndexInterval",
    "IndividualsChart",
    "IndividualsLimits",
    "InvalidInputError",
    "JudgedStudy",
    "LayerReview",
    "LayerUncertainty",
    "LocationEffect",
    "MeanEstimate",
    "Measurability",
    "MissingDataWarning",
    "MissingExtraError",
    "MixedComponent",
    "MixedComponents",
    "MonitorLimits",
    "MonitorPoints",
    "MonitorState",
    "Monitored",
    "NestedChart",
    "NestedComponents",
    "NestedFalseAlarm",
    "OneSidedIndexMoments",
    "OneWayAnova",
    "OperatingCurve",
    "PileUp",
    "Plan",
    "PlanError",
    "PlanOption",
    "PooledSd",
    "ReadingConformity",
    "ReadingPlan",
    "Review",
    "RoundedFit",
    "RoundingEffect",
    "ScreenRun",
    "Screens",
    "SearchEnd",
    "ShareReadings",
    "ShiftedCapability",
    "Signal",
    "SignalArrays",
    "SpecLimits",
    "StackUp",
    "StandingDifference",
    "SteadyfilmError",
    "SteadyfilmWarning",
    "StreamsChart",
    "StudyColumns",
    "StudyMeanSquare",
    "StudyOption",
    "StudyWindow",
    "SubgroupChart",
    "SubgroupLimits",
    "SubgroupSignals",
    "Summary",
    "UnpairedSpot",
    "VarianceComponent",
    "VarianceRatio",
    "VarianceSum",
    "Variation",
    "WindowAnswer",
    "WindowResolution",
    "WindowShare",
    "WithinSigma",
    "ZeroRanges",
    "__version__",
    "acceptance_limit_for_risk",
    "acceptance_limit_relative",
    "acceptance_risks",
    "assess_reading",
    "average_range_study",
    "baseline",
    "beta_cdf",
    "beta_quantile",
    "beta_survival",
    "binomial_cdf",
    "body_components",
    "c4",
    "c5",
    "capability",
    "capability_indices",
    "chart_factors",
    "chi_match_degrees_of_freedom",
    "chi_square_cdf",
    "chi_square_quantile",
    "chi_square_survival",
    "conformance_probability",
    "convert_length",
    "cp_interval",
    "cpk_interval",
    "cpk_sampling_distribution",
    "cpm_index",
    "cpm_interval",
    "d2",
    "d2_star",
    "d3",
    "day_model",
    "derive_layers",
    "equal_layer_half_width",
    "ewma_chart",
    "expected_episodes",
    "f_cdf",
    "f_quantile",
    "f_survival",
    "false_accept_at_limit",
    "find_signals",
    "findings",
    "fit_rounded",
    "fraction_outside",
    "gain_error",
    "gamma_cdf",
    "gamma_quantile",
    "gamma_survival",
    "gauge_bootstrap",
    "gauge_checks",
    "gauge_factors",
    "gauge_from_ranges",
    "gauge_intervals",
    "gauge_study",
    "gauge_study_interval",
    "guard_band",
    "guard_band_factor",
    "individuals_chart",
    "individuals_limits_from_averages",
    "judge_gauge",
    "judge_gauge_file",
    "judge_planned_study",
    "layer_uncertainty",
    "length_unit",
    "load_plan",
    "logged_events",
    "mixed_components",
    "monitor",
    "monitor_points",
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
    "one_sided_index_critical_value",
    "one_sided_index_interval",
    "one_sided_index_moments",
    "one_way_anova",
    "operating_curve",
    "optimal_repeats",
    "pattern_points",
    "pattern_probability",
    "plan_gauge_study",
    "plan_readings",
    "plan_schema",
    "plan_windows",
    "points_for",
    "poisson_cdf",
    "pooled_sd",
    "pooled_sd_from_sds",
    "read_plan",
    "readings_for_half_width",
    "readings_for_window_share",
    "residual_days",
    "review_files",
    "review_readings",
    "rounding_effect",
    "screen",
    "shifted_capability",
    "spread_limits",
    "stack_up",
    "streams",
    "student_t_cdf",
    "student_t_quantile",
    "student_t_survival",
    "subgroup_chart",
    "subgroup_limits_from_averages",
    "subgroup_signals",
    "successive_layers",
    "summarize",
    "unit_average_uncertainty",
    "window_resolution",
    "window_share",
    "zero_ranges",
]
