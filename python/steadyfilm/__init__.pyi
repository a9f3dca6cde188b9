"""Public names of steadyfilm; written by tests/regenerate."""

from steadyfilm.acceptance import AcceptedFile as AcceptedFile
from steadyfilm.acceptance import RuleFile as RuleFile
from steadyfilm.acceptance import accept_file as accept_file
from steadyfilm.acceptance import load_rule as load_rule
from steadyfilm.acceptance import read_rule as read_rule
from steadyfilm.acceptance import rule_schema as rule_schema
from steadyfilm.bakes import Bake as Bake
from steadyfilm.bakes import BakedPlace as BakedPlace
from steadyfilm.bakes import BakeReview as BakeReview
from steadyfilm.bakes import CureOptions as CureOptions
from steadyfilm.bakes import LogColumns as LogColumns
from steadyfilm.bakes import LogFault as LogFault
from steadyfilm.bakes import LogRules as LogRules
from steadyfilm.bakes import coldest_places as coldest_places
from steadyfilm.bakes import dose_chart as dose_chart
from steadyfilm.bakes import read_recipes as read_recipes
from steadyfilm.bakes import review_bake_files as review_bake_files
from steadyfilm.bakes import review_bakes as review_bakes
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
from steadyfilm.cure_kinetics import CureKinetics as CureKinetics
from steadyfilm.cure_kinetics import DegreeOfCure as DegreeOfCure
from steadyfilm.cure_kinetics import KamalPeak as KamalPeak
from steadyfilm.cure_kinetics import degree_of_cure as degree_of_cure
from steadyfilm.cure_kinetics import kamal_conversion as kamal_conversion
from steadyfilm.cure_kinetics import kamal_peak as kamal_peak
from steadyfilm.cure_kinetics import nth_order_conversion as nth_order_conversion
from steadyfilm.cure_kinetics import second_order_time_ratio as second_order_time_ratio
from steadyfilm.cure_profile import DoseWanted as DoseWanted
from steadyfilm.cure_profile import EquivalentTime as EquivalentTime
from steadyfilm.cure_profile import HoldOwed as HoldOwed
from steadyfilm.cure_profile import OvenLag as OvenLag
from steadyfilm.cure_profile import PlaceVerdict as PlaceVerdict
from steadyfilm.cure_profile import Recipe as Recipe
from steadyfilm.cure_profile import ScheduleEnergy as ScheduleEnergy
from steadyfilm.cure_profile import SchedulePoint as SchedulePoint
from steadyfilm.cure_profile import TimeAbove as TimeAbove
from steadyfilm.cure_profile import TraceProfile as TraceProfile
from steadyfilm.cure_profile import activation_energy_from_schedule as activation_energy_from_schedule
from steadyfilm.cure_profile import cure_rate_factor as cure_rate_factor
from steadyfilm.cure_profile import equivalent_time as equivalent_time
from steadyfilm.cure_profile import equivalent_time_trapezoid as equivalent_time_trapezoid
from steadyfilm.cure_profile import hold_owed as hold_owed
from steadyfilm.cure_profile import judge_place as judge_place
from steadyfilm.cure_profile import oven_lag as oven_lag
from steadyfilm.cure_profile import oven_lag_equivalent_time as oven_lag_equivalent_time
from steadyfilm.cure_profile import probe_tolerance as probe_tolerance
from steadyfilm.cure_profile import profile_trace as profile_trace
from steadyfilm.cure_profile import time_above as time_above
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
from steadyfilm.film_coverage import SOLVENT_DENSITY_LB_GAL as SOLVENT_DENSITY_LB_GAL
from steadyfilm.film_coverage import THINNER_CARE as THINNER_CARE
from steadyfilm.film_coverage import AimPoint as AimPoint
from steadyfilm.film_coverage import MixedSolids as MixedSolids
from steadyfilm.film_coverage import OverbuildCost as OverbuildCost
from steadyfilm.film_coverage import PowderCoverage as PowderCoverage
from steadyfilm.film_coverage import SolidsChange as SolidsChange
from steadyfilm.film_coverage import SpreadingRate as SpreadingRate
from steadyfilm.film_coverage import ThinnerAllowance as ThinnerAllowance
from steadyfilm.film_coverage import VocContent as VocContent
from steadyfilm.film_coverage import WetFilmTarget as WetFilmTarget
from steadyfilm.film_coverage import aim_point as aim_point
from steadyfilm.film_coverage import dft_after_solids_change as dft_after_solids_change
from steadyfilm.film_coverage import dry_film as dry_film
from steadyfilm.film_coverage import mixed_voc as mixed_voc
from steadyfilm.film_coverage import mixed_volume_solids as mixed_volume_solids
from steadyfilm.film_coverage import overbuild_cost as overbuild_cost
from steadyfilm.film_coverage import powder_coverage as powder_coverage
from steadyfilm.film_coverage import share_below as share_below
from steadyfilm.film_coverage import spreading_rate as spreading_rate
from steadyfilm.film_coverage import thinner_allowance as thinner_allowance
from steadyfilm.film_coverage import voc_content as voc_content
from steadyfilm.film_coverage import voc_per_solids as voc_per_solids
from steadyfilm.film_coverage import wet_comb_step as wet_comb_step
from steadyfilm.film_coverage import wet_film_target as wet_film_target
from steadyfilm.film_coverage import wet_step_as_dry as wet_step_as_dry
from steadyfilm.film_layers import LAYER_SIGNATURES as LAYER_SIGNATURES
from steadyfilm.film_layers import SOFT_COAT as SOFT_COAT
from steadyfilm.film_layers import DerivedLayer as DerivedLayer
from steadyfilm.film_layers import DerivedLayers as DerivedLayers
from steadyfilm.film_layers import LayerDiagnosis as LayerDiagnosis
from steadyfilm.film_layers import LayerSignature as LayerSignature
from steadyfilm.film_layers import LayerUncertainty as LayerUncertainty
from steadyfilm.film_layers import SignatureFit as SignatureFit
from steadyfilm.film_layers import StackUp as StackUp
from steadyfilm.film_layers import UnpairedSpot as UnpairedSpot
from steadyfilm.film_layers import WindowConsistency as WindowConsistency
from steadyfilm.film_layers import derive_layers as derive_layers
from steadyfilm.film_layers import diagnose_layers as diagnose_layers
from steadyfilm.film_layers import equal_layer_half_width as equal_layer_half_width
from steadyfilm.film_layers import gain_error as gain_error
from steadyfilm.film_layers import layer_uncertainty as layer_uncertainty
from steadyfilm.film_layers import stack_up as stack_up
from steadyfilm.film_layers import successive_layers as successive_layers
from steadyfilm.film_layers import window_consistency as window_consistency
from steadyfilm.film_thickness import Acceptance as Acceptance
from steadyfilm.film_thickness import AcceptanceRule as AcceptanceRule
from steadyfilm.film_thickness import AccuracyCheck as AccuracyCheck
from steadyfilm.film_thickness import CountTable as CountTable
from steadyfilm.film_thickness import DirectionState as DirectionState
from steadyfilm.film_thickness import DiscardedReading as DiscardedReading
from steadyfilm.film_thickness import ExtentSearch as ExtentSearch
from steadyfilm.film_thickness import FilmSpread as FilmSpread
from steadyfilm.film_thickness import PlanCurve as PlanCurve
from steadyfilm.film_thickness import RuleFact as RuleFact
from steadyfilm.film_thickness import Shares as Shares
from steadyfilm.film_thickness import UnitAreas as UnitAreas
from steadyfilm.film_thickness import UnitSpots as UnitSpots
from steadyfilm.film_thickness import accept_film as accept_film
from steadyfilm.film_thickness import acceptance_curve as acceptance_curve
from steadyfilm.film_thickness import accuracy_checks as accuracy_checks
from steadyfilm.film_thickness import area_rule as area_rule
from steadyfilm.film_thickness import average_acceptance_probability as average_acceptance_probability
from steadyfilm.film_thickness import below_share_probability as below_share_probability
from steadyfilm.film_thickness import film_spread as film_spread
from steadyfilm.film_thickness import house_rule as house_rule
from steadyfilm.film_thickness import limit_met as limit_met
from steadyfilm.film_thickness import ninety_ten_rule as ninety_ten_rule
from steadyfilm.film_thickness import rough_steel_rule as rough_steel_rule
from steadyfilm.film_thickness import roughness_correction as roughness_correction
from steadyfilm.film_thickness import search_extent as search_extent
from steadyfilm.film_thickness import single_value_window as single_value_window
from steadyfilm.film_thickness import spot_mean as spot_mean
from steadyfilm.film_thickness import suspect_readings as suspect_readings
from steadyfilm.findings import Event as Event
from steadyfilm.findings import Finding as Finding
from steadyfilm.findings import Findings as Findings
from steadyfilm.findings import GaugeCheck as GaugeCheck
from steadyfilm.findings import GaugeFault as GaugeFault
from steadyfilm.findings import findings as findings
from steadyfilm.findings import gauge_checks as gauge_checks
from steadyfilm.findings import logged_events as logged_events
from steadyfilm.gauge_agreement import Agreement as Agreement
from steadyfilm.gauge_agreement import AgreementStudy as AgreementStudy
from steadyfilm.gauge_agreement import AppraiserAgreement as AppraiserAgreement
from steadyfilm.gauge_agreement import CohenKappa as CohenKappa
from steadyfilm.gauge_agreement import FleissKappa as FleissKappa
from steadyfilm.gauge_agreement import KendallW as KendallW
from steadyfilm.gauge_agreement import PairAgreement as PairAgreement
from steadyfilm.gauge_agreement import Proportion as Proportion
from steadyfilm.gauge_agreement import agreement_study as agreement_study
from steadyfilm.gauge_agreement import cohen_kappa as cohen_kappa
from steadyfilm.gauge_agreement import cohen_kappa_ratings as cohen_kappa_ratings
from steadyfilm.gauge_agreement import exact_proportion as exact_proportion
from steadyfilm.gauge_agreement import fleiss_kappa as fleiss_kappa
from steadyfilm.gauge_agreement import kendall_w as kendall_w
from steadyfilm.gauge_bias import BiasedStretch as BiasedStretch
from steadyfilm.gauge_bias import BiasLinearity as BiasLinearity
from steadyfilm.gauge_bias import BiasRangeTest as BiasRangeTest
from steadyfilm.gauge_bias import BiasTest as BiasTest
from steadyfilm.gauge_bias import CheckedStandard as CheckedStandard
from steadyfilm.gauge_bias import CheckStandardCharts as CheckStandardCharts
from steadyfilm.gauge_bias import CheckStream as CheckStream
from steadyfilm.gauge_bias import GaugeComparison as GaugeComparison
from steadyfilm.gauge_bias import LimitEstimate as LimitEstimate
from steadyfilm.gauge_bias import OffsetDiagnosis as OffsetDiagnosis
from steadyfilm.gauge_bias import SinglePartStudy as SinglePartStudy
from steadyfilm.gauge_bias import Verification as Verification
from steadyfilm.gauge_bias import bias_linearity as bias_linearity
from steadyfilm.gauge_bias import bias_range_test as bias_range_test
from steadyfilm.gauge_bias import bias_test as bias_test
from steadyfilm.gauge_bias import check_standard_charts as check_standard_charts
from steadyfilm.gauge_bias import compare_gauges as compare_gauges
from steadyfilm.gauge_bias import diagnose_offset as diagnose_offset
from steadyfilm.gauge_bias import single_part_study as single_part_study
from steadyfilm.gauge_bias import verification_limit as verification_limit
from steadyfilm.gauge_bias import verify_gauge as verify_gauge
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
from steadyfilm.oven_survey import AirFall as AirFall
from steadyfilm.oven_survey import AirRecovery as AirRecovery
from steadyfilm.oven_survey import DoseRatio as DoseRatio
from steadyfilm.oven_survey import UniformitySurvey as UniformitySurvey
from steadyfilm.oven_survey import air_falls as air_falls
from steadyfilm.oven_survey import air_recovery as air_recovery
from steadyfilm.oven_survey import dose_ratio as dose_ratio
from steadyfilm.oven_survey import uniformity_survey as uniformity_survey
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
from steadyfilm.units import TEMPERATURE_UNITS as TEMPERATURE_UNITS
from steadyfilm.units import Measured as Measured
from steadyfilm.units import convert as convert
from steadyfilm.units import convert_length as convert_length
from steadyfilm.units import convert_temperature as convert_temperature
from steadyfilm.units import convert_temperature_difference as convert_temperature_difference
from steadyfilm.units import unit_symbol as unit_symbol
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
from steadyfilm.wash_review import TankReview as TankReview
from steadyfilm.wash_review import UseChange as UseChange
from steadyfilm.wash_review import UseChart as UseChart
from steadyfilm.wash_review import WashReview as WashReview
from steadyfilm.wash_review import review_wash as review_wash
from steadyfilm.wash_review import review_wash_files as review_wash_files
from steadyfilm.wash_tank import Addition as Addition
from steadyfilm.wash_tank import CoatingWeight as CoatingWeight
from steadyfilm.wash_tank import Consumption as Consumption
from steadyfilm.wash_tank import Titration as Titration
from steadyfilm.wash_tank import coating_weight as coating_weight
from steadyfilm.wash_tank import consumption_chart as consumption_chart
from steadyfilm.wash_tank import drag_out_concentration as drag_out_concentration
from steadyfilm.wash_tank import hours_to_concentration as hours_to_concentration
from steadyfilm.wash_tank import rinse_flow_for_ratio as rinse_flow_for_ratio
from steadyfilm.wash_tank import rinse_ratio as rinse_ratio
from steadyfilm.wash_tank import tank_addition as tank_addition
from steadyfilm.wash_tank import titration as titration

__version__: str
__all__ = [
    "BEYOND_LIMITS",
    "LAYER_SIGNATURES",
    "LENGTH_UNITS",
    "MICROMETERS_PER_MIL",
    "NELSON",
    "SOFT_COAT",
    "SOLVENT_DENSITY_LB_GAL",
    "TEMPERATURE_UNITS",
    "THINNER_CARE",
    "WESTERN_ELECTRIC",
    "AcceptCurve",
    "Acceptance",
    "AcceptanceLimit",
    "AcceptanceRisks",
    "AcceptanceRule",
    "AcceptedFile",
    "AccuracyCheck",
    "Addition",
    "Agreement",
    "AgreementStudy",
    "AimPoint",
    "AirFall",
    "AirRecovery",
    "AnovaLine",
    "AppraiserAgreement",
    "AverageRangeStudy",
    "Bake",
    "BakeReview",
    "BakedPlace",
    "Baseline",
    "BaselineStream",
    "BiasLinearity",
    "BiasRangeTest",
    "BiasTest",
    "BiasedStretch",
    "BodyComponents",
    "BootstrapInterval",
    "Capability",
    "CapabilityIndices",
    "ChartFactors",
    "CheckStandardCharts",
    "CheckStream",
    "CheckedStandard",
    "CoatingWeight",
    "CohenKappa",
    "ConstantDataWarning",
    "Consumption",
    "ControlLimits",
    "CountTable",
    "CpkDistribution",
    "CureKinetics",
    "CureOptions",
    "D2Star",
    "DataFault",
    "DataPattern",
    "DataProblem",
    "DataProblemsError",
    "DayModel",
    "DegreeOfCure",
    "DerivedLayer",
    "DerivedLayers",
    "DirectionState",
    "DiscardedReading",
    "DoseRatio",
    "DoseWanted",
    "Episode",
    "EquivalentTime",
    "Event",
    "EwmaChart",
    "ExpectedEpisodes",
    "ExtentSearch",
    "FilmSpread",
    "Finding",
    "Findings",
    "FixedEffect",
    "FleissKappa",
    "FractionOutside",
    "GaugeBootstrap",
    "GaugeCheck",
    "GaugeComparison",
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
    "HoldOwed",
    "IndexEstimate",
    "IndexInterval",
    "IndividualsChart",
    "IndividualsLimits",
    "InvalidInputError",
    "JudgedStudy",
    "KamalPeak",
    "KendallW",
    "LayerDiagnosis",
    "LayerReview",
    "LayerSignature",
    "LayerUncertainty",
    "LimitEstimate",
    "LocationEffect",
    "LogColumns",
    "LogFault",
    "LogRules",
    "MeanEstimate",
    "Measurability",
    "Measured",
    "MissingDataWarning",
    "MissingExtraError",
    "MixedComponent",
    "MixedComponents",
    "MixedSolids",
    "MonitorLimits",
    "MonitorPoints",
    "MonitorState",
    "Monitored",
    "NestedChart",
    "NestedComponents",
    "NestedFalseAlarm",
    "OffsetDiagnosis",
    "OneSidedIndexMoments",
    "OneWayAnova",
    "OperatingCurve",
    "OvenLag",
    "OverbuildCost",
    "PairAgreement",
    "PileUp",
    "PlaceVerdict",
    "Plan",
    "PlanCurve",
    "PlanError",
    "PlanOption",
    "PooledSd",
    "PowderCoverage",
    "Proportion",
    "ReadingConformity",
    "ReadingPlan",
    "Recipe",
    "Review",
    "RoundedFit",
    "RoundingEffect",
    "RuleFact",
    "RuleFile",
    "ScheduleEnergy",
    "SchedulePoint",
    "ScreenRun",
    "Screens",
    "SearchEnd",
    "ShareReadings",
    "Shares",
    "ShiftedCapability",
    "Signal",
    "SignalArrays",
    "SignatureFit",
    "SinglePartStudy",
    "SolidsChange",
    "SpecLimits",
    "SpreadingRate",
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
    "TankReview",
    "ThinnerAllowance",
    "TimeAbove",
    "Titration",
    "TraceProfile",
    "UniformitySurvey",
    "UnitAreas",
    "UnitSpots",
    "UnpairedSpot",
    "UseChange",
    "UseChart",
    "VarianceComponent",
    "VarianceRatio",
    "VarianceSum",
    "Variation",
    "Verification",
    "VocContent",
    "WashReview",
    "WetFilmTarget",
    "WindowAnswer",
    "WindowConsistency",
    "WindowResolution",
    "WindowShare",
    "WithinSigma",
    "ZeroRanges",
    "__version__",
    "accept_file",
    "accept_film",
    "acceptance_curve",
    "acceptance_limit_for_risk",
    "acceptance_limit_relative",
    "acceptance_risks",
    "accuracy_checks",
    "activation_energy_from_schedule",
    "agreement_study",
    "aim_point",
    "air_falls",
    "air_recovery",
    "area_rule",
    "assess_reading",
    "average_acceptance_probability",
    "average_range_study",
    "baseline",
    "below_share_probability",
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
    "capability_indices",
    "chart_factors",
    "check_standard_charts",
    "chi_match_degrees_of_freedom",
    "chi_square_cdf",
    "chi_square_quantile",
    "chi_square_survival",
    "coating_weight",
    "cohen_kappa",
    "cohen_kappa_ratings",
    "coldest_places",
    "compare_gauges",
    "conformance_probability",
    "consumption_chart",
    "convert",
    "convert_length",
    "convert_temperature",
    "convert_temperature_difference",
    "cp_interval",
    "cpk_interval",
    "cpk_sampling_distribution",
    "cpm_index",
    "cpm_interval",
    "cure_rate_factor",
    "d2",
    "d2_star",
    "d3",
    "day_model",
    "degree_of_cure",
    "derive_layers",
    "dft_after_solids_change",
    "diagnose_layers",
    "diagnose_offset",
    "dose_chart",
    "dose_ratio",
    "drag_out_concentration",
    "dry_film",
    "equal_layer_half_width",
    "equivalent_time",
    "equivalent_time_trapezoid",
    "ewma_chart",
    "exact_proportion",
    "expected_episodes",
    "f_cdf",
    "f_quantile",
    "f_survival",
    "false_accept_at_limit",
    "film_spread",
    "find_signals",
    "findings",
    "fit_rounded",
    "fleiss_kappa",
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
    "hold_owed",
    "hours_to_concentration",
    "house_rule",
    "individuals_chart",
    "individuals_limits_from_averages",
    "judge_gauge",
    "judge_gauge_file",
    "judge_place",
    "judge_planned_study",
    "kamal_conversion",
    "kamal_peak",
    "kendall_w",
    "layer_uncertainty",
    "limit_met",
    "load_plan",
    "load_rule",
    "logged_events",
    "mixed_components",
    "mixed_voc",
    "mixed_volume_solids",
    "monitor",
    "monitor_points",
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
    "optimal_repeats",
    "oven_lag",
    "oven_lag_equivalent_time",
    "overbuild_cost",
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
    "powder_coverage",
    "probe_tolerance",
    "profile_trace",
    "read_plan",
    "read_recipes",
    "read_rule",
    "readings_for_half_width",
    "readings_for_window_share",
    "residual_days",
    "review_bake_files",
    "review_bakes",
    "review_files",
    "review_readings",
    "review_wash",
    "review_wash_files",
    "rinse_flow_for_ratio",
    "rinse_ratio",
    "rough_steel_rule",
    "roughness_correction",
    "rounding_effect",
    "rule_schema",
    "screen",
    "search_extent",
    "second_order_time_ratio",
    "share_below",
    "shifted_capability",
    "single_part_study",
    "single_value_window",
    "spot_mean",
    "spread_limits",
    "spreading_rate",
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
    "suspect_readings",
    "tank_addition",
    "thinner_allowance",
    "time_above",
    "titration",
    "uniformity_survey",
    "unit_average_uncertainty",
    "unit_symbol",
    "verification_limit",
    "verify_gauge",
    "voc_content",
    "voc_per_solids",
    "wet_comb_step",
    "wet_film_target",
    "wet_step_as_dry",
    "window_consistency",
    "window_resolution",
    "window_share",
    "zero_ranges",
]
