// The one pass over sound traces against the way by marked readings, and the upper curve of a window.
#include <doctest/doctest.h>

#include <steadyfilm/cure_profile.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include <steadyfilm/core.hpp>

#include "support/dispatch.hpp"

namespace {

using namespace steadyfilm;
using List = std::vector<double>;

struct Log {
  List time, temperature;
};

// A random walk about the threshold, some intervals of it gaps.
Log random_log(std::size_t count, double gaps, unsigned seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> even(0.0, 1.0);
  std::normal_distribution<double> normal(0.0, 0.4);
  Log log;
  double minute = -7.0, value = 59.5;
  for (std::size_t i = 0; i < count; ++i) {
    log.time.push_back(minute);
    log.temperature.push_back(value);
    minute += even(random) < gaps ? 5.0 + 20.0 * even(random) : 0.5;
    value += normal(random) + 0.02 * (60.0 - value);
  }
  return log;
}

std::vector<ReadingState> all_sound(std::size_t count) { return std::vector<ReadingState>(count, ReadingState::sound); }

constexpr double near_enough = 1e-11;

}  // namespace

TEST_CASE("cure profile: traces without marks give what the same traces give with all marked sound") {
  const CureRate rate{55.0, 60.0};
  unsigned seed = 1;
  for (const std::size_t count :
       {1U, 2U, 3U, 63U, 64U, 65U, 66U, 127U, 128U, 129U, 193U, 32'768U, 32'769U, 32'832U, 70'001U}) {
    for (const double gaps : {0.0, 0.01, 0.3}) {
      const Log log = random_log(count, gaps, seed++);
      const auto state = all_sound(count);
      for (const TraceRule& rule :
           {TraceRule{}, TraceRule{.gap_medians = std::numeric_limits<double>::infinity()},
            TraceRule{.begin_min = log.time.front() - 30.0, .end_min = log.time.back() + 40.0}}) {
        CAPTURE(count);
        CAPTURE(gaps);
        for (const double line : {58.0, 60.0, 90.0}) {
          const auto quick = time_above(log.time, log.temperature, line, {}, rule, 2);
          const auto marked = time_above(log.time, log.temperature, line, state, rule);
          for (const auto& [one, two] :
               {std::pair{quick.observed, marked.observed}, {quick.credited, marked.credited}}) {
            CHECK(one.total_min == doctest::Approx(two.total_min).epsilon(near_enough));
            CHECK(one.longest_min == doctest::Approx(two.longest_min).epsilon(near_enough));
            CHECK(one.excursions == two.excursions);
          }
          CHECK(quick.highest_c == marked.highest_c);
        }
        const auto quick = equivalent_time(log.time, log.temperature, rate, {}, rule, 2);
        const auto marked = equivalent_time(log.time, log.temperature, rate, state, rule);
        CHECK(quick.observed_min == doctest::Approx(marked.observed_min).epsilon(near_enough));
        CHECK(quick.credited_min == doctest::Approx(marked.credited_min).epsilon(near_enough));
      }
    }
  }
}

TEST_CASE("cure profile: a hold counts its minutes at the library's own exponential, on every instruction set") {
  const List time{0.0, 1.0};
  for (const auto set : support::usable_instruction_sets()) {
    const support::ForcedInstructionSet forced(set);
    double worst = 0.0;
    for (const double energy : {0.0, 20.0, 55.0, 90.0, 170.0, 300.0}) {
      for (double t = -40.0; t <= 400.0; t += 0.37) {
        const CureRate rate{energy, 60.0};
        const double exact = std::exp(1000.0 * energy / gas_constant * (1.0 / 333.15 - 1.0 / (t + 273.15)));
        const double found = equivalent_time(time, List{t, t}, rate).observed_min;
        worst = std::max(worst, std::abs(found / exact - 1.0));
      }
    }
    CHECK(worst < 1e-13);  // the exponent alone, near 90, is rounded to 1e-14 of its own
  }
}

TEST_CASE("cure profile: readings that mean nothing are refused in every place of a block") {
  for (const std::size_t bad : {0U, 1U, 63U, 64U, 32'767U, 32'768U, 32'800U, 40'000U}) {
    Log log = random_log(40'001, 0.0, 5);
    for (const double value :
         {std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity(), -280.0}) {
      const double kept = log.temperature[bad];
      log.temperature[bad] = value;
      CHECK_THROWS_WITH_AS((void)time_above(log.time, log.temperature, 60.0), doctest::Contains("temperature_c"),
                           InvalidInput);
      CHECK_THROWS_WITH_AS((void)equivalent_time(log.time, log.temperature, {55.0, 60.0}),
                           doctest::Contains("temperature_c"), InvalidInput);
      log.temperature[bad] = kept;
    }
    if (bad == 0) continue;
    const double kept = log.time[bad];
    for (const double value : {log.time[bad - 1], log.time[bad - 1] - 1.0, std::numeric_limits<double>::quiet_NaN()}) {
      log.time[bad] = value;
      CHECK_THROWS_WITH_AS((void)time_above(log.time, log.temperature, 60.0), doctest::Contains("time_min"),
                           InvalidInput);
      CHECK_THROWS_WITH_AS((void)equivalent_time(log.time, log.temperature, {55.0, 60.0}),
                           doctest::Contains("time_min"), InvalidInput);
    }
    log.time[bad] = kept;
  }
  const List huge{1e308, 1e308, 1e308};  // their sum is infinite, they are not
  CHECK(time_above(List{0, 1, 2}, huge, 60.0).observed.total_min == doctest::Approx(2.0));
}

TEST_CASE("cure profile: the upper curve is a straight line of ln t on 1/T, and a hold beside it is over-baked") {
  const CureRecipe recipe{.schedule = {{190.0, 12.0}}, .overbake = {{210.0, 12.0}, {200.0, 25.0}}};
  // At 205 C by hand: ln t = ln 25 + (ln 12 - ln 25) (1/478.15 - 1/473.15) / (1/483.15 - 1/473.15).
  const double allowed = 17.2541671922;
  for (const auto& [minutes, state] : {std::pair{17.2, CureState::pass}, {17.3, CureState::fail}}) {
    const auto found = judge_place(List{0.0, minutes / 2.0, minutes}, List{205.0, 205.0, 205.0}, recipe);
    CHECK(found.state == state);
    CHECK(found.schedule == CureState::pass);
    CHECK(found.overbake.state == state);
    CHECK(found.overbake.temperature_c == doctest::Approx(205.0));
    CHECK(found.overbake.allowed_min == doctest::Approx(allowed).epsilon(1e-6));
    CHECK(found.overbake.observed_min == doctest::Approx(minutes));
  }
  // Exactly what a point allows is allowed; beyond the curve's own temperatures only its end counts.
  CHECK(judge_place(List{0.0, 12.0, 24.0}, List{230.0, 230.0, 230.0}, recipe).overbake.state == CureState::fail);
  CHECK(judge_place(List{0.0, 6.0, 12.0}, List{230.0, 230.0, 230.0}, recipe).overbake.state == CureState::pass);
  CHECK(judge_place(List{0.0, 50.0, 100.0}, List{199.9, 199.9, 199.9}, recipe).state == CureState::pass);
  // One point is a limit of its own.
  const CureRecipe one{.schedule = {{190.0, 12.0}}, .overbake = {{200.0, 25.0}}};
  CHECK(judge_place(List{0.0, 12.0, 26.0}, List{220.0, 220.0, 220.0}, one).overbake.state == CureState::fail);
  CHECK(std::isnan(
      judge_place(List{0.0, 12.0}, List{220.0, 220.0}, {.schedule = {{190.0, 12.0}}}).overbake.temperature_c));
}

TEST_CASE(
    "cure profile: over-baked only when a gap is credited is not demonstrated, and a missing end proves nothing") {
  const CureRecipe recipe{.schedule = {{190.0, 4.0}}, .overbake = {{200.0, 10.0}}};
  const List time{0, 1, 2, 3, 4, 12, 13}, hot(7, 204.0);
  const auto found = judge_place(time, hot, recipe);
  CHECK(found.state == CureState::not_demonstrated);
  CHECK(found.schedule == CureState::pass);
  CHECK(found.overbake.observed_min == doctest::Approx(5.0));
  CHECK(found.overbake.credited_min == doctest::Approx(13.0));
  CHECK(judge_place(List{0, 1, 2, 3, 4}, List(5, 204.0), recipe, {}, {.end_min = 60.0}).state == CureState::pass);
  std::vector<ReadingState> state(7, ReadingState::lost);
  state[0] = state[6] = ReadingState::sound;
  const auto bridged = judge_place(time, hot, recipe, state);
  CHECK(bridged.overbake.observed_min == 0.0);
  CHECK(bridged.overbake.credited_min == doctest::Approx(13.0));
}

TEST_CASE("cure profile: an upper curve that cannot be one is refused") {
  const List time{0.0, 1.0}, hot{200.0, 200.0};
  const auto with = [](std::vector<SchedulePoint> curve) {
    return CureRecipe{.schedule = {{190.0, 12.0}}, .overbake = std::move(curve)};
  };
  CHECK_THROWS_WITH_AS((void)judge_place(time, hot, with({{200.0, 10.0}, {210.0, 12.0}})),
                       doctest::Contains("falls with"), InvalidInput);
  CHECK_THROWS_WITH_AS((void)judge_place(time, hot, with({{200.0, 10.0}, {200.0, 8.0}})), doctest::Contains("twice"),
                       InvalidInput);
  CHECK_THROWS_WITH_AS((void)judge_place(time, hot, with({{200.0, 0.0}})), doctest::Contains("above 0"), InvalidInput);
  CHECK_THROWS_WITH_AS((void)judge_place(time, hot, with({{-300.0, 1.0}})), doctest::Contains("absolute zero"),
                       InvalidInput);
}
