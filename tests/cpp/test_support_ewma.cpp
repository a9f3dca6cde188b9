#include <doctest/doctest.h>

#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <random>
#include <span>
#include <vector>

#include "support/ewma.hpp"

using steadyfilm::support::ewma_now;
using steadyfilm::support::ewma_run;
using steadyfilm::support::ewma_step;
using steadyfilm::support::EwmaState;
using steadyfilm::support::EwmaWeights;

namespace {

std::vector<std::uint64_t> bits(std::span<const double> values) {
  std::vector<std::uint64_t> out;
  for (const double v : values) out.push_back(std::bit_cast<std::uint64_t>(v));
  return out;
}

std::vector<double> noise(std::size_t count) {
  std::mt19937 random(20240901);
  std::vector<double> out(count);
  for (double& x : out) x = static_cast<double>(random()) / 4294967296.0 - 0.5;
  return out;
}

/// A whole block by shifts of all eight lanes at once, as a vector unit does it.
std::array<double, 8> block_by_shifts(const EwmaWeights& weights, std::array<double, 8> s, double level) {
  for (const std::size_t shift : {1U, 2U, 4U}) {
    const auto before = s;
    for (std::size_t j = 0; j < 8; ++j)
      s[j] = before[j] + weights.power[shift - 1] * (j >= shift ? before[j - shift] : 0.0);
  }
  for (std::size_t j = 0; j < 8; ++j) s[j] = weights.smoothing * s[j] + weights.power[j] * level;
  return s;
}

}  // namespace

TEST_CASE("ewma: agrees with the recursion as textbooks write it") {
  const auto x = noise(1000);
  for (const double lambda : {0.05, 0.2, 0.3, 0.9, 1.0}) {
    CAPTURE(lambda);
    EwmaState state{.level = 0.25, .pending = 0, .values = {}};
    std::vector<double> z(x.size());
    ewma_run(EwmaWeights(lambda), state, x, {}, {}, 0.0, z);
    long double wanted = 0.25L;
    for (std::size_t i = 0; i < x.size(); ++i) {
      wanted = static_cast<long double>(lambda) * x[i] + (1.0L - static_cast<long double>(lambda)) * wanted;
      CHECK(std::abs(z[i] - static_cast<double>(wanted)) < 4e-16);
    }
  }
}

TEST_CASE("ewma: a point at a time and a block at a time give the same bits") {
  const auto x = noise(64);
  const EwmaWeights weights(0.2);
  EwmaState state;
  double level = 0.0;
  for (std::size_t start = 0; start < x.size(); start += 8) {
    std::array<double, 8> block{};
    for (std::size_t j = 0; j < 8; ++j) block[j] = x[start + j];
    const auto wanted = block_by_shifts(weights, block, level);
    for (std::size_t j = 0; j < 8; ++j) {
      const double z = ewma_step(weights, state, block[j]);
      CHECK(std::bit_cast<std::uint64_t>(z) == std::bit_cast<std::uint64_t>(wanted[j]));
    }
    level = wanted[7];
  }
}

TEST_CASE("ewma: any cut resumes with the same bits, over gaps and restarts") {
  const auto x = noise(61);
  std::vector<std::uint8_t> takes_part(x.size(), 1), break_before(x.size(), 0);
  for (const std::size_t i : {3U, 4U, 17U, 40U}) takes_part[i] = 0;
  for (const std::size_t i : {11U, 40U}) break_before[i] = 1;
  const EwmaWeights weights(0.3);
  EwmaState whole_state;
  std::vector<double> whole(x.size());
  ewma_run(weights, whole_state, x, takes_part, break_before, 0.0, whole);
  for (std::size_t cut = 0; cut <= x.size(); ++cut) {
    EwmaState state;
    std::vector<double> pieces(x.size());
    const auto piece = [&](std::size_t from, std::size_t count) {
      ewma_run(weights, state, std::span(x).subspan(from, count),
               std::span<const std::uint8_t>(takes_part).subspan(from, count),
               std::span<const std::uint8_t>(break_before).subspan(from, count), 0.0,
               std::span<double>(pieces).subspan(from, count));
    };
    piece(0, cut);
    piece(cut, x.size() - cut);
    CHECK(bits(pieces) == bits(whole));
    CHECK(state == whole_state);
  }
}

TEST_CASE("ewma: carried over a missing point, restarted at a new period") {
  const std::vector<double> x = {1.0, 100.0, 1.0, 1.0};
  const std::vector<std::uint8_t> takes_part = {1, 0, 1, 1}, break_before = {0, 0, 0, 1};
  EwmaState state;
  std::vector<double> z(4);
  ewma_run(EwmaWeights(0.5), state, x, takes_part, break_before, 0.0, z);
  CHECK(z == std::vector<double>{0.5, 0.5, 0.75, 0.5});
  CHECK(ewma_now(EwmaWeights(0.5), state) == 0.5);
}

TEST_CASE("ewma: points on the center stay there exactly") {
  EwmaState state;
  for (int i = 0; i < 20; ++i) CHECK(ewma_step(EwmaWeights(0.2), state, 0.0) == 0.0);
}
