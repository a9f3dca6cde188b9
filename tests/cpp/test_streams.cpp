#include <doctest/doctest.h>

#include <steadyfilm/streams.hpp>

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include <steadyfilm/chart_ewma.hpp>
#include <steadyfilm/chart_individuals.hpp>
#include <steadyfilm/core.hpp>

#include "reference.hpp"

namespace {

using steadyfilm::chart_streams;
using steadyfilm::StreamsOptions;
using steadyfilm::StreamTest;

const reference::Register charted("streams_chart", [](const reference::Args& args) {
  const auto values = args.list("values");
  std::vector<std::size_t> offsets;
  for (const double offset : args.list("offsets")) offsets.push_back(static_cast<std::size_t>(offset));
  const std::vector<double> multiple = {args.number("sigma_multiple")};
  const auto found =
      chart_streams(values, {}, offsets, multiple,
                    {.smoothing = args.number("smoothing"), .fewest_points = args.count("fewest_points")});
  return reference::Found{.numbers = {},
                          .lists = {{"center", found.center},
                                    {"sigma_within", found.sigma_within},
                                    {"lower", found.lower},
                                    {"upper", found.upper}},
                          .words = {}};
});

constexpr double none = std::numeric_limits<double>::quiet_NaN();
const std::vector<double> three = {3.0};

struct Data {
  std::vector<double> values;
  std::vector<std::uint8_t> takes_part;
  std::vector<std::size_t> offsets = {0};
};

/// Streams of all lengths, empty and one-point ones among them, with missing points and a few shifts.
Data unequal(std::size_t streams) {
  std::mt19937 source(7);
  std::normal_distribution<double> normal(0.0, 0.1);
  Data data;
  for (std::size_t s = 0; s < streams; ++s) {
    const std::size_t length = s % 7 == 0 ? 0 : s % 7 == 1 ? 1 : source() % 400;
    for (std::size_t i = 0; i < length; ++i) {
      data.values.push_back(2.0 + normal(source) + (s % 5 == 0 && i > length / 2 ? 0.4 : 0.0));
      data.takes_part.push_back(source() % 50 != 0);
      if (data.takes_part.back() == 0) data.values.back() = none;
    }
    data.offsets.push_back(data.values.size());
  }
  return data;
}

bool same(const std::vector<double>& a, const std::vector<double>& b) {
  return std::ranges::equal(a, b, [](double x, double y) {
    return std::bit_cast<std::uint64_t>(x) == std::bit_cast<std::uint64_t>(y) || (std::isnan(x) && std::isnan(y));
  });
}

}  // namespace

TEST_CASE("streams: each stream has the bits that it has alone, for every number of threads") {
  const Data data = unequal(150);
  std::vector<double> ewma(data.values.size());
  const auto whole = chart_streams(data.values, data.takes_part, data.offsets, three, {.threads = 1}, ewma);
  for (const std::size_t threads : {2UL, 4UL}) {
    std::vector<double> again(ewma.size());
    const auto found = chart_streams(data.values, data.takes_part, data.offsets, three, {.threads = threads}, again);
    CHECK(same(found.center, whole.center));
    CHECK(same(found.sigma_within, whole.sigma_within));
    CHECK(same(found.upper, whole.upper));
    CHECK(found.signals == whole.signals);
    CHECK(same(again, ewma));
  }
  std::size_t signals = 0, charts = 0;
  for (std::size_t s = 0; s + 1 < data.offsets.size(); ++s) {
    CAPTURE(s);
    const std::size_t first = data.offsets[s], length = data.offsets[s + 1] - first;
    const auto x = std::span(data.values).subspan(first, length);
    const auto part = std::span(data.takes_part).subspan(first, length);
    const std::vector<std::size_t> bounds = {0, length};
    const auto alone = chart_streams(x, part, bounds, three);
    CHECK(same(alone.center, {whole.center[s]}));
    CHECK(same(alone.sigma_within, {whole.sigma_within[s]}));
    CHECK(alone.beyond_count[0] == whole.beyond_count[s]);
    if (whole.has_limits[s] == 0) continue;
    // And the bits of the charts of single values.
    ++charts;
    const auto single = steadyfilm::individuals_chart(x, part, {});
    CHECK(single.limits.center == whole.center[s]);
    CHECK(single.sigma_within == whole.sigma_within[s]);
    CHECK(single.limits.upper == whole.upper[s]);
    const auto smooth = steadyfilm::ewma_chart(x, part, {});
    CHECK(same(smooth.ewma, std::vector<double>(ewma.begin() + static_cast<std::ptrdiff_t>(first),
                                                ewma.begin() + static_cast<std::ptrdiff_t>(first + length))));
    CHECK(static_cast<std::int64_t>(smooth.signals.size()) == whole.ewma_count[s]);
    signals += smooth.signals.size();
  }
  CHECK(charts > 50);
  CHECK(signals > 100);
}

TEST_CASE("streams: empty and one-point streams, and no stream at all, are answers") {
  const std::vector<double> values = {5.0};
  const std::vector<std::size_t> offsets = {0, 0, 1};
  const auto found = chart_streams(values, {}, offsets, three);
  CHECK(std::isnan(found.center[0]));
  CHECK(found.center[1] == 5.0);
  CHECK(found.has_limits == std::vector<std::uint8_t>{0, 0});
  CHECK(found.signals.empty());
  const std::vector<std::size_t> nothing = {0};
  CHECK(chart_streams({}, {}, nothing, three).center.empty());
}

TEST_CASE("streams: constant data has sigma 0 and lines on the value") {
  const std::vector<double> values(30, 0.1);
  const std::vector<std::size_t> offsets = {0, 30};
  const auto found = chart_streams(values, {}, offsets, three);
  CHECK(found.sigma_within[0] == 0.0);
  CHECK(found.lower[0] == 0.1);
  CHECK(found.upper[0] == 0.1);
  CHECK(found.signals.empty());
}

TEST_CASE("streams: a point is compared with the others at its moment, never with itself") {
  // Moment 0: 1 2 6 against centers 0; moment 1: stream 2 alone.
  const std::vector<double> values = {1.0, 2.0, 6.0, 9.0}, centers = {0.0, 0.0, 0.0};
  const std::vector<std::int64_t> stream = {0, 1, 2, 2}, moment = {0, 0, 0, 1};
  std::vector<std::uint8_t> reference = {1, 1, 1};
  std::vector<double> difference(4), level(2);
  steadyfilm::differences_from_others(values, stream, moment, centers, reference, difference, level);
  CHECK(same(difference, {-3.0, -1.5, 4.5, none}));
  CHECK(same(level, {3.0, 9.0}));
  reference[2] = 0;
  steadyfilm::differences_from_others(values, stream, moment, centers, reference, difference, level);
  CHECK(same(difference, {-1.0, 1.0, 4.5, none}));
  CHECK(same(level, {1.5, none}));
}

TEST_CASE("streams: input it cannot use is refused with name and position") {
  using steadyfilm::InvalidInput;
  const std::vector<double> values = {1.0, none, 3.0};
  const std::vector<std::size_t> good = {0, 3}, falling = {0, 2, 1, 3}, shorter = {0, 2};
  CHECK_THROWS_WITH_AS((void)chart_streams(values, {}, good, three), "chart_streams: values[1] is not finite (nan)",
                       InvalidInput);
  const std::vector<double> fine = {1.0, 2.0, 3.0}, two = {3.0, 3.0}, zero = {0.0};
  CHECK_THROWS_WITH_AS((void)chart_streams(fine, {}, falling, three), "chart_streams: offsets[2] must not fall",
                       InvalidInput);
  CHECK_THROWS_AS((void)chart_streams(fine, {}, shorter, three), InvalidInput);
  CHECK_THROWS_AS((void)chart_streams(fine, {}, {}, three), InvalidInput);
  CHECK_THROWS_AS((void)chart_streams(fine, {}, good, two), InvalidInput);
  CHECK_THROWS_AS((void)chart_streams(fine, {}, good, zero), InvalidInput);
  CHECK_THROWS_AS((void)chart_streams(fine, {}, good, three, {.smoothing = 1.5}), InvalidInput);
  CHECK_THROWS_AS((void)chart_streams(fine, {}, good, three, {.fewest_points = 1}), InvalidInput);
  const std::vector<std::uint8_t> mask = {1};
  CHECK_THROWS_AS((void)chart_streams(fine, mask, good, three), InvalidInput);
  std::vector<double> out(3), level(1);
  const std::vector<std::int64_t> stream = {0, 0, 1}, moment = {0, 0, 0};
  const std::vector<std::uint8_t> reference = {1};
  CHECK_THROWS_AS(steadyfilm::differences_from_others(fine, stream, moment, zero, reference, out, level), InvalidInput);
}
