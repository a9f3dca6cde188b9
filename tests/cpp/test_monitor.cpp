#include <doctest/doctest.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include <steadyfilm/core.hpp>
#include <steadyfilm/monitor.hpp>

#include "../fuzz/rule_definition.hpp"
#include "reference.hpp"

using steadyfilm::monitor;
using steadyfilm::Monitored;
using steadyfilm::MonitorLimits;
using steadyfilm::MonitorPoints;
using steadyfilm::MonitorState;

namespace {

const reference::Register episode_rows("monitor_episodes", [](const reference::Args& args) {
  MonitorLimits limits;
  limits.center = args.number("center");
  limits.sigma_point = args.number("sigma_point");
  limits.rules = steadyfilm::parse_rules(args.words("rules"));
  limits.smoothing = args.number("smoothing");
  limits.ewma_multiple = args.number("ewma_multiple");
  const auto value = args.list("values");
  std::vector<std::uint8_t> takes_part(value.size(), 1);
  for (const double point : args.list("excluded")) takes_part[static_cast<std::size_t>(point) - 1] = 0;
  const auto judged = monitor(limits, {}, {.value = value, .takes_part = takes_part});
  reference::Found found;
  for (const char* name : {"episodes", "lengths", "sides"}) found.lists[name] = {};
  for (const auto& episode : judged.episodes) {
    found.lists["episodes"].push_back(static_cast<double>(episode.point) + 1.0);
    found.lists["lengths"].push_back(static_cast<double>(episode.length));
    found.lists["sides"].push_back(episode.side);
  }
  return found;
});

MonitorLimits zone_and_ewma() {
  MonitorLimits limits;
  limits.rules = steadyfilm::nelson();
  limits.smoothing = 0.2;
  limits.ewma_multiple = 2.86;
  return limits;
}

/// A series with own centers and sigmas, excluded points (their values unreadable) and breaks.
struct Series {
  std::vector<double> value, center, sigma;
  std::vector<std::uint8_t> takes_part, break_before;

  [[nodiscard]] MonitorPoints points(std::size_t first, std::size_t last) const {
    const auto piece = [&](const auto& all) { return std::span(all).subspan(first, last - first); };
    return {.value = piece(value),
            .takes_part = piece(takes_part),
            .break_before = piece(break_before),
            .center = piece(center),
            .sigma_point = piece(sigma)};
  }
};

Series random_series(std::mt19937& random, std::size_t n) {
  Series series;
  std::normal_distribution<double> normal;
  for (std::size_t i = 0; i < n; ++i) {
    const double center = 2.1 + 0.01 * static_cast<double>(random() % 5);
    const double sigma = 0.05 + 0.01 * static_cast<double>(random() % 3);
    const bool part = random() % 15 != 0;
    series.center.push_back(center);
    series.sigma.push_back(sigma);
    series.value.push_back(part ? center + 1.4 * sigma * normal(random) : std::numeric_limits<double>::quiet_NaN());
    series.takes_part.push_back(part);
    series.break_before.push_back(random() % 25 == 0);
  }
  return series;
}

bool same_bits(const std::vector<double>& a, const std::vector<double>& b) {
  return std::ranges::equal(
      a, b, [](double x, double y) { return std::bit_cast<std::uint64_t>(x) == std::bit_cast<std::uint64_t>(y); });
}

/// Append a piece's findings to those of the pieces before it.
void append(Monitored& all, const Monitored& piece, std::size_t offset) {
  all.z.insert(all.z.end(), piece.z.begin(), piece.z.end());
  all.ewma.insert(all.ewma.end(), piece.ewma.begin(), piece.ewma.end());
  for (auto signal : piece.signals) {
    signal.point += offset;
    all.signals.push_back(signal);
  }
  for (auto episode : piece.episodes) {
    episode.point += offset;
    all.episodes.push_back(episode);
  }
  all.states = piece.states;
}

}  // namespace

TEST_CASE("monitor: any cut gives the bits of the whole") {
  std::mt19937 random(1931);
  std::size_t episodes = 0;
  for (int round = 0; round < 200; ++round) {
    CAPTURE(round);
    MonitorLimits limits = zone_and_ewma();
    limits.mark_every_signal = round % 2 == 1;
    limits.ewma_time_varying = round % 3 == 1;
    limits.last_point_beyond = round % 5 != 1;
    const std::size_t n = random() % 120;
    const Series series = random_series(random, n);
    const Monitored whole = monitor(limits, {}, series.points(0, n));
    Monitored pieces;
    pieces.states.resize(1);
    for (std::size_t first = 0; first < n;) {
      const std::size_t last = std::min(n, first + random() % 12);
      append(pieces, monitor(limits, pieces.states[0], series.points(first, last)), first);
      first = last;
    }
    if (n == 0) append(pieces, monitor(limits, pieces.states[0], series.points(0, 0)), 0);
    CHECK(same_bits(whole.z, pieces.z));
    CHECK(same_bits(whole.ewma, pieces.ewma));
    CHECK(whole.signals == pieces.signals);
    CHECK(whole.episodes == pieces.episodes);
    CHECK(whole.states == pieces.states);
    CHECK(whole.states[0].count == n);
    CHECK(whole.states[0].episodes == whole.episodes.size());
    episodes += whole.episodes.size();
  }
  CHECK(episodes > 500);  // the comparison was not empty
}

TEST_CASE("monitor: without an EWMA its episodes and marks are those of the rule definition") {
  std::mt19937 random(77);
  for (int round = 0; round < 100; ++round) {
    CAPTURE(round);
    MonitorLimits limits;
    limits.rules = steadyfilm::nelson();
    limits.mark_every_signal = true;
    const Series series = random_series(random, 90);
    const Monitored found = monitor(limits, {}, series.points(0, 90));
    CHECK(found.ewma.empty());
    const auto marks = definition::signals(found.z, series.takes_part, series.break_before, limits.rules, {});
    REQUIRE(found.signals.size() == marks.size());
    for (std::size_t i = 0; i < marks.size(); ++i) {
      CHECK(found.signals[i].point == marks[i].point);
      CHECK(found.signals[i].rule == marks[i].rule);
      CHECK(found.signals[i].side == marks[i].side);
      CHECK(found.signals[i].length == marks[i].length);
    }
    const auto cleared = definition::signals(found.z, series.takes_part, series.break_before, limits.rules,
                                             {.clear_after_signal = true});
    std::vector<std::size_t> starts;
    for (const auto& signal : cleared) {
      if (starts.empty() || starts.back() != signal.point) starts.push_back(signal.point);
    }
    REQUIRE(found.episodes.size() == starts.size());
    for (std::size_t i = 0; i < starts.size(); ++i) CHECK(found.episodes[i].point == starts[i]);
  }
}

TEST_CASE("monitor: many streams in one call equal each alone") {
  std::mt19937 random(42);
  const MonitorLimits limits = zone_and_ewma();
  const Series series = random_series(random, 60);
  const std::vector<std::size_t> offsets = {0, 0, 1, 31, 31, 32, 60};  // empty and one-point streams between others
  const std::vector<MonitorState> states(offsets.size() - 1);
  const Monitored together = monitor(limits, states, series.points(0, 60), offsets);
  std::size_t signals = 0;
  for (std::size_t s = 0; s + 1 < offsets.size(); ++s) {
    CAPTURE(s);
    const Monitored alone = monitor(limits, {}, series.points(offsets[s], offsets[s + 1]));
    CHECK(together.states[s] == alone.states[0]);
    const std::vector<double> ewma(together.ewma.begin() + static_cast<std::ptrdiff_t>(offsets[s]),
                                   together.ewma.begin() + static_cast<std::ptrdiff_t>(offsets[s + 1]));
    CHECK(same_bits(ewma, alone.ewma));
    for (const auto& signal : alone.signals) {
      REQUIRE(signals < together.signals.size());
      CHECK(together.signals[signals].stream == s);
      CHECK(together.signals[signals].point == signal.point + offsets[s]);
      CHECK(together.signals[signals].rule == signal.rule);
      ++signals;
    }
  }
  CHECK(signals == together.signals.size());
  CHECK(signals > 0);
}

TEST_CASE("monitor: an episode clears the rules and the EWMA") {
  MonitorLimits limits;
  limits.rules = {steadyfilm::parse_rule("1of1_beyond3_one"), steadyfilm::parse_rule("2of3_beyond2_one")};
  limits.smoothing = 0.5;
  limits.ewma_multiple = 10.0;
  const std::vector<double> value = {2.5, 3.5, 2.5, 2.5};
  const Monitored found = monitor(limits, {}, {.value = value});
  REQUIRE(found.episodes.size() == 2);
  CHECK(found.episodes[0].point == 1);
  CHECK(found.episodes[0].rules == 3);  // both rules at once
  CHECK(found.episodes[0].side == 1);
  CHECK(found.episodes[0].length == 2);
  CHECK(found.episodes[1].point == 3);  // not 2: the earlier hits are forgotten
  CHECK(found.signals.size() == 3);
  CHECK(found.ewma[1] == 0.5 * 3.5 + 0.25 * 2.5);
  CHECK(found.ewma[2] == 1.25);  // from 0 again
}

TEST_CASE("monitor: the EWMA signals beyond its limits and says since when it lies on that side") {
  MonitorLimits limits;
  limits.smoothing = 0.2;
  limits.ewma_multiple = 2.86;
  // Asymptotic reach 2.86 sqrt(0.2 / 1.8) = 0.953; with 1.5 the EWMA is 1.5 (1 - 0.8^i): beyond it from the fifth point
  // on.
  const std::vector<double> value = {-0.1, 1.5, 1.5, 1.5, 1.5, 1.5, 1.5};
  const Monitored found = monitor(limits, {}, {.value = value});
  REQUIRE(found.signals.size() == 1);
  // -0.02 first; then 0.284, 0.527, 0.722, 0.877, 1.002.
  CHECK(found.signals[0].point == 5);
  CHECK(found.signals[0].rule == 0);
  CHECK(found.signals[0].side == 1);
  CHECK(found.signals[0].length == 5);
  CHECK(found.episodes[0].rules == 1);

  limits.ewma_time_varying = true;  // reach at the first point 2.86 * 0.2
  CHECK(steadyfilm::ewma_reach(limits, 1) == doctest::Approx(2.86 * 0.2));
  CHECK(steadyfilm::ewma_reach(limits, 1000) == doctest::Approx(2.86 / 3.0));
  CHECK(monitor(limits, {}, {.value = std::vector<double>{2.9}}).signals.size() == 1);
}

TEST_CASE("monitor: an excluded point is carried over by the EWMA, a break restarts it") {
  MonitorLimits limits;
  limits.smoothing = 0.5;
  limits.ewma_multiple = 3.0;
  const std::vector<double> value = {1.0, 99.0, 1.0, 1.0};
  const std::vector<std::uint8_t> part = {1, 0, 1, 1};
  const std::vector<std::uint8_t> breaks = {0, 0, 0, 1};
  const Monitored found = monitor(limits, {}, {.value = value, .takes_part = part, .break_before = breaks});
  CHECK(found.ewma == std::vector<double>{0.5, 0.5, 0.75, 0.5});
  CHECK(std::isnan(found.z[1]));
  CHECK(found.states[0].count == 4);
  CHECK(found.states[0].used == 3);
}

TEST_CASE("monitor: input it cannot use is refused with name and position") {
  const MonitorLimits limits = zone_and_ewma();
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const std::vector<double> two = {0.0, nan};
  CHECK_THROWS_WITH_AS((void)monitor(limits, {}, {.value = two}), "monitor: value[1] is not finite (nan)",
                       steadyfilm::InvalidInput);
  const std::vector<double> zeros = {0.0, 0.0};
  const std::vector<double> sigma = {1.0, 0.0};
  CHECK_THROWS_WITH_AS((void)monitor(limits, {}, {.value = zeros, .sigma_point = sigma}),
                       "monitor: sigma_point[1] is not positive and finite (0)", steadyfilm::InvalidInput);
  const std::vector<double> three(3, 0.0);
  CHECK_THROWS_WITH_AS((void)monitor(limits, {}, {.value = zeros, .center = three}),
                       "monitor: center has 3 elements for 2 points", steadyfilm::InvalidInput);
  MonitorState state;
  state.memory.rules.above.resize(3);
  CHECK_THROWS_WITH_AS((void)monitor(limits, state, {.value = zeros}),
                       "monitor: state[0] was left by 3 rules, the limits have 8", steadyfilm::InvalidInput);
  const std::vector<MonitorState> one(1);
  CHECK_THROWS_AS((void)monitor(limits, one, {.value = zeros}, std::vector<std::size_t>{0, 1}),
                  steadyfilm::InvalidInput);
  CHECK_THROWS_AS((void)monitor(limits, one, {.value = zeros}, std::vector<std::size_t>{0, 1, 2}),
                  steadyfilm::InvalidInput);
  CHECK_THROWS_AS(
      (void)monitor(limits, std::vector<MonitorState>(2), {.value = zeros}, std::vector<std::size_t>{0, 3, 2}),
      steadyfilm::InvalidInput);
  MonitorLimits wrong = limits;
  wrong.smoothing = 1.5;
  CHECK_THROWS_AS((void)monitor(wrong, {}, {.value = zeros}), steadyfilm::InvalidInput);
  wrong = limits;
  wrong.ewma_multiple = 0.0;
  CHECK_THROWS_AS((void)monitor(wrong, {}, {.value = zeros}), steadyfilm::InvalidInput);
  wrong = limits;
  wrong.rules.assign(64, steadyfilm::parse_rule("trend6"));
  CHECK_THROWS_AS((void)monitor(wrong, {}, {.value = zeros}), steadyfilm::InvalidInput);
}

TEST_CASE("series side by side have as many episodes as the monitor counts in each") {
  MonitorLimits limits;
  limits.rules = steadyfilm::parse_rules(std::vector<std::string>{"1of1_beyond2.5_one"});
  limits.smoothing = 0.2;
  limits.ewma_multiple = 2.4;
  const std::size_t points = 80;
  std::mt19937_64 random(5);
  std::normal_distribution<double> normal(0.0, 1.4);
  std::vector<std::uint8_t> breaks(points, 0);
  breaks[11] = breaks[50] = 1;
  for (const std::size_t lanes : {std::size_t{1}, std::size_t{64}, std::size_t{130}}) {
    std::vector<double> z(lanes * points);
    for (double& one : z) one = normal(random);
    std::vector<std::int32_t> counts(lanes);
    const steadyfilm::BeyondLines lines{
        .point_reach = 2.5, .smoothing = 0.2, .ewma_reach = steadyfilm::ewma_reach(limits, 1)};
    steadyfilm::count_episodes(lines, z, lanes, breaks, counts);
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      std::vector<double> series(points);
      for (std::size_t i = 0; i < points; ++i) series[i] = z[i * lanes + lane];
      const auto judged = monitor(limits, {}, {.value = series, .break_before = breaks});
      CHECK(counts[lane] == static_cast<std::int32_t>(judged.episodes.size()));
    }
  }
}

TEST_CASE("series side by side: lengths that disagree and lines that are none are refused") {
  std::vector<double> z(6, 0.0);
  std::vector<std::int32_t> counts(2);
  const auto refused = [&](steadyfilm::BeyondLines lines, std::size_t lanes, std::vector<std::uint8_t> breaks) {
    CHECK_THROWS_AS(steadyfilm::count_episodes(lines, z, lanes, breaks, counts), steadyfilm::InvalidInput);
  };
  steadyfilm::count_episodes({.point_reach = 3.0}, z, 2, {}, counts);
  CHECK(counts == std::vector<std::int32_t>{0, 0});
  refused({.point_reach = 0.0}, 2, {});
  refused({.point_reach = 3.0, .smoothing = 1.5}, 2, {});
  refused({.point_reach = 3.0, .smoothing = 0.2}, 2, {});
  refused({.point_reach = 3.0}, 4, {});
  refused({.point_reach = 3.0}, 0, {});
  refused({.point_reach = 3.0}, 3, {});
  refused({.point_reach = 3.0}, 2, {0, 1});
}
