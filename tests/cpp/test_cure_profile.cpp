#include <doctest/doctest.h>

#include <steadyfilm/cure_profile.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include <steadyfilm/core.hpp>

#include "reference.hpp"
#include "support/dispatch.hpp"
#include "support/exponential_integral.hpp"

namespace {

using namespace steadyfilm;
using List = std::vector<double>;

constexpr double none = std::numeric_limits<double>::quiet_NaN();

reference::Found one(const std::string& name, double value) {
  return {.numbers = {{name, value}}, .lists = {}, .words = {}};
}

List celsius(const reference::Args& args) {
  if (args.has("temperature_c")) return args.list("temperature_c");
  List out = args.list("temperature_f");
  for (double& t : out) t = (t - 32.0) / 1.8;
  return out;
}

CureRate rate_of(const reference::Args& args) {
  return {args.number("activation_energy_kj"), args.number("reference_c")};
}

const reference::Register lag("oven_lag", [](const reference::Args& args) {
  const auto found = oven_lag(args.number("air_c"), args.number("start_c"), args.number("time_constant_min"),
                              args.number("oven_min"), args.number("threshold_c"));
  reference::Found out{.numbers = {{"above_min", found.above_min}, {"exit_c", found.exit_c}}, .lists = {}, .words = {}};
  if (std::isinf(found.reach_min)) {
    out.words["reach_min"] = "never";
  } else {
    out.numbers["reach_min"] = found.reach_min;
  }
  return out;
});

const reference::Register lag_dose("oven_lag_equivalent_time", [](const reference::Args& args) {
  return one("equivalent_min",
             oven_lag_equivalent_time(args.number("air_c"), args.number("start_c"), args.number("time_constant_min"),
                                      args.number("oven_min"), rate_of(args)));
});

const reference::Register factor("cure_rate_factor", [](const reference::Args& args) {
  return one("factor", cure_rate_factor(args.number("temperature_c"), rate_of(args)));
});

const reference::Register energy("activation_energy_from_schedule", [](const reference::Args& args) {
  const List minutes = args.list("time_min"), temperature = args.list("temperature_c");
  std::vector<SchedulePoint> points;
  for (std::size_t i = 0; i < minutes.size(); ++i) points.push_back({temperature[i], minutes[i]});
  return one("activation_energy_kj", activation_energy_from_schedule(points).activation_energy_kj);
});

const reference::Register exact("equivalent_time", [](const reference::Args& args) {
  const auto found = equivalent_time(args.list("time_min"), celsius(args), rate_of(args));
  return one("equivalent_min", args.count("credit_gaps") != 0 ? found.credited_min : found.observed_min);
});

const reference::Register rough("equivalent_time_trapezoid", [](const reference::Args& args) {
  std::optional<double> sample;
  if (args.has("sample_min")) sample = args.number("sample_min");
  const auto found = equivalent_time_trapezoid(args.list("time_min"), celsius(args), rate_of(args), sample);
  return one("equivalent_min", args.count("credit_gaps") != 0 ? found.credited_min : found.observed_min);
});

const reference::Register above("time_above", [](const reference::Args& args) {
  const double threshold =
      args.has("threshold_c") ? args.number("threshold_c") : (args.number("threshold_f") - 32.0) / 1.8;
  const auto found = time_above(args.list("time_min"), celsius(args), threshold);
  return one("total_min", args.count("credit_gaps") != 0 ? found.credited.total_min : found.observed.total_min);
});

struct Made {
  List time, temperature;
};

// A heat-up with noise, steps of irregular length.
Made noisy(std::size_t count, unsigned seed, double noise = 0.3) {
  std::mt19937_64 random(seed);
  std::normal_distribution<double> error(0.0, noise);
  std::uniform_real_distribution<double> step(0.5, 1.5);
  Made made;
  double t = 0.0;
  for (std::size_t i = 0; i < count; ++i) {
    made.time.push_back(t);
    made.temperature.push_back(66.0 - 46.0 * std::exp(-std::fmod(t, 90.0) / 10.0) + error(random));
    t += step(random);
  }
  return made;
}

// The dose by Gauss-Legendre with five nodes for each 2 K of an interval: another way to the same integral.
double gauss(const List& time, const List& temperature, const CureRate& rate) {
  constexpr double x[] = {0.0, 0.5384693101056831, 0.9061798459386640};
  constexpr double w[] = {0.5688888888888889, 0.4786286704993665, 0.2369268850561891};
  double sum = 0.0;
  for (std::size_t i = 0; i + 1 < time.size(); ++i) {
    const double step = temperature[i + 1] - temperature[i];
    const double parts = std::ceil(std::abs(step) / 2.0 + 1e-9);
    for (double part = 0.0; part < parts; part += 1.0) {
      const auto at = [&](double u) {
        return cure_rate_factor(temperature[i] + (part + 0.5 * (1.0 + u)) * step / parts, rate);
      };
      const double inside = w[0] * at(0.0) + w[1] * (at(x[1]) + at(-x[1])) + w[2] * (at(x[2]) + at(-x[2]));
      sum += 0.5 * (time[i + 1] - time[i]) / parts * inside;
    }
  }
  return sum;
}

}  // namespace

TEST_CASE("cure profile: E1 against tables, and its remainder against it") {
  // NIST DLMF 6.11 refers to Abramowitz and Stegun, table 5.1: E1(0.5), E1(1), E1(2); mpmath for the others.
  CHECK(support::exponential_integral_e1(0.5) == doctest::Approx(0.5597735947761608).epsilon(1e-14));
  CHECK(support::exponential_integral_e1(1.0) == doctest::Approx(0.2193839343955203).epsilon(1e-14));
  CHECK(support::exponential_integral_e1(2.0) == doctest::Approx(0.04890051070806112).epsilon(1e-14));
  CHECK(support::exponential_integral_e1(25.0) == doctest::Approx(5.348899755340217e-13).epsilon(1e-13));
  for (const double x : {0.1, 0.9, 1.0, 1.1, 2.9, 3.1, 9.9, 10.1, 20.0}) {
    CAPTURE(x);
    const double direct = 1.0 - x * std::exp(x) * support::exponential_integral_e1(x);
    CHECK(support::e1_remainder(x) == doctest::Approx(direct).epsilon(1e-13));
  }
  CHECK_THROWS_AS((void)support::exponential_integral_e1(0.0), InvalidInput);
}

TEST_CASE("cure profile: the dose is the integral along straight lines, whatever the steps and the instruction set") {
  for (const auto set : support::usable_instruction_sets()) {
    const support::ForcedInstructionSet forced(set);
    CAPTURE(support::to_text(set));
    for (const std::size_t count : {2UL, 5UL, 64UL, 65UL, 513UL, 1500UL, 70000UL}) {
      for (const double energy_kj : {0.0, 40.0, 60.0, 90.0}) {
        CAPTURE(count);
        CAPTURE(energy_kj);
        const Made made = noisy(count, 3);
        const CureRate rate{energy_kj, 60.0};
        const double found = equivalent_time(made.time, made.temperature, rate).credited_min;
        // The bound of the largest small step, support/exponential_integral.hpp.
        CHECK(found == doctest::Approx(gauss(made.time, made.temperature, rate)).epsilon(5e-11));
      }
    }
  }
}

TEST_CASE("cure profile: the dose does not depend on the number of threads, nor does the time above") {
  const Made made = noisy(300'000, 5);
  const CureRate rate{55.0, 60.0};
  const double alone = equivalent_time(made.time, made.temperature, rate).credited_min;
  CHECK(equivalent_time(made.time, made.temperature, rate, {}, {}, 3).credited_min == alone);
  const auto single = time_above(made.time, made.temperature, 60.0);
  const auto several = time_above(made.time, made.temperature, 60.0, {}, {}, 3);
  CHECK(single.credited.total_min == several.credited.total_min);
  CHECK(single.credited.excursions == several.credited.excursions);
  CHECK(single.highest_c == *std::ranges::max_element(made.temperature));
}

TEST_CASE("cure profile: one activation energy of 0 counts minutes, and a hold counts them at its factor") {
  const List time{0.0, 7.0, 20.0}, hold{71.0, 71.0, 71.0};
  CHECK(equivalent_time(time, hold, {0.0, 60.0}).observed_min == doctest::Approx(20.0).epsilon(1e-14));
  const CureRate rate{55.0, 60.0};
  CHECK(equivalent_time(time, hold, rate).observed_min ==
        doctest::Approx(20.0 * cure_rate_factor(71.0, rate)).epsilon(1e-13));
}

TEST_CASE("cure profile: time above is the straight lines' own, counted interval by interval") {
  for (const std::size_t count : {2UL, 63UL, 64UL, 65UL, 129UL, 4000UL}) {
    const Made made = noisy(count, 11, 4.0);
    double total = 0.0;
    const double line = 62.0;
    for (std::size_t i = 0; i + 1 < count; ++i) {
      const double a = made.temperature[i], b = made.temperature[i + 1];
      const double high = std::max(a, b), low = std::min(a, b);
      const double share = low >= line ? 1.0 : high < line ? 0.0 : (high - line) / (high - low);
      total += share * (made.time[i + 1] - made.time[i]);
    }
    const auto found = time_above(made.time, made.temperature, line);
    CHECK(found.credited.total_min == doctest::Approx(total).epsilon(1e-6));
    CHECK(found.observed.total_min == found.credited.total_min);
    CHECK(found.credited.longest_min <= found.credited.total_min);
  }
}

TEST_CASE("cure profile: a reading on the threshold is at it, also when it came from F") {
  const List time{0.0, 10.0, 20.0};
  const double threshold = 60.0;
  const List from_f{(140.0 - 32.0) / 1.8, (140.0 - 32.0) / 1.8, (140.0 - 32.0) / 1.8};
  CHECK(time_above(time, from_f, threshold).observed.total_min == doctest::Approx(20.0));
  const List below{59.9, 59.9, 59.9};
  CHECK(time_above(time, below, threshold).credited.total_min == 0.0);
  const List touch{50.0, 60.0, 50.0};
  CHECK(time_above(time, touch, threshold).credited.total_min == doctest::Approx(0.0).epsilon(1e-7));
}

TEST_CASE("cure profile: runs and excursions") {
  const List time{0, 10, 20, 30, 40, 50, 60}, temperature{50, 70, 70, 50, 70, 70, 70};
  const auto found = time_above(time, temperature, 60.0).credited;
  CHECK(found.excursions == 2);
  CHECK(found.longest_min == doctest::Approx(25.0).epsilon(1e-6));  // 35 to 60
  CHECK(found.total_min == doctest::Approx(45.0).epsilon(1e-6));    // 5 to 25 before
}

TEST_CASE("cure profile: gaps and faulty readings are not observed, and are credited by a straight line") {
  const List time{0, 1, 2, 3, 4, 5, 6, 7};
  const List flat{65, 65, 65, 1372, 1372, 65, 65, 65};
  const std::vector<ReadingState> state{ReadingState::sound, ReadingState::sound, ReadingState::sound,
                                        ReadingState::lost,  ReadingState::lost,  ReadingState::sound,
                                        ReadingState::sound, ReadingState::sound};
  const auto found = time_above(time, flat, 60.0, state);
  CHECK(found.observed.total_min == doctest::Approx(4.0));
  CHECK(found.credited.total_min == doctest::Approx(7.0));
  CHECK(found.highest_c == 65.0);
  const auto log = trace_logging(time, flat, state);
  REQUIRE(log.unobserved.size() == 1);
  CHECK(log.unobserved[0].from_min == 2.0);
  CHECK(log.unobserved[0].to_min == 5.0);
  CHECK(log.unobserved_min == doctest::Approx(3.0));
  const CureRate rate{55.0, 60.0};
  const auto dose = equivalent_time(time, flat, rate, state);
  CHECK(dose.observed_min == doctest::Approx(4.0 * cure_rate_factor(65.0, rate)).epsilon(1e-12));
  CHECK(dose.credited_min == doctest::Approx(7.0 * cure_rate_factor(65.0, rate)).epsilon(1e-12));
}

TEST_CASE("cure profile: suspect readings count at their own figure when credited") {
  const List time{0, 1, 2, 3, 4}, temperature{50, 50, 70, 70, 50};
  const std::vector<ReadingState> state{ReadingState::sound, ReadingState::sound, ReadingState::suspect,
                                        ReadingState::suspect, ReadingState::sound};
  const auto found = time_above(time, temperature, 60.0, state);
  CHECK(found.observed.total_min == 0.0);
  CHECK(found.credited.total_min == doctest::Approx(2.0).epsilon(1e-6));
  const auto shape = trace_shape(time, temperature, 5.0, 3.0, state);
  CHECK(shape.peak_c == 50.0);
  CHECK(shape.suspect_peak_c == 70.0);
}

TEST_CASE("cure profile: a missing end has no line to it and counts as at temperature when credited") {
  const List time{10, 11, 12, 13}, temperature{40, 45, 50, 55};
  const TraceRule rule{.gap_medians = 3.0, .begin_min = 0.0, .end_min = 60.0};
  const auto found = time_above(time, temperature, 60.0, {}, rule);
  CHECK(found.observed.total_min == 0.0);
  CHECK(found.credited.total_min == doctest::Approx(57.0));
  CHECK(found.credited.longest_min == doctest::Approx(47.0));
  const auto log = trace_logging(time, temperature, {}, rule);
  REQUIRE(log.unobserved.size() == 2);
  CHECK(log.unobserved[0].open);
  CHECK(log.unobserved[1].open);
  CHECK(log.duration_min == 60.0);
  // A few intervals short of the end is how logs end.
  CHECK(
      trace_logging(time, temperature, {}, {.gap_medians = 3.0, .begin_min = 9.0, .end_min = 15.0}).unobserved.empty());
  const std::vector<ReadingState> lost(4, ReadingState::lost);
  const auto nothing = time_above(time, temperature, 60.0, lost);
  CHECK(nothing.observed.total_min == 0.0);
  CHECK(nothing.credited.total_min == doctest::Approx(3.0));
  CHECK(std::isnan(nothing.highest_c));
  CHECK(equivalent_time(time, temperature, {55.0, 60.0}, lost).credited_min == doctest::Approx(3.0));
}

TEST_CASE("cure profile: a log of gaps alone, and of one reading, still gives what can be given") {
  const List one_time{5.0}, one_reading{61.0};
  CHECK(time_above(one_time, one_reading, 60.0).credited.total_min == 0.0);
  CHECK(trace_shape(one_time, one_reading).peak_c == 61.0);
  CHECK(std::isnan(trace_shape(one_time, one_reading).steepest_c_per_min));
  CHECK(std::isnan(trace_logging(one_time, one_reading).median_interval_min));
  const List time{0, 1, 2, 20, 40, 60}, temperature{60, 60, 60, 60, 60, 60};
  const auto found = time_above(time, temperature, 60.0, {}, {.gap_medians = 0.5});
  CHECK(found.observed.total_min == doctest::Approx(2.0));  // median 18: half of it leaves only the first three
  CHECK(found.credited.total_min == doctest::Approx(60.0));
}

TEST_CASE("cure profile: a log far from its origin has the same gaps, and one interval in half of it is enough") {
  // Minutes since long ago: an interval of ten seconds is rounded to some 1e-8 of itself.
  for (const double origin : {0.0, 2.9e7}) {
    List time, temperature;
    for (int i = 0; i < 3000; ++i) {
      time.push_back(origin + (i < 2000 ? i : i + 2) / 6.0);  // two readings are missing: three intervals, no gap
      temperature.push_back(65.0);
    }
    time.push_back(time.back() + 1.0);
    temperature.push_back(65.0);
    const auto log = trace_logging(time, temperature);
    CAPTURE(origin);
    CHECK(log.median_interval_min == doctest::Approx(1.0 / 6.0).epsilon(1e-7));
    REQUIRE(log.unobserved.size() == 1);
    CHECK(log.unobserved_min == doctest::Approx(1.0).epsilon(1e-7));
  }
  // The first intervals are not the usual ones.
  List time{0.0}, temperature(3001, 65.0);
  for (int i = 1; i < 3001; ++i) time.push_back(time.back() + (i < 400 ? 1.0 : 5.0));
  CHECK(trace_logging(time, temperature).median_interval_min == 5.0);
  CHECK(trace_logging(time, temperature).unobserved.empty());
}

TEST_CASE("cure profile: ramp is a slope of the window, not a raw difference") {
  List time, temperature;
  for (int i = 0; i <= 40; ++i) {
    time.push_back(i);
    temperature.push_back(i <= 20 ? 20.0 + 2.0 * i : 60.0);
  }
  temperature[30] = 63.0;  // one reading off: raw difference 3 K in a minute
  const auto shape = trace_shape(time, temperature, 5.0);
  CHECK(shape.steepest_c_per_min == doctest::Approx(2.0).epsilon(1e-9));
  CHECK(shape.steepest_to_min <= 20.0);
  CHECK(shape.peak_c == 63.0);
  CHECK(shape.peak_at_min == 30.0);
  // Coarse readings: the interval itself. Shorter than the window: all of it.
  CHECK(trace_shape(List{0, 30}, List{20, 80}).steepest_c_per_min == doctest::Approx(2.0));
  CHECK(trace_shape(List{0, 1, 2}, List{20, 23, 26}).steepest_c_per_min == doctest::Approx(3.0));
}

TEST_CASE("cure profile: moving slopes agree with fits made one by one") {
  const Made made = noisy(1200, 8);
  double best = -1e9;
  for (std::size_t i = 0; i < made.time.size(); ++i) {
    std::size_t end = i;
    while (end < made.time.size() && made.time[end] - made.time[i] < 5.0) ++end;
    if (end == made.time.size()) break;
    double n = 0, mx = 0, my = 0;
    for (std::size_t k = i; k <= end; ++k) {
      n += 1.0;
      mx += made.time[k];
      my += made.temperature[k];
    }
    double xx = 0, xy = 0;
    for (std::size_t k = i; k <= end; ++k) {
      xx += (made.time[k] - mx / n) * (made.time[k] - mx / n);
      xy += (made.time[k] - mx / n) * (made.temperature[k] - my / n);
    }
    best = std::max(best, xy / xx);
  }
  CHECK(trace_shape(made.time, made.temperature).steepest_c_per_min == doctest::Approx(best).epsilon(1e-9));
}

TEST_CASE("cure profile: soak is the longest stretch near the peak, with its mean") {
  const List time{0, 20, 60, 80}, temperature{25, 65, 65, 35};
  const auto shape = trace_shape(time, temperature, 5.0, 3.0);
  CHECK(shape.soak_min == doctest::Approx(1.5 + 40.0 + 2.0));
  const double mean = (1.5 * 63.5 + 40.0 * 65.0 + 2.0 * 63.5) / 43.5;
  CHECK(shape.soak_mean_c == doctest::Approx(mean));
}

TEST_CASE("cure profile: an energy from three points has an interval, from two none") {
  // R 4.2, lm(log(t) ~ I(1/T)) on these points would give the same; checked in Python against SciPy's linregress.
  const std::vector<SchedulePoint> exactly{{60.0, 60.0},
                                           {70.0, 60.0 / cure_rate_factor(70.0, {55.0, 60.0})},
                                           {80.0, 60.0 / cure_rate_factor(80.0, {55.0, 60.0})}};
  const auto found = activation_energy_from_schedule(exactly);
  CHECK(found.activation_energy_kj == doctest::Approx(55.0).epsilon(1e-10));
  CHECK(found.upper_kj - found.lower_kj == doctest::Approx(0.0).epsilon(1e-5));
  const auto two = activation_energy_from_schedule(std::vector<SchedulePoint>{{200.0, 10.0}, {210.0, 8.0}});
  CHECK(std::isnan(two.lower_kj));
  CHECK(std::isnan(two.standard_error_kj));
}

TEST_CASE("cure profile: a part that follows the air gives its lag back, and noise does not hurry it") {
  std::mt19937_64 random(4);
  std::normal_distribution<double> error(0.0, 0.3);
  for (const double tau : {0.2, 3.0, 18.0}) {
    List time, air, part;
    double value = 20.0, level = 0.0;
    for (int i = 0; i <= 105; ++i) {
      time.push_back(i);
      level = 0.95 * level + 0.25 * error(random);
      air.push_back(66.0 + level);
      if (i > 0) {
        const double slope = air[static_cast<std::size_t>(i)] - air[static_cast<std::size_t>(i) - 1];
        const double before = air[static_cast<std::size_t>(i) - 1];
        value = before + slope - slope * tau + (value - before + slope * tau) * std::exp(-1.0 / tau);
      }
      part.push_back(value + error(random));
    }
    const auto found = fit_oven_lag(time, air, part);
    CAPTURE(tau);
    CHECK(found.time_constant_min == doctest::Approx(tau).epsilon(tau < 1.0 ? 0.3 : 0.03));
    CHECK(found.residual_c < 0.4);
  }
}

TEST_CASE("cure profile: cooling and starts above the threshold") {
  const auto cooling = oven_lag(20.0, 66.0, 10.0, 60.0, 40.0);
  CHECK(cooling.reach_min == 0.0);
  CHECK(cooling.above_min == doctest::Approx(10.0 * std::log(46.0 / 20.0)));
  CHECK(oven_lag(66.0, 62.0, 10.0, 60.0, 60.0).above_min == 60.0);
  CHECK(std::isinf(oven_lag(58.0, 20.0, 10.0, 60.0, 60.0).reach_min));
}

TEST_CASE("cure profile: three states of a place, as what is observed and what is credited have it") {
  const List time{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10};
  const List hot(11, 65.0), warm(11, 61.0), cold(11, 50.0);
  const CureRecipe recipe{.schedule = {{60.0, 10.0}, {64.0, 6.0}}, .maximum_c = 90.0};
  CHECK(judge_place(time, hot, recipe).state == CureState::pass);
  CHECK(judge_place(time, warm, recipe).state == CureState::pass);
  CHECK(judge_place(time, cold, recipe).state == CureState::fail);
  std::vector<ReadingState> state(11, ReadingState::sound);
  state[5] = ReadingState::lost;
  const auto open = judge_place(time, warm, recipe, state);
  CHECK(open.state == CureState::not_demonstrated);
  CHECK(open.nearest == 0);
  CHECK(open.points[0].observed_min == doctest::Approx(8.0));
  CHECK(open.points[0].credited_min == doctest::Approx(10.0));
  CHECK(judge_place(time, hot, recipe, state).state == CureState::pass);  // 8 of 6 min at 64 C
  CHECK(judge_place(time, hot, recipe, state).nearest == 1);
  CHECK(judge_place(time, cold, recipe, state).state == CureState::fail);
}

TEST_CASE("cure profile: too hot fails, too hot on a suspect reading is not demonstrated") {
  const List time{0, 1, 2, 3, 4};
  const CureRecipe recipe{.schedule = {{60.0, 2.0}}, .maximum_c = 90.0};
  const List spike{65, 65, 95, 65, 65}, edge{65, 65, 90, 65, 65};
  CHECK(judge_place(time, spike, recipe).state == CureState::fail);
  CHECK(judge_place(time, spike, recipe).schedule == CureState::pass);
  CHECK(judge_place(time, edge, recipe).state == CureState::pass);
  std::vector<ReadingState> state(5, ReadingState::sound);
  state[2] = ReadingState::suspect;
  CHECK(judge_place(time, spike, recipe, state).maximum == CureState::not_demonstrated);
  state[2] = ReadingState::lost;
  CHECK(judge_place(time, spike, recipe, state).maximum == CureState::pass);
}

TEST_CASE("cure profile: the dose is told, and decides only where the recipe says so") {
  const List time{0, 5, 10}, warm{59.0, 59.0, 59.0}, hot{75.0, 75.0, 75.0};
  CureRecipe recipe{.schedule = {{60.0, 5.0}}, .dose_min = 8.0, .rate = {55.0, 60.0}};
  CHECK(judge_place(time, warm, recipe).dose == CureState::pass);
  CHECK(judge_place(time, warm, recipe).state == CureState::fail);
  recipe.dose_role = DoseRole::enough;
  CHECK(judge_place(time, warm, recipe).state == CureState::pass);
  recipe.dose_role = DoseRole::needed;
  CHECK(judge_place(time, hot, recipe).state == CureState::pass);
  recipe.dose_min = 100.0;
  CHECK(judge_place(time, hot, recipe).state == CureState::fail);
}

TEST_CASE("cure profile: the verdict does not depend on the instruction set, not even where it hangs on the last bit") {
  const Made made = noisy(400, 21);
  double dose = 0.0;
  for (const auto set : support::usable_instruction_sets()) {
    const support::ForcedInstructionSet forced(set);
    if (dose == 0.0) dose = equivalent_time(made.time, made.temperature, {55.0, 60.0}).observed_min;
    const double minutes = time_above(made.time, made.temperature, 60.0).observed.total_min;
    const CureRecipe recipe{
        .schedule = {{60.0, minutes}}, .dose_min = dose, .rate = {55.0, 60.0}, .dose_role = DoseRole::needed};
    CAPTURE(support::to_text(set));
    CHECK(judge_place(made.time, made.temperature, recipe).state == CureState::pass);
  }
}

TEST_CASE("cure profile: an unbroken run may be asked for") {
  const List time{0, 10, 20, 30, 40, 50}, dip{65, 65, 55, 65, 65, 65};
  CureRecipe recipe{.schedule = {{60.0, 30.0}}};
  CHECK(judge_place(time, dip, recipe).state == CureState::pass);
  recipe.unbroken = true;
  CHECK(judge_place(time, dip, recipe).state == CureState::fail);
}

TEST_CASE("cure profile: hold time owed is what the points and the dose lack") {
  const List time{0, 10, 20, 30}, trace{65, 65, 55, 62};
  CureRecipe recipe{
      .schedule = {{60.0, 60.0}, {70.0, 30.0}}, .maximum_c = 90.0, .dose_min = 60.0, .rate = {55.0, 60.0}};
  const double have = time_above(time, trace, 60.0).observed.total_min;
  const auto owed = hold_owed(time, trace, recipe, 62.0);
  CHECK(owed.schedule_min[0] == doctest::Approx(60.0 - have));
  CHECK(std::isinf(owed.schedule_min[1]));
  CHECK(owed.least_schedule_min == owed.schedule_min[0]);
  const double dose = equivalent_time(time, trace, recipe.rate).observed_min;
  CHECK(owed.dose_min == doctest::Approx((60.0 - dose) / cure_rate_factor(62.0, recipe.rate)));
  CHECK_FALSE(owed.above_maximum);
  CHECK(hold_owed(time, trace, recipe, 95.0).above_maximum);
  recipe.unbroken = true;
  CHECK(hold_owed(time, trace, recipe, 62.0).schedule_min[0] ==
        doctest::Approx(60.0));  // the run at the end is a point
  // Held as owed, the place passes.
  recipe.unbroken = false;
  List longer = time, warmer = trace;
  longer.push_back(30.0 + owed.schedule_min[0]);
  warmer.push_back(62.0);
  CHECK(judge_place(longer, warmer, recipe).schedule != CureState::fail);
}

TEST_CASE("cure profile: input it cannot use is refused with name, position and value") {
  const List time{0, 1, 1, 3}, temperature{20, 30, 40, 50};
  CHECK_THROWS_WITH_AS((void)time_above(time, temperature, 30.0),
                       "time_above: time_min[2] must ascend strictly (1 equals the time before it, 1); sort the log, "
                       "and take one reading of each time",
                       InvalidInput);
  CHECK_THROWS_AS((void)time_above(List{0, 2, 1}, List{1, 2, 3}, 30.0), InvalidInput);
  CHECK_THROWS_AS((void)time_above(List{0, none}, List{1, 2}, 30.0), InvalidInput);
  CHECK_THROWS_AS((void)time_above(List{0, 1}, List{1, none}, 30.0), InvalidInput);
  CHECK_THROWS_AS((void)time_above(List{0, 1}, List{1}, 30.0), InvalidInput);
  CHECK_THROWS_AS((void)time_above({}, {}, 30.0), InvalidInput);
  CHECK_THROWS_AS((void)time_above(List{0, 1}, List{1, 2}, none), InvalidInput);
  CHECK_THROWS_AS((void)time_above(List{0, 1}, List{1, 2}, 1.0, {}, {.gap_medians = 0.0}), InvalidInput);
  CHECK_THROWS_AS((void)time_above(List{0, 1}, List{1, 2}, 1.0, {}, {.gap_medians = 3.0, .begin_min = 0.5}),
                  InvalidInput);
  CHECK_THROWS_AS((void)equivalent_time(List{0, 1}, List{1, none}, {55.0, 60.0}), InvalidInput);
  CHECK_THROWS_AS((void)equivalent_time(List{0, 1}, List{1, -300.0}, {55.0, 60.0}), InvalidInput);
  CHECK_THROWS_AS((void)equivalent_time(List{0, 1}, List{1, 2}, {-1.0, 60.0}), InvalidInput);
  CHECK_THROWS_AS((void)equivalent_time(List{0, 1}, List{1, 2}, {55.0, -400.0}), InvalidInput);
  CHECK_THROWS_AS((void)cure_rate_factor(-280.0, {55.0, 60.0}), InvalidInput);
  CHECK_THROWS_AS((void)trace_shape(List{0, 1}, List{1, 2}, 0.0), InvalidInput);
  CHECK_THROWS_AS((void)activation_energy_from_schedule(std::vector<SchedulePoint>{{60, 60}}), InvalidInput);
  CHECK_THROWS_AS((void)activation_energy_from_schedule(std::vector<SchedulePoint>{{60, 60}, {60, 50}}), InvalidInput);
  CHECK_THROWS_AS((void)activation_energy_from_schedule(std::vector<SchedulePoint>{{60, 60}, {70, 0}}), InvalidInput);
  CHECK_THROWS_AS((void)oven_lag(66.0, 20.0, 0.0, 60.0, 60.0), InvalidInput);
  CHECK_THROWS_AS((void)oven_lag_equivalent_time(66.0, 20.0, 4.0, -1.0, {55.0, 60.0}), InvalidInput);
  CHECK_THROWS_AS((void)judge_place(List{0, 1}, List{1, 2}, {}), InvalidInput);
  CHECK_THROWS_AS((void)judge_place(List{0, 1}, List{1, 2}, {.schedule = {{60.0, 0.0}}}), InvalidInput);
  CHECK_THROWS_AS((void)judge_place(List{0, 1}, List{1, 2}, {.schedule = {{60.0, 1.0}}, .dose_min = 0.0}),
                  InvalidInput);
  CHECK_THROWS_AS((void)hold_owed(List{0, 1}, List{1, 2}, {.schedule = {{60.0, 1.0}}}, none), InvalidInput);
  CHECK_THROWS_AS((void)fit_oven_lag(List{0, 1}, List{1, 2}, List{1, 2}), InvalidInput);
}
