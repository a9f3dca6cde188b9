#include <doctest/doctest.h>

#include <steadyfilm/gauge_rr.hpp>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <random>
#include <set>
#include <string>
#include <vector>

#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

#include "reference.hpp"

using steadyfilm::AverageRange;
using steadyfilm::FactorRole;
using steadyfilm::gauge_study;
using steadyfilm::GaugeEstimate;
using steadyfilm::GaugeOptions;
using steadyfilm::GaugeStudy;
using steadyfilm::StudyFactor;

namespace {

/// Readings part after part, in each the appraisers, in each of these the trials.
struct Crossed {
  std::vector<double> values;
  std::size_t parts = 0, appraisers = 0, trials = 0;
};

std::size_t kinds(const reference::List& labels) { return std::set<double>(labels.begin(), labels.end()).size(); }

Crossed crossed(const reference::Args& args) {
  const auto values = args.list("values"), part = args.list("part"), appraiser = args.list("appraiser"),
             trial = args.list("trial");
  std::vector<std::size_t> order(values.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::ranges::stable_sort(order, [&](std::size_t a, std::size_t b) {
    return std::tie(part[a], appraiser[a], trial[a]) < std::tie(part[b], appraiser[b], trial[b]);
  });
  Crossed out{{}, kinds(part), kinds(appraiser), kinds(trial)};
  for (const std::size_t i : order) out.values.push_back(values[i]);
  return out;
}

GaugeStudy study_of(const Crossed& data, const GaugeOptions& options = {}) {
  return gauge_study(data.values, data.parts, data.appraisers, data.trials, options);
}

using Numbers = std::map<std::string, double>;

reference::Found found_of(Numbers numbers, std::map<std::string, reference::List> lists = {}) {
  return {.numbers = std::move(numbers), .lists = std::move(lists), .words = {}};
}

const reference::Register factors_row("gauge_factors", [](const reference::Args& args) {
  const auto found =
      steadyfilm::gauge_factors(args.count("trial_count"), args.count("appraiser_count"), args.count("part_count"));
  return found_of({{"K1", found.K1}, {"K2", found.K2}, {"K3", found.K3}});
});

Numbers numbers_of(const AverageRange& found) {
  Numbers out = {{"mean_range", found.mean_range},
                 {"appraiser_difference", found.appraiser_difference},
                 {"part_range", found.part_range},
                 {"range_upper", found.range_upper},
                 {"ndc", found.ndc},
                 {"ndc_ratio", found.ndc_ratio},
                 {"K1", found.factors.K1},
                 {"K2", found.factors.K2},
                 {"K3", found.factors.K3},
                 {"av_radicand", found.av_radicand},
                 {"ev", found.ev},
                 {"av", found.av},
                 {"grr", found.grr},
                 {"pv", found.pv},
                 {"tv", found.tv}};
  out["ndc_ratio_sqrt2"] = std::sqrt(2.0) * found.pv / found.grr;
  for (const char* name : {"ev", "av", "grr", "pv"}) out[std::string("pct_") + name] = 100.0 * out[name] / found.tv;
  return out;
}

steadyfilm::GaugeFactorsGiven factors_given(const reference::Args& args) {
  steadyfilm::GaugeFactorsGiven out;
  if (args.has("K1")) out.K1 = args.number("K1");
  if (args.has("K2")) out.K2 = args.number("K2");
  if (args.has("K3")) out.K3 = args.number("K3");
  if (args.has("D4")) out.D4 = args.number("D4");
  return out;
}

const reference::Register ranges_row("grr_average_range", [](const reference::Args& args) {
  const auto data = crossed(args);
  const auto found =
      steadyfilm::average_range(data.values, data.parts, data.appraisers, data.trials, factors_given(args));
  return found_of(numbers_of(found),
                  {{"appraiser_mean", found.appraiser_means}, {"appraiser_mean_range", found.appraiser_mean_ranges}});
});

const reference::Register from_ranges_row("grr_from_ranges", [](const reference::Args& args) {
  // The appraisers' number does not enter where K2 is given.
  const auto found = steadyfilm::average_range_from_ranges(
      args.number("mean_range"), args.number("appraiser_difference"), args.number("part_range"),
      args.count("part_count"), 3, args.count("trial_count"), factors_given(args));
  return found_of(numbers_of(found));
});

const GaugeEstimate& wanted(const GaugeStudy& study, bool pooled) { return pooled ? *study.pooled : study.kept; }

const reference::Register anova_row("grr_anova", [](const reference::Args& args) {
  GaugeOptions options;
  if (args.has("f_denominator")) options.f_denominator = steadyfilm::FDenominator::repeatability;
  const auto study = study_of(crossed(args), options);
  const GaugeEstimate& found = wanted(study, args.count("pool_interaction") == 1);
  Numbers out = {{"grand_mean", study.mean}, {"ndc", found.ndc}, {"ndc_ratio", found.ndc_ratio}, {"ss_total", 0.0}};
  for (const auto& line : found.lines) {
    const std::string name = line.source == "part x appraiser" ? "interaction" : line.source;
    out["ss_" + name] = line.sum_squares;
    out["ss_total"] += line.sum_squares;
    out["df_" + name] = line.degrees_of_freedom;
    out["ms_" + name] = line.mean_square;
    out["f_" + name] = line.f;
    out["p_" + name] = line.p;
  }
  for (const auto& one : found.sources) {
    const std::string name = one.source == "part x appraiser" ? "interaction" : one.source;
    out["variance_" + name] = one.variance;
  }
  if (const auto* interaction = found.find("part x appraiser")) out["interaction_sd"] = interaction->sd;
  const std::map<std::string, std::string> sources = {
      {"ev", "repeatability"}, {"av", "appraiser"}, {"grr", "grr"}, {"pv", "part"}, {"tv", "total"}};
  for (const auto& [name, source] : sources) {
    const auto& one = found.source(source);
    out[name] = one.sd;
    out["pct_" + name] = 100.0 * one.share_of_total;
    out["share_" + name] = 100.0 * one.share_of_variance;
  }
  out["ndc_ratio_sqrt2"] = std::sqrt(2.0) * out["pv"] / out["grr"];
  return found_of(std::move(out));
});

const reference::Register window_row("grr_window_share", [](const reference::Args& args) {
  const auto study = study_of(crossed(args));
  const auto found =
      steadyfilm::gauge_window(wanted(study, args.count("pool_interaction") == 1),
                               {.lower = 0.0, .upper = args.number("window_mil"), .target = {}}, study.mean);
  return found_of({{"percent", 100.0 * found.share}});
});

reference::Found pooled_found(const steadyfilm::PooledSd& found) {
  return found_of({{"ss_total", found.sum_squares}, {"df", found.degrees_of_freedom}, {"sd", found.sd}},
                  {{"group_sd", found.group_sds}});
}

const reference::Register pooled_row("pooled_sd", [](const reference::Args& args) {
  return pooled_found(steadyfilm::pooled_sd(args.list("ss"), args.list("df")));
});

const reference::Register pooled_sds_row("pooled_sd_from_sds", [](const reference::Args& args) {
  return pooled_found(steadyfilm::pooled_sd_from_sds(args.list("sds"), args.list("df")));
});

const reference::Register intervals_row("grr_intervals", [](const reference::Args& args) {
  const bool satterthwaite = args.word("method") == "satterthwaite";
  const auto f = steadyfilm::gauge_intervals(
      args.number("ms_part"), args.number("ms_appraiser"), args.number("ms_interaction"),
      args.number("ms_repeatability"), args.count("part_count"), args.count("appraiser_count"),
      args.count("trial_count"), args.number("confidence_level"),
      satterthwaite ? steadyfilm::IntervalMethod::satterthwaite : steadyfilm::IntervalMethod::modified_large_sample);
  return found_of({{"variance_part", f.variance_part},
                   {"variance_part_lower", f.variance_part_lower},
                   {"variance_part_upper", f.variance_part_upper},
                   {"variance_measurement", f.variance_measurement},
                   {"variance_measurement_lower", f.variance_measurement_lower},
                   {"variance_measurement_upper", f.variance_measurement_upper},
                   {"variance_repeatability", f.variance_repeatability},
                   {"variance_repeatability_lower", f.variance_repeatability_lower},
                   {"variance_repeatability_upper", f.variance_repeatability_upper},
                   {"variance_reproducibility", f.variance_reproducibility},
                   {"variance_reproducibility_lower", f.variance_reproducibility_lower},
                   {"variance_reproducibility_upper", f.variance_reproducibility_upper},
                   {"measurement_df", f.measurement_df},
                   {"reproducibility_df", f.reproducibility_df},
                   {"ratio", f.ratio},
                   {"ratio_lower", f.ratio_lower},
                   {"ratio_upper", f.ratio_upper},
                   {"pct_grr", 100.0 * f.share},
                   {"pct_grr_lower", 100.0 * f.share_lower},
                   {"pct_grr_upper", 100.0 * f.share_upper}});
});

}  // namespace

TEST_CASE("gauge_rr: a study in hand arithmetic") {
  // Two parts, two appraisers, two trials; cell means 2 5 | 4 9: parts 3.5 6.5, appraisers 3 7, all 5.
  const std::vector<double> values = {1, 3, 5, 5, 4, 4, 8, 10};
  const auto study = gauge_study(values, 2, 2, 2);
  REQUIRE(study.kept.lines.size() == 4);
  CHECK(study.kept.lines[0].sum_squares == 18.0);  // part: 4 readings x 2 x 1.5^2
  CHECK(study.kept.lines[1].sum_squares == 32.0);  // appraiser: 4 x 2 x 2^2
  CHECK(study.kept.lines[2].sum_squares == 2.0);   // part x appraiser: 2 x 4 x 0.5^2
  CHECK(study.kept.lines[3].sum_squares == 4.0);
  CHECK(study.kept.source("repeatability").variance == 1.0);
  CHECK(study.kept.source("part x appraiser").variance == 0.5);  // (2 - 1) / 2
  CHECK(study.kept.source("appraiser").variance == 7.5);         // (32 - 2) / 4
  CHECK(study.kept.source("part").variance == 4.0);              // (18 - 2) / 4
  CHECK(study.kept.source("reproducibility").variance == 8.0);
  CHECK(study.kept.source("grr").variance == 9.0);
  CHECK(study.kept.source("total").variance == 13.0);
  CHECK(study.kept.ndc_ratio == doctest::Approx(1.41 * 2.0 / 3.0).epsilon(1e-15));
  CHECK(study.kept.ndc == 1.0);  // 0.94, at least 1
  REQUIRE(study.pooled);
  CHECK(study.pooled->source("repeatability").variance == doctest::Approx(6.0 / 5.0).epsilon(1e-15));
  CHECK(study.pooled->source("appraiser").variance == doctest::Approx((32.0 - 1.2) / 4.0).epsilon(1e-15));
  CHECK(study.pooled->pooled_terms == std::vector<std::string>{"part x appraiser"});
  CHECK(study.pooled_chosen == (study.interaction_p > 0.25));
  CHECK(study.effects[1][0].effect == -2.0);
  // t(0.975; 1) sqrt(2 / 4 x 1/2) from the interaction, or from the pooled 1.2 on 5.
  const double reach = study.pooled_chosen ? steadyfilm::student_t_quantile(0.975, 5.0) * std::sqrt(1.2 / 8.0)
                                           : steadyfilm::student_t_quantile(0.975, 1.0) * std::sqrt(2.0 / 8.0);
  CHECK(study.effects[1][0].upper == doctest::Approx(-2.0 + reach).epsilon(1e-12));
}

TEST_CASE("gauge_rr: windows in hand arithmetic") {
  GaugeEstimate estimate;
  steadyfilm::GaugeSource repeat, grr;
  repeat.source = "repeatability";
  repeat.sd = 0.03;
  grr.source = "grr";
  grr.sd = 0.05;  // people 0.04
  grr.sd_lower = 0.04;
  grr.sd_upper = 0.08;
  estimate.sources = {repeat, grr};
  const auto wide = steadyfilm::gauge_window(estimate, {.lower = 2.0, .upper = 3.0, .target = {}}, 2.5);
  CHECK(wide.share == doctest::Approx(0.30).epsilon(1e-12));
  CHECK(wide.judgeable);  // 30 % is what is allowed, exactly
  CHECK_FALSE(wide.demonstrated);
  CHECK(wide.readings == 1.0);
  CHECK(wide.floor_share == doctest::Approx(0.24).epsilon(1e-12));
  // 0.9 wide: 0.045^2 wanted, 0.04^2 stays: 0.0009 / 0.000425 = 2.12 readings by one, 1.23 by as many.
  const auto less = steadyfilm::gauge_window(estimate, {.lower = 2.0, .upper = 2.9, .target = {}}, 2.5);
  CHECK_FALSE(less.judgeable);
  CHECK(less.readings == 3.0);
  CHECK(less.appraisers_needed == 2.0);
  CHECK(less.readings_if_alike == 1.0);
  const auto narrow = steadyfilm::gauge_window(estimate, {.lower = 2.0, .upper = 2.2, .target = {}}, 2.5);
  CHECK(std::isinf(narrow.readings));
  CHECK(narrow.demonstrated);
  CHECK(narrow.appraisers_needed == 25.0);  // (6 x 0.05 / (0.3 x 0.2))^2, exactly
  CHECK(narrow.readings_if_alike == 9.0);   // (6 x 0.03 / 0.06)^2, exactly
  // One limit: 3 GRR over the distance of the mean to it.
  const auto above = steadyfilm::gauge_window(estimate, {.lower = 2.0, .upper = {}, .target = {}}, 2.5);
  CHECK(above.one_sided);
  CHECK(above.share == doctest::Approx(0.15 / 0.5).epsilon(1e-12));
  const auto missed = steadyfilm::gauge_window(estimate, {.lower = 2.6, .upper = {}, .target = {}}, 2.5);
  CHECK(std::isnan(missed.share));
  CHECK_FALSE(missed.judgeable);
}

TEST_CASE("gauge_rr: readings for a wanted share of the window, the coating brief's table") {
  // sigma, window, share, readings: smallest n with 6 sigma / sqrt(n) <= share window, by integer arithmetic.
  for (const auto& [sigma, window, share, readings] : std::vector<std::array<double, 4>>{{0.02, 0.2, 0.3, 4},
                                                                                         {0.02, 0.2, 0.2, 9},
                                                                                         {0.02, 0.2, 0.1, 36},
                                                                                         {0.03, 0.2, 0.3, 9},
                                                                                         {0.03, 0.2, 0.2, 21},
                                                                                         {0.03, 0.2, 0.1, 81},
                                                                                         {0.05, 0.2, 0.3, 25},
                                                                                         {0.05, 0.2, 0.2, 57},
                                                                                         {0.05, 0.2, 0.1, 225},
                                                                                         {0.08, 0.2, 0.3, 64},
                                                                                         {0.08, 0.2, 0.2, 144},
                                                                                         {0.08, 0.2, 0.1, 576},
                                                                                         {0.02, 0.5, 0.3, 1},
                                                                                         {0.03, 0.5, 0.3, 2},
                                                                                         {0.05, 0.5, 0.1, 36},
                                                                                         {0.08, 0.5, 0.3, 11},
                                                                                         {0.08, 0.5, 0.1, 93}}) {
    GaugeEstimate estimate;
    steadyfilm::GaugeSource one;
    one.sd = one.sd_lower = one.sd_upper = sigma;
    one.source = "repeatability";
    estimate.sources.push_back(one);
    one.source = "grr";
    estimate.sources.push_back(one);
    const auto found = steadyfilm::gauge_window(estimate, {.lower = 0.0, .upper = window, .target = {}}, 0.0,
                                                {.sigma_multiple = 6.0, .share_limit = share});
    CHECK(found.readings == readings);
  }
}

TEST_CASE("gauge_rr: one appraiser, one part, one trial") {
  const std::vector<double> values = {1, 3, 5, 5, 4, 4, 8, 10};
  const auto alone = gauge_study(values, 4, 1, 2);
  CHECK(alone.kept.source("grr").variance == 1.0);
  CHECK(alone.kept.find("reproducibility") == nullptr);
  CHECK_FALSE(alone.pooled);
  // The exact interval of the ratio: (F / F(0.975; 3, 4) - 1) / 2.
  const double f = alone.kept.lines[0].f;
  CHECK(alone.kept.ndc_ratio_upper ==
        doctest::Approx(1.41 * std::sqrt((f / steadyfilm::f_quantile(0.025, 3, 4) - 1.0) / 2.0)).epsilon(1e-10));
  const auto one_part = gauge_study(values, 1, 4, 2);
  CHECK(one_part.kept.find("part") == nullptr);
  CHECK(std::isnan(one_part.kept.ndc));
  CHECK(one_part.kept.source("grr").variance ==
        doctest::Approx(1.0 + one_part.kept.source("appraiser").variance).epsilon(1e-14));
  const auto one_trial = gauge_study(values, 4, 2, 1);
  CHECK(one_trial.kept.lines.back().degrees_of_freedom == 3.0);
  CHECK_FALSE(one_trial.pooled);
  CHECK(std::isnan(one_trial.interaction_p));
  CHECK_THROWS_AS((void)gauge_study(values, 8, 1, 1), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)gauge_study(values, 1, 1, 8), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)gauge_study(values, 2, 2, 3), steadyfilm::InvalidInput);
}

TEST_CASE("gauge_rr: nested parts are the nested analysis") {
  std::mt19937_64 random(5);
  std::normal_distribution<double> normal;
  std::vector<double> values;
  for (int i = 0; i < 3 * 5 * 4; ++i) values.push_back(2.0 + 0.1 * normal(random) + 0.2 * (i / 20) + 0.1 * (i / 4 % 3));
  const std::vector<StudyFactor> factors = {{"appraiser", 3, FactorRole::measurement, false, {}},
                                            {"part", 5, FactorRole::part, false, std::size_t{0}}};
  const auto study = gauge_study(values, factors, 4);
  const auto nested = steadyfilm::nested_components(values, std::vector<std::size_t>{3, 5, 4});
  REQUIRE(study.kept.lines.size() == 3);
  for (std::size_t k = 0; k < 3; ++k) {
    CHECK(study.kept.lines[k].sum_squares == doctest::Approx(nested.lines[k].sum_squares).epsilon(1e-12));
    CHECK(study.kept.lines[k].degrees_of_freedom == nested.lines[k].degrees_of_freedom);
  }
  CHECK(study.kept.source("appraiser").variance == doctest::Approx(nested.components[0].variance).epsilon(1e-10));
  CHECK(study.kept.source("part").sd_upper == doctest::Approx(nested.components[1].sd_upper).epsilon(1e-8));
  CHECK(study.kept.source("repeatability").sd_lower == doctest::Approx(nested.components[2].sd_lower).epsilon(1e-10));
  CHECK(study.kept.source("grr").variance ==
        doctest::Approx(nested.components[0].variance + nested.components[2].variance).epsilon(1e-10));
}

TEST_CASE("gauge_rr: constant readings are an answer") {
  const auto study = gauge_study(std::vector<double>(18, 2.1), 3, 3, 2);
  CHECK(study.kept.source("grr").sd == 0.0);
  CHECK(std::isnan(study.kept.ndc));
  CHECK(std::isnan(study.kept.lines[0].f));
  CHECK_FALSE(study.pooled_chosen);
}

TEST_CASE("gauge_rr: the bootstrap is the same for the same seed and stops when told") {
  const std::vector<double> values = {1, 3, 5, 5, 4, 4, 8, 10};
  const auto study = gauge_study(values, 2, 2, 2);
  const auto one = steadyfilm::gauge_bootstrap(study.kept, 200, 7);
  const auto two = steadyfilm::gauge_bootstrap(study.kept, 200, 7);
  REQUIRE(one);
  REQUIRE(two);
  for (std::size_t i = 0; i < one->size(); ++i) CHECK((*one)[i].upper == (*two)[i].upper);
  CHECK((*one)[0].upper != (*steadyfilm::gauge_bootstrap(study.kept, 200, 8))[0].upper);
  CHECK_FALSE(steadyfilm::gauge_bootstrap(study.kept, 200, 7, 0.95, [] { return false; }));
}

TEST_CASE("gauge_rr: readings of any layout are those of a balanced study where they are balanced") {
  std::mt19937_64 random(11);
  std::normal_distribution<double> normal;
  const std::size_t parts = 8, appraisers = 3, trials = 3;
  std::vector<double> values;
  std::vector<std::int32_t> part, appraiser;
  for (std::size_t i = 0; i < parts * appraisers * trials; ++i) {
    part.push_back(static_cast<std::int32_t>(i / 9));
    appraiser.push_back(static_cast<std::int32_t>(i / 3 % 3));
    // Cells of their own, so that no component comes out at 0.
    const auto cell = static_cast<double>(i / 3);
    values.push_back(3.0 + 0.2 * part.back() + 0.1 * appraiser.back() + 0.1 * std::sin(cell * cell) +
                     0.03 * normal(random));
  }
  const std::vector<steadyfilm::StudyCodes> codes = {{"part", part, parts, FactorRole::part, {}},
                                                     {"appraiser", appraiser, appraisers, FactorRole::measurement, {}}};
  const auto balanced = gauge_study(values, parts, appraisers, trials);
  const auto found = steadyfilm::unbalanced_gauge_study(values, codes);
  REQUIRE(balanced.kept.source("part x appraiser").variance > 0.0);
  REQUIRE(found.kept.sources.size() == balanced.kept.sources.size());
  CHECK(found.restricted_likelihood);
  for (std::size_t i = 0; i < found.kept.sources.size(); ++i) {
    const auto &one = found.kept.sources[i], &other = balanced.kept.sources[i];
    CHECK(one.source == other.source);
    CHECK(one.sd == doctest::Approx(other.sd).epsilon(1e-6));
    CHECK(one.sd_upper == doctest::Approx(other.sd_upper).epsilon(1e-6));
    CHECK(one.share_of_total_lower == doctest::Approx(other.share_of_total_lower).epsilon(1e-5));
  }
  CHECK(found.effects[1][2].upper == doctest::Approx(balanced.effects[1][2].upper).epsilon(1e-6));

  // The same for fixed appraisers.
  const std::vector<steadyfilm::StudyFactor> factors = {{.name = "part", .levels = parts, .role = FactorRole::part},
                                                        {.name = "appraiser", .levels = appraisers, .fixed = true}};
  auto fixed_codes = codes;
  fixed_codes[1].fixed = true;
  const auto these = gauge_study(values, factors, trials);
  const auto same = steadyfilm::unbalanced_gauge_study(values, fixed_codes);
  for (const char* source : {"appraiser", "grr", "part"}) {
    CHECK(same.kept.source(source).variance == doctest::Approx(these.kept.source(source).variance).epsilon(1e-6));
    CHECK(same.kept.source(source).sd_lower == doctest::Approx(these.kept.source(source).sd_lower).epsilon(1e-6));
    CHECK(same.kept.source(source).sd_upper == doctest::Approx(these.kept.source(source).sd_upper).epsilon(1e-6));
  }
  CHECK(same.mean == doctest::Approx(these.mean).epsilon(1e-9));
  CHECK(same.effects[0][3].effect == doctest::Approx(these.effects[0][3].effect).epsilon(1e-6));
  CHECK_THROWS_AS((void)steadyfilm::unbalanced_gauge_study(values, codes, {}, [] { return false; }),
                  steadyfilm::Stopped);

  // What does not fit is refused.
  const auto refused = [&](std::vector<steadyfilm::StudyCodes> given) {
    CHECK_THROWS_AS((void)steadyfilm::unbalanced_gauge_study(values, given), steadyfilm::InvalidInput);
  };
  refused({});
  refused({{"part", part, 1, FactorRole::part, {}}});
  refused({{"part", part, 7, FactorRole::part, {}}});
  refused({{"part", std::span(part).first(5), parts, FactorRole::part, {}}});
  refused({codes[0], codes[0]});
  refused({{"part", part, parts, FactorRole::part, std::size_t{0}}});
}

TEST_CASE("gauge_rr: input it cannot use is refused with name, position and value") {
  const std::vector<double> values = {1, 3, 5, 5, 4, 4, 8, 10};
  const std::vector<double> bad = {1, 3, std::nan(""), 5, 4, 4, 8, 10};
  CHECK_THROWS_WITH_AS((void)gauge_study(bad, 2, 2, 2), "gauge_study: values[2] is not finite (nan)",
                       steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)gauge_study(values, 2, 2, 2, {.pooling_level = -0.1}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)gauge_study(values, 2, 2, 2, {.confidence_level = 1.0}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)gauge_study(values, std::vector<StudyFactor>{}, 8), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)gauge_study(values, std::size_t{1} << 40U, std::size_t{1} << 40U, 2), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::average_range(values, 2, 2, 1), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::average_range(values, 2, 2, 3), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::average_range(values, 1, 1, 8), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::average_range_from_ranges(-1.0, 1.0, 1.0, 2, 2, 2), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::average_range(values, 2, 2, 2, {.K1 = 0.0}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::gauge_factors(0, 2, 2), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::gauge_intervals(1.0, 1.0, 1.0, -1.0, 2, 2, 2), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::gauge_intervals(1.0, 1.0, 1.0, 1.0, 2, 1, 2), steadyfilm::InvalidInput);
  const auto study = gauge_study(values, 2, 2, 2);
  CHECK_THROWS_AS((void)steadyfilm::gauge_window(study.kept, {}, 5.0), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::gauge_window(study.kept, {.lower = 3.0, .upper = 2.0, .target = {}}, 5.0),
                  steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)study.kept.source("oven"), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::gauge_bootstrap(study.kept, 10, 1), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::pooled_sd(std::vector<double>{1.0}, std::vector<double>{0.0}),
                  steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::pooled_sd(std::vector<double>{1.0}, std::vector<double>{}),
                  steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::pooled_sd_from_sds(std::vector<double>{-1.0}, std::vector<double>{2.0}),
                  steadyfilm::InvalidInput);
}
