#include <doctest/doctest.h>

#include <steadyfilm/chart_ewma.hpp>

#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <random>
#include <span>
#include <vector>

#include <steadyfilm/chart_individuals.hpp>
#include <steadyfilm/core.hpp>
#include <steadyfilm/monitor.hpp>

#include "reference.hpp"

using steadyfilm::ewma_chart;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

const reference::Register ewma_limits("ewma_limits", [](const reference::Args& args) {
  const auto found = ewma_chart(args.list("values"), {}, {},
                                {.smoothing = args.number("smoothing"),
                                 .sigma_multiple = args.number("sigma_multiple"),
                                 .time_varying = args.word("limits") == "time_varying",
                                 .center = args.number("center"),
                                 .sigma_point = args.number("sigma_point")});
  reference::List signals;
  for (const auto& signal : found.signals) signals.push_back(static_cast<double>(signal.point + 1));
  reference::Found out{.numbers = {{"lower", found.limits.lower}}, .lists = {{"ewma", found.ewma}}, .words = {}};
  out.lists["signals"] = signals;
  // The rows ask for one line of constant limits, or for `upper[i]` of varying ones.
  if (args.word("limits") == "time_varying") {
    out.lists["upper"] = found.upper;
  } else {
    out.numbers["upper"] = found.limits.upper;
  }
  return out;
});

}  // namespace

TEST_CASE("chart_ewma: the bits of a monitor that gets the series in pieces") {
  std::mt19937_64 random(5);
  std::normal_distribution<double> normal(2.1, 0.09);
  std::vector<double> values(70);
  for (std::size_t i = 0; i < values.size(); ++i) values[i] = normal(random) + (i > 40 ? 0.1 : 0.0);
  std::vector<std::uint8_t> takes_part(values.size(), 1), breaks(values.size(), 0);
  for (const std::size_t i : {5U, 6U, 20U, 44U}) takes_part[i] = 0;
  for (const std::size_t i : {17U, 44U}) breaks[i] = 1;
  for (const bool time_varying : {false, true}) {
    const auto chart = ewma_chart(
        values, takes_part, breaks,
        {.smoothing = 0.25, .sigma_multiple = 2.5, .time_varying = time_varying, .center = 2.1, .sigma_point = 0.09});
    steadyfilm::MonitorLimits limits;
    limits.center = 2.1;
    limits.sigma_point = 0.09;
    limits.smoothing = 0.25;
    limits.ewma_multiple = 2.5;
    limits.ewma_time_varying = time_varying;
    limits.mark_every_signal = true;
    REQUIRE(!chart.signals.empty());
    for (const std::size_t cut : {0U, 1U, 13U, 17U, 44U, 63U, 70U}) {
      CAPTURE(cut);
      steadyfilm::MonitorState state;
      std::vector<double> ewma;
      std::vector<steadyfilm::EwmaSignal> signals;
      for (const auto& [from, count] : {std::pair<std::size_t, std::size_t>{0, cut}, {cut, values.size() - cut}}) {
        const auto piece =
            steadyfilm::monitor(limits, state,
                                {.value = std::span<const double>(values).subspan(from, count),
                                 .takes_part = std::span<const std::uint8_t>(takes_part).subspan(from, count),
                                 .break_before = std::span<const std::uint8_t>(breaks).subspan(from, count)});
        ewma.insert(ewma.end(), piece.ewma.begin(), piece.ewma.end());
        for (const auto& s : piece.signals)
          signals.push_back({.point = from + s.point, .side = s.side, .length = s.length});
        state = piece.states[0];
      }
      for (std::size_t i = 0; i < values.size(); ++i) {
        CHECK(std::bit_cast<std::uint64_t>(ewma[i]) == std::bit_cast<std::uint64_t>(chart.standardized_ewma[i]));
      }
      CHECK(signals == chart.signals);
    }
  }
}

TEST_CASE("chart_ewma: carried over a missing point, restarted at a break") {
  const std::vector<double> values = {12.0, none, 12.0, 12.0, 8.0};
  const auto chart =
      ewma_chart(values, std::vector<std::uint8_t>{1, 0, 1, 1, 1}, std::vector<std::uint8_t>{0, 0, 0, 0, 1},
                 {.smoothing = 0.5, .center = 10.0, .sigma_point = 1.0});
  CHECK(chart.ewma == std::vector<double>{11.0, 11.0, 11.5, 11.75, 9.0});
  CHECK(chart.upper[0] == chart.upper[1]);
  CHECK(chart.upper[4] == chart.upper[0]);
  CHECK(chart.upper[0] == doctest::Approx(11.5).epsilon(1e-15));  // 3 sqrt(1/3 (1 - 1/4)) = 1.5
  CHECK(chart.limits.upper == doctest::Approx(10.0 + std::sqrt(3.0)).epsilon(1e-15));
  const auto constant = ewma_chart(values, std::vector<std::uint8_t>{1, 0, 1, 1, 1}, {},
                                   {.smoothing = 0.5, .time_varying = false, .center = 10.0, .sigma_point = 1.0});
  CHECK(constant.upper == std::vector<double>(5, constant.limits.upper));
}

TEST_CASE("chart_ewma: smoothing 1 is the chart of single values") {
  const std::vector<double> values = {2.1, 2.2, 2.0, 2.9, 2.1};
  const auto single = steadyfilm::individuals_chart(values, {}, {});
  const auto chart = ewma_chart(values, {}, {}, {.smoothing = 1.0});
  for (std::size_t i = 0; i < values.size(); ++i) {
    CHECK(chart.ewma[i] == doctest::Approx(values[i]).epsilon(1e-15));
    CHECK(chart.upper[i] == single.limits.upper);
  }
  CHECK(chart.sigma_point == single.sigma_within);
  CHECK(chart.degrees_of_freedom == single.degrees_of_freedom);
}

TEST_CASE("chart_ewma: constant data is an answer") {
  const auto chart = ewma_chart(std::vector<double>(11, 0.1), {}, {});
  CHECK(chart.sigma_point == 0.0);
  CHECK(chart.ewma == std::vector<double>(11, 0.1));
  CHECK(chart.signals.empty());
  const auto off = ewma_chart(std::vector<double>(2, 0.1), {}, {}, {.center = 0.2, .sigma_point = 0.0});
  CHECK(off.signals == std::vector<steadyfilm::EwmaSignal>{{0, -1, 1}, {1, -1, 2}});
}

TEST_CASE("chart_ewma: input it cannot use is refused with name, position and value") {
  using steadyfilm::InvalidInput;
  const std::vector<double> two = {80.0, 81.0};
  CHECK_THROWS_WITH_AS((void)ewma_chart(std::vector<double>{80.0, none}, {}, {}),
                       "ewma_chart: values[1] is not finite (nan)", InvalidInput);
  CHECK_THROWS_WITH_AS((void)ewma_chart(two, {}, {}, {.smoothing = 0.0}),
                       "ewma_chart: smoothing must lie above 0 and not above 1, got 0", InvalidInput);
  CHECK_THROWS_AS((void)ewma_chart(two, {}, {}, {.smoothing = 1.1}), InvalidInput);
  CHECK_THROWS_AS((void)ewma_chart(two, {}, {}, {.smoothing = none}), InvalidInput);
  CHECK_THROWS_AS((void)ewma_chart(two, {}, {}, {.sigma_multiple = -1.0}), InvalidInput);
  CHECK_THROWS_AS((void)ewma_chart(two, {}, {}, {.sigma_point = none}), InvalidInput);
  CHECK_THROWS_AS((void)ewma_chart(two, std::vector<std::uint8_t>{1}, {}), InvalidInput);
  CHECK_THROWS_AS((void)ewma_chart(std::vector<double>{}, {}, {}), InvalidInput);
  CHECK_THROWS_WITH_AS((void)ewma_chart(two, {}, std::vector<std::uint8_t>{0, 1}),
                       "ewma_chart: values hold no 2 neighbors without a break; give sigma_point", InvalidInput);
  CHECK_THROWS_AS(
      (void)ewma_chart(std::vector<double>{1.7e308, 1.7e308}, {}, {}, {.center = -1e308, .sigma_point = 1.0}),
      InvalidInput);
}
