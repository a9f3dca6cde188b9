#include <doctest/doctest.h>

#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <numeric>
#include <random>
#include <string>
#include <vector>

#include <steadyfilm/chart_subgroup.hpp>
#include <steadyfilm/core.hpp>

#include "support/dispatch.hpp"
#include "support/subgroup_scan.hpp"

namespace support = steadyfilm::support;
using steadyfilm::RuleOptions;
using steadyfilm::RunRule;

namespace {

std::vector<double> make_readings(std::mt19937_64& random, std::size_t count, double resolution) {
  std::normal_distribution<double> noise(85.0, 5.0);
  std::vector<double> values(count);
  for (double& x : values) x = resolution > 0.0 ? std::round(noise(random) / resolution) * resolution : noise(random);
  return values;
}

std::vector<std::size_t> cuts(std::size_t groups, std::size_t size) {
  std::vector<std::size_t> offsets(groups + 1);
  for (std::size_t i = 0; i <= groups; ++i) offsets[i] = i * size;
  return offsets;
}

bool same_bits(const std::vector<double>& a, const std::vector<double>& b) {
  if (a.size() != b.size()) return false;
  for (std::size_t i = 0; i < a.size(); ++i) {
    if (std::bit_cast<std::uint64_t>(a[i]) != std::bit_cast<std::uint64_t>(b[i])) return false;
  }
  return true;
}

}  // namespace

TEST_CASE("subgroup scan: means and ranges have the bits of the definition, for every size and set") {
  std::mt19937_64 random(5);
  for (const std::size_t size : {2U, 3U, 4U, 5U, 6U, 7U, 8U, 9U, 10U, 13U, 25U}) {
    for (const std::size_t groups : {1U, 7U, 8U, 511U, 513U, 2000U}) {
      // A coarse gauge gives subgroups of equal readings; zeros of both signs are equal too.
      auto values = make_readings(random, size * groups, groups % 2 == 0 ? 0.0 : 5.0);
      for (std::size_t i = 0; i < size; ++i) values[i] = i % 2 == 0 ? -0.0 : 0.0;
      std::vector<double> means(groups), ranges(groups);
      steadyfilm::subgroup_means_ranges(values, cuts(groups, size), means, ranges);
      const double mean_sum = std::accumulate(means.begin(), means.end(), 0.0);
      for (const auto set : support::usable_instruction_sets()) {
        const support::ForcedInstructionSet forced(set);
        CAPTURE(std::string(support::to_text(set)));
        CAPTURE(size);
        CAPTURE(groups);
        std::vector<double> own_means(groups), own_ranges(groups);
        const auto totals = support::scan_subgroups(values, size, own_means, own_ranges, 1, "test");
        CHECK(same_bits(own_means, means));
        CHECK(same_bits(own_ranges, ranges));
        CHECK(totals.groups == groups);
        CHECK(totals.means.value() == doctest::Approx(mean_sum).epsilon(1e-12));
      }
    }
  }
}

TEST_CASE("subgroup scan: long results, written past the caches at any alignment, and totals do not depend on chance") {
  std::mt19937_64 random(6);
  const std::size_t groups = 1'100'003, size = 2;
  const auto values = make_readings(random, size * groups, 0.01);
  std::vector<double> means(groups), ranges(groups);
  steadyfilm::subgroup_means_ranges(values, cuts(groups, size), means, ranges);
  support::SubgroupTotals first;
  for (const auto set : support::usable_instruction_sets()) {
    const support::ForcedInstructionSet forced(set);
    for (const std::size_t threads : {1U, 3U}) {
      for (const std::size_t shift : {0U, 1U, 5U}) {
        std::vector<double> mean_room(groups + 16, -1.0), range_room(groups + 16, -1.0);
        const auto totals = support::scan_subgroups(values, size, std::span(mean_room).subspan(shift, groups),
                                                    std::span(range_room).subspan(7 - shift, groups), threads, "test");
        const auto at = [&](std::vector<double>& room, std::size_t start) {
          return std::vector<double>(room.begin() + static_cast<std::ptrdiff_t>(start),
                                     room.begin() + static_cast<std::ptrdiff_t>(start + groups));
        };
        CHECK(same_bits(at(mean_room, shift), means));
        CHECK(same_bits(at(range_room, 7 - shift), ranges));
        CHECK(mean_room[shift + groups] == -1.0);
        if (first.groups == 0) first = totals;
        CHECK(totals.means.high == first.means.high);
        CHECK(totals.means.low == first.means.low);
        CHECK(totals.ranges.high == first.ranges.high);
        CHECK(totals.ranges.low == first.ranges.low);
        CHECK(totals.lowest_mean == first.lowest_mean);
        CHECK(totals.highest_mean == first.highest_mean);
      }
    }
  }
}

TEST_CASE("subgroup scan: signals are those of the chart's standardized averages and ranges") {
  std::mt19937_64 random(8);
  std::size_t compared = 0;
  for (const bool steps : {false, true}) {
    const auto rules = steps ? steadyfilm::nelson() : steadyfilm::western_electric();
    for (const std::size_t size : {2U, 4U, 5U, 8U}) {
      const std::size_t groups = size == 5 ? 140'000 : 3000;
      auto values = make_readings(random, size * groups, 0.5);
      for (std::size_t i = groups; i < groups + 900; ++i) values[i] += 0.01 * static_cast<double>(i - groups);
      const auto offsets = cuts(groups, size);
      for (const bool given : {false, true}) {
        steadyfilm::SubgroupOptions options;
        options.sigma_multiple = given ? 2.5 : 3.0;
        if (given) {
          options.center = 85.25;
          options.sigma_within = 4.5;
        }
        const auto chart = steadyfilm::subgroup_chart(values, offsets, {}, options);
        RunRule beyond;
        beyond.zone = options.sigma_multiple;
        const std::vector<RunRule> range_rules = {beyond};
        for (const bool clear : {false, true}) {
          RuleOptions rule_options;
          rule_options.clear_after_signal = clear;
          rule_options.threads = 2;
          const auto expected = steadyfilm::rule_signals(chart.standardized, {}, {}, rules, rule_options);
          const auto spread = steadyfilm::rule_signals(chart.spread_standardized, {}, {}, range_rules, rule_options);
          compared += expected.size() + spread.size();
          for (const auto set : support::usable_instruction_sets()) {
            const support::ForcedInstructionSet forced(set);
            for (const bool kept : {false, true}) {
              CAPTURE(size);
              CAPTURE(given);
              CAPTURE(clear);
              CAPTURE(kept);
              CAPTURE(std::string(support::to_text(set)));
              std::vector<double> means(kept ? groups : 0), ranges(kept ? groups : 0);
              const auto found =
                  steadyfilm::subgroup_signals(values, size, options, rules, rule_options, means, ranges);
              REQUIRE(found.signals == expected);
              REQUIRE(found.spread_signals == spread);
              CHECK(found.groups == groups);
              CHECK(found.limits.center == chart.limits.center);
              CHECK(found.limits.upper == chart.limits.upper);
              CHECK(found.spread_limits.upper == chart.spread_limits.upper);
              CHECK(found.sigma_within == chart.within.sigma_within);
              if (kept) CHECK(same_bits(means, chart.means));
              if (kept) CHECK(same_bits(ranges, chart.spreads));
            }
          }
        }
      }
    }
  }
  CHECK(compared > 10000);
}

TEST_CASE("subgroup scan: constant readings are an answer") {
  const std::vector<double> values(15, 0.1);
  const auto averages = steadyfilm::subgroup_averages(values, 5, {}, {});
  CHECK(averages.mean == 0.1);
  CHECK(averages.sigma_within == 0.0);
  const auto found = steadyfilm::subgroup_signals(values, 5, {}, steadyfilm::western_electric());
  CHECK(found.signals.empty());
  CHECK(found.spread_signals.empty());
}

TEST_CASE("subgroup scan: what it cannot use is refused with position and value") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  std::vector<double> values(5 * 3000, 80.0);
  const auto rules = steadyfilm::western_electric();
  for (const double bad : {nan, std::numeric_limits<double>::infinity()}) {
    values[7001] = values[12345] = bad;
    for (const auto set : support::usable_instruction_sets()) {
      const support::ForcedInstructionSet forced(set);
      const std::string text = "values[7001] is not finite (" + steadyfilm::to_text(bad) + ")";
      CHECK_THROWS_WITH_AS((void)steadyfilm::subgroup_averages(values, 5, {}, {}),
                           ("subgroup_averages: " + text).c_str(), steadyfilm::InvalidInput);
      CHECK_THROWS_WITH_AS((void)steadyfilm::subgroup_signals(values, 5, {}, rules),
                           ("subgroup_signals: " + text).c_str(), steadyfilm::InvalidInput);
    }
  }
  // Large readings are no fault as long as no sum of a subgroup overflows.
  std::vector<double> large(20, 1e307);
  steadyfilm::SubgroupOptions given;
  given.center = 1e307;
  given.sigma_within = 1.0;
  CHECK(steadyfilm::subgroup_signals(large, 5, given, rules).signals.empty());
  large[7] = large[8] = 1.7e308;
  CHECK_THROWS_WITH_AS((void)steadyfilm::subgroup_averages(large, 5, {}, {}),
                       "subgroup_averages: mean of subgroups[1] is not finite (inf)", steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::subgroup_averages(large, 3, {}, {}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::subgroup_averages(large, 1, {}, {}), steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)steadyfilm::subgroup_averages({}, 5, {}, {}), steadyfilm::InvalidInput);
  std::vector<double> short_output(1);
  CHECK_THROWS_AS((void)steadyfilm::subgroup_averages(large, 5, short_output, {}), steadyfilm::InvalidInput);
  steadyfilm::SubgroupOptions pooled;
  pooled.estimator = steadyfilm::WithinEstimator::pooled_sd;
  CHECK_THROWS_AS((void)steadyfilm::subgroup_signals(large, 5, pooled, rules), steadyfilm::InvalidInput);
}
