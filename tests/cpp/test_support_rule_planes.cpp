#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include <steadyfilm/core.hpp>
#include <steadyfilm/run_rules.hpp>

#include "support/dispatch.hpp"
#include "support/rule_planes.hpp"

using steadyfilm::RuleOptions;
using steadyfilm::RuleSignal;
using steadyfilm::RunRule;
namespace support = steadyfilm::support;

namespace {

struct Series {
  std::vector<double> z;
  std::vector<std::uint8_t> takes_part;
  std::vector<std::uint8_t> break_before;
};

/// Point after point, as the public engine defines it.
std::vector<RuleSignal> one_by_one(const Series& series, const std::vector<RunRule>& rules,
                                   const RuleOptions& options) {
  std::vector<RuleSignal> signals;
  steadyfilm::RuleMemory memory;
  for (std::size_t i = 0; i < series.z.size(); ++i) {
    if (!series.break_before.empty() && series.break_before[i] != 0) steadyfilm::clear(memory);
    if (!series.takes_part.empty() && series.takes_part[i] == 0) {
      steadyfilm::clear(memory);
      continue;
    }
    steadyfilm::advance(memory, rules, series.z[i], i, options, signals);
  }
  return signals;
}

/// Noise, with stretches that rise, turn, stay or hug the center for long, ties and infinite points among them.
Series make_series(std::mt19937_64& random, std::size_t points, bool masked) {
  Series series;
  std::normal_distribution<double> noise;
  const double infinity = std::numeric_limits<double>::infinity();
  while (series.z.size() < points) {
    const std::size_t length = 1 + random() % 300;
    const auto kind = random() % 8;
    double level = noise(random);
    for (std::size_t i = 0; i < length; ++i) {
      switch (kind) {
        case 0:
          level += 0.001;
          break;
        case 1:
          level -= 0.001;
          break;
        case 2:
          level = i % 2 == 0 ? 1.0 : -1.0 + 0.01 * noise(random);
          break;
        case 3:
          level = 0.3 * noise(random);
          break;
        case 4:
          level = std::round(2.0 * noise(random)) / 2.0;  // ties, and points on the lines
          break;
        case 5:
          level = random() % 9 == 0 ? (random() % 2 == 0 ? infinity : -infinity) : 2.5 * noise(random);
          break;
        default:
          level = noise(random);
      }
      series.z.push_back(level);
    }
  }
  series.z.resize(points);
  if (masked) {
    for (std::size_t i = 0; i < points; ++i) {
      const bool part = random() % 60 != 0;
      series.takes_part.push_back(part ? static_cast<std::uint8_t>(1 + random() % 255) : std::uint8_t{0});
      series.break_before.push_back(random() % 60 == 0);
      if (!part) series.z[i] = std::numeric_limits<double>::quiet_NaN();
    }
  }
  return series;
}

std::vector<RunRule> all_kinds() {
  auto rules = steadyfilm::western_electric();
  for (const auto& rule : steadyfilm::nelson()) rules.push_back(rule);
  for (const char* word : {"1of3_beyond2.5_either", "3of7_beyond0.5_above", "2of2_beyond1.5_below",
                           "13of15_within1.2_either", "40of53_beyond0_one", "53of53_beyond0_above", "2of53_beyond2_one",
                           "trend2", "trend100", "alternating3", "alternating100", "5of9_beyond0_either"}) {
    rules.push_back(steadyfilm::parse_rule(word));
  }
  return rules;
}

}  // namespace

TEST_CASE("rule planes: every set, cut and number of threads gives the signals of the engine") {
  std::mt19937_64 random(20240607);
  std::size_t compared = 0;
  for (int round = 0; round < 24; ++round) {
    const bool masked = round % 2 == 1;
    const std::size_t points = round < 8 ? static_cast<std::size_t>(1 + random() % 700) : 2000 + random() % 9000;
    Series series = make_series(random, points, masked);
    if (round % 6 == 3) series.takes_part.clear();
    if (round % 6 == 5) series.break_before.clear();
    if (series.takes_part.empty()) {
      for (double& z : series.z) z = std::isnan(z) ? 0.0 : z;
    }
    const auto rules = round % 3 == 0 ? steadyfilm::western_electric() : all_kinds();
    RuleOptions options{.last_point_beyond = round % 4 != 2, .clear_after_signal = false, .threads = 1};
    const auto expected = one_by_one(series, rules, options);
    compared += expected.size();
    for (const auto set : support::usable_instruction_sets()) {
      const support::ForcedInstructionSet forced(set);
      for (const std::size_t tiles : {std::size_t{1}, std::size_t{3}, support::usual_stretch_tiles}) {
        options.threads = 1 + tiles % 3;
        CAPTURE(round);
        CAPTURE(tiles);
        CAPTURE(std::string(support::to_text(set)));
        REQUIRE(support::plane_signals(series.z, series.takes_part, series.break_before, rules, options, tiles) ==
                expected);
      }
    }
  }
  CHECK(compared > 20000);
}

TEST_CASE("rule planes: a trend across many stretches keeps its whole length") {
  std::vector<double> rising(5000);
  for (std::size_t i = 0; i < rising.size(); ++i) rising[i] = 0.001 * static_cast<double>(i);
  const std::vector<RunRule> rules = {steadyfilm::parse_rule("trend6")};
  const auto found = support::plane_signals(rising, {}, {}, rules, {}, 1);
  REQUIRE(found.size() == 4995);
  for (const auto& signal : found) CHECK(signal.length == signal.point + 1);
}

TEST_CASE("rule planes: widths in the unit of the points answer as dividing by sigma first does") {
  std::mt19937_64 random(7);
  std::normal_distribution<double> noise;
  const auto rules = steadyfilm::western_electric();
  const auto standardized = support::make_plan(rules, {});
  const double infinity = std::numeric_limits<double>::infinity();
  for (int round = 0; round < 300; ++round) {
    const double sigma =
        round == 0 ? 0.0 : std::ldexp(1.0 + std::abs(noise(random)), static_cast<int>(random() % 60) - 40);
    const auto moved = support::on_values(standardized, 0.0, sigma);
    const auto z = [&](double deviation) {
      if (sigma > 0.0) return deviation / sigma;
      return deviation == 0.0 ? 0.0 : std::copysign(infinity, deviation);
    };
    REQUIRE(moved.widths.size() == 4);
    for (std::size_t l = 0; l < moved.widths.size(); ++l) {
      // The line itself does not lie beyond, the next double does.
      CHECK_FALSE(z(moved.widths[l]) > standardized.widths[l]);
      CHECK(z(std::nextafter(moved.widths[l], infinity)) > standardized.widths[l]);
    }
  }
}

TEST_CASE("rule planes: the first NaN that takes part is named, wherever the cuts are") {
  std::vector<double> z(4000, 0.0);
  z[1800] = z[2600] = z[3900] = std::numeric_limits<double>::quiet_NaN();
  std::vector<std::uint8_t> takes_part(z.size(), 1);
  takes_part[1800] = 0;
  const auto rules = steadyfilm::nelson();
  for (const std::size_t tiles : {1U, 4U, 100U}) {
    CHECK_THROWS_WITH_AS((void)support::plane_signals(z, takes_part, {}, rules, {.threads = 3}, tiles),
                         "rule_signals: z[2600] is not a number (nan)", steadyfilm::InvalidInput);
  }
}
