#include <doctest/doctest.h>

#include <bit>
#include <cmath>
#include <cstdint>
#include <random>
#include <string>
#include <vector>

#include "support/dispatch.hpp"
#include "support/ewma_scan.hpp"

namespace support = steadyfilm::support;

namespace {

struct Series {
  std::vector<double> x;
  std::vector<std::uint8_t> takes_part;
  std::vector<std::uint8_t> break_before;
};

Series make_series(std::mt19937_64& random, std::size_t points, bool masked) {
  std::normal_distribution<double> noise;
  Series series;
  for (std::size_t i = 0; i < points; ++i) {
    // Stretches of zeros of both signs, and of one large value, among noise.
    const auto kind = (i / 500) % 4;
    series.x.push_back(kind == 1 ? (i % 3 == 0 ? -0.0 : 0.0) : kind == 2 ? 1e12 : noise(random));
    if (!masked) continue;
    series.takes_part.push_back(random() % 90 != 0);
    series.break_before.push_back(random() % 400 == 0);
  }
  return series;
}

std::vector<std::uint64_t> bits(const std::vector<double>& values) {
  std::vector<std::uint64_t> out;
  for (const double v : values) out.push_back(std::bit_cast<std::uint64_t>(v));
  return out;
}

}  // namespace

TEST_CASE("ewma scan: the bits of the recursion, for every set, stretch and number of threads") {
  std::mt19937_64 random(11);
  for (const std::size_t points : {0U, 1U, 7U, 8U, 9U, 700U, 12'345U}) {
    for (const bool masked : {false, true}) {
      const Series series = make_series(random, points, masked);
      for (const double lambda : {0.005, 0.05, 0.2, 0.9, 1.0}) {
        const support::EwmaWeights weights(lambda);
        std::vector<double> expected(points);
        support::EwmaState state;
        support::ewma_run(weights, state, series.x, series.takes_part, series.break_before, 0.0, expected);
        for (const auto set : support::usable_instruction_sets()) {
          const support::ForcedInstructionSet forced(set);
          for (const std::size_t stretch : {std::size_t{8}, std::size_t{1200}, support::usual_ewma_stretch}) {
            CAPTURE(points);
            CAPTURE(masked);
            CAPTURE(lambda);
            CAPTURE(stretch);
            CAPTURE(std::string(support::to_text(set)));
            std::vector<double> z(points, -1.0);
            support::ewma_scan(weights, series.x, series.takes_part, series.break_before, z, 3, stretch);
            REQUIRE(bits(z) == bits(expected));
          }
        }
      }
    }
  }
}

TEST_CASE("ewma scan: a long result, written past the caches, has the bits of a short one") {
  std::mt19937_64 random(12);
  const Series series = make_series(random, 2'200'013, false);
  const support::EwmaWeights weights(0.2);
  std::vector<double> expected(series.x.size()), z(series.x.size() + 3);
  support::EwmaState state;
  support::ewma_run(weights, state, series.x, {}, {}, 0.0, expected);
  for (const std::size_t threads : {1U, 2U}) {
    const auto out = std::span(z).subspan(threads, series.x.size());
    support::ewma_scan(weights, series.x, {}, {}, out, threads);
    CHECK(bits({out.begin(), out.end()}) == bits(expected));
  }
}

TEST_CASE("ewma scan: a guess of the start level that was wrong is found and the stretch runs again") {
  // The points just in front of the second stretch are all 0, and so is the guess; the true level is still huge.
  const support::EwmaWeights weights(0.05);
  std::vector<double> x(40'000, 0.0);
  x[10] = 1e300;
  std::vector<double> expected(x.size()), z(x.size());
  support::EwmaState state;
  support::ewma_run(weights, state, x, {}, {}, 0.0, expected);
  REQUIRE(expected[4000] > 1e200);
  support::ewma_scan(weights, x, {}, {}, z, 2, 4000);
  CHECK(bits(z) == bits(expected));
}
