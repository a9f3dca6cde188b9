// The edges of the long scans: few subgroups, every size, any alignment, patterns across borders, points on lines.
#include <doctest/doctest.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <random>
#include <span>
#include <string>
#include <vector>

#include <steadyfilm/chart_subgroup.hpp>
#include <steadyfilm/core.hpp>
#include <steadyfilm/run_rules.hpp>

#include "support/dispatch.hpp"
#include "support/rule_planes.hpp"
#include "support/subgroup_scan.hpp"

namespace support = steadyfilm::support;
using steadyfilm::RuleSignal;
using steadyfilm::RunRule;

namespace {

bool same_bits(std::span<const double> a, std::span<const double> b) {
  return std::ranges::equal(
      a, b, [](double x, double y) { return std::bit_cast<std::uint64_t>(x) == std::bit_cast<std::uint64_t>(y); });
}

std::vector<RunRule> one_rule(const char* word) { return {steadyfilm::parse_rule(word)}; }

std::vector<std::size_t> points_of(const std::vector<RuleSignal>& signals) {
  std::vector<std::size_t> points;
  for (const RuleSignal& signal : signals) points.push_back(signal.point);
  return points;
}

/// Subgroups of two whose averages are given; their ranges are `range`.
std::vector<double> pairs_around(const std::vector<double>& averages, double range) {
  std::vector<double> readings;
  for (const double average : averages) {
    readings.push_back(average - range / 2.0);
    readings.push_back(average + range / 2.0);
  }
  return readings;
}

}  // namespace

TEST_CASE("scan edges: sizes 1 to 25, from one subgroup on, wherever readings and results lie") {
  std::mt19937_64 random(31);
  std::normal_distribution<double> noise(85.0, 5.0);
  for (std::size_t size = 1; size <= 25; ++size) {
    for (const std::size_t groups : {1U, 2U, 7U, 8U, 9U, 15U, 512U, 517U}) {
      std::vector<double> room(size * groups + 8);
      for (double& x : room) x = noise(random);
      for (const std::size_t shift : {0U, 1U, 3U}) {
        const auto readings = std::span(room).subspan(shift, size * groups);
        std::vector<double> means(groups), ranges(groups);
        for (std::size_t g = 0; g < groups; ++g) {
          const auto own = readings.subspan(g * size, size);
          double sum = own[0];
          for (const double x : own.subspan(1)) sum += x;
          ranges[g] = *std::ranges::max_element(own) - *std::ranges::min_element(own);
          means[g] = ranges[g] == 0.0 ? own[0] : sum / static_cast<double>(size);
        }
        for (const auto set : support::usable_instruction_sets()) {
          const support::ForcedInstructionSet forced(set);
          CAPTURE(size);
          CAPTURE(groups);
          CAPTURE(shift);
          CAPTURE(std::string(support::to_text(set)));
          std::vector<double> mean_room(groups + 8, -1.0), range_room(groups + 8, -1.0);
          (void)support::scan_subgroups(readings, size, std::span(mean_room).subspan(shift, groups),
                                        std::span(range_room).subspan(5 - shift, groups), 2, "test");
          REQUIRE(same_bits(std::span(mean_room).subspan(shift, groups), means));
          REQUIRE(same_bits(std::span(range_room).subspan(5 - shift, groups), ranges));
          REQUIRE(std::ranges::count(mean_room, -1.0) == 8);
          REQUIRE(std::ranges::count(range_room, -1.0) == 8);
        }
      }
    }
  }
}

TEST_CASE("scan edges: a reading that is not finite is named wherever it stands") {
  for (const std::size_t size : {2U, 5U, 8U}) {
    std::vector<double> values(size * 1030, 80.0);
    for (const auto set : support::usable_instruction_sets()) {
      const support::ForcedInstructionSet forced(set);
      for (std::size_t at = size * 500; at < values.size(); at += 37) {
        for (const double bad : {std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity(),
                                 -std::numeric_limits<double>::infinity()}) {
          values[at] = bad;
          const std::string text =
              "test: values[" + std::to_string(at) + "] is not finite (" + steadyfilm::to_text(bad) + ")";
          CHECK_THROWS_WITH_AS((void)support::scan_subgroups(values, size, {}, {}, 2, "test"), text.c_str(),
                               steadyfilm::InvalidInput);
          values[at] = 80.0;
        }
      }
    }
  }
}

TEST_CASE("scan edges: two of three and eight in a row across every border of tiles and stretches") {
  // What is expected follows from the rules alone.
  constexpr std::size_t stretch = support::usual_stretch_tiles * support::tile_points;
  const std::size_t points = stretch + 700;
  steadyfilm::SubgroupOptions given;
  given.center = 0.0;
  given.sigma_within = std::sqrt(2.0);  // sigma of an average of two: 1
  std::vector<double> averages(points);
  const auto quiet = [](std::size_t i) { return i % 2 == 0 ? 0.5 : -0.5; };
  for (std::size_t i = 0; i < points; ++i) averages[i] = quiet(i);
  for (const std::size_t border : {std::size_t{64}, support::tile_points, stretch}) {
    for (std::size_t last = border - 1; last <= border + 8; ++last) {
      CAPTURE(last);
      for (std::size_t back = 0; back < 8; ++back) averages[last - back] = -0.25;
      averages[last - 8] = averages[last + 1] = 0.5;  // the run is of eight, no more
      std::vector<double> zones = averages;
      for (std::size_t i = 0; i < points; ++i) zones[i] = quiet(i);
      zones[last] = zones[last - 2] = 2.5;
      for (const auto set : support::usable_instruction_sets()) {
        const support::ForcedInstructionSet forced(set);
        const auto eight =
            steadyfilm::subgroup_signals(pairs_around(averages, 1.0), 2, given, one_rule("8of8_beyond0_one"));
        REQUIRE(eight.signals == std::vector<RuleSignal>{{.point = last, .rule = 0, .side = -1, .length = 8}});
        const auto two = steadyfilm::subgroup_signals(pairs_around(zones, 1.0), 2, given, one_rule("2of3_beyond2_one"));
        REQUIRE(two.signals == std::vector<RuleSignal>{{.point = last, .rule = 0, .side = 1, .length = 3}});
      }
      for (std::size_t i = last - 8; i <= last + 1; ++i) averages[i] = quiet(i);
    }
  }
}

TEST_CASE("scan edges: a break or an absent point inside a run of eight ends it, wherever a border lies") {
  const auto rules = one_rule("8of8_beyond0_above");
  const std::size_t points = 3 * support::tile_points;
  for (const std::size_t border : {std::size_t{64}, support::tile_points}) {
    for (std::size_t first = border - 8; first <= border + 1; ++first) {
      std::vector<double> z(points, -0.5);
      for (std::size_t i = 0; i < 8; ++i) z[first + i] = 0.5;
      for (std::size_t at = first; at < first + 8; ++at) {
        std::vector<std::uint8_t> breaks(points, 0), part(points, 1);
        breaks[at] = 1;
        part[at] = 0;
        // A break before the first of the eight leaves all eight together.
        const std::vector<std::size_t> kept =
            at == first ? std::vector<std::size_t>{first + 7} : std::vector<std::size_t>{};
        for (const auto set : support::usable_instruction_sets()) {
          const support::ForcedInstructionSet forced(set);
          CAPTURE(first);
          CAPTURE(at);
          REQUIRE(points_of(support::plane_signals(z, {}, breaks, rules, {}, 1)) == kept);
          REQUIRE(support::plane_signals(z, part, {}, rules, {}, 1).empty());
          REQUIRE(points_of(support::plane_signals(z, {}, {}, rules, {}, 1)) == std::vector<std::size_t>{first + 7});
        }
      }
    }
  }
}

TEST_CASE("scan edges: within 1e-9 sigma of a line is on it, at every place of a word and with sigma far from 1") {
  const auto rules = steadyfilm::western_electric();
  for (const double sigma_point : {0x1p-30, 1.0, 0x1p20}) {
    steadyfilm::SubgroupOptions given;
    given.center = 0.0;
    given.sigma_within = sigma_point * 2.0;  // subgroups of four
    for (const double line : {3.0, -3.0}) {
      for (std::size_t at = 0; at < 130; ++at) {
        std::vector<double> values(4 * 130, 0.0);
        const auto signals_with = [&](double z) {
          std::fill_n(values.begin() + static_cast<std::ptrdiff_t>(4 * at), 4, z * sigma_point);
          return points_of(steadyfilm::subgroup_signals(values, 4, given, rules).signals);
        };
        for (const auto set : support::usable_instruction_sets()) {
          const support::ForcedInstructionSet forced(set);
          CAPTURE(sigma_point);
          CAPTURE(line);
          CAPTURE(at);
          CAPTURE(std::string(support::to_text(set)));
          const double outward = std::copysign(1.0, line);
          REQUIRE(signals_with(line).empty());
          REQUIRE(signals_with(line + outward * 0.9e-9).empty());
          REQUIRE(signals_with(line + outward * 1.1e-9) == std::vector<std::size_t>{at});
        }
      }
    }
  }
}
