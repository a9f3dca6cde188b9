// Temperature traces: a month of ten probes at ten seconds, time above of very many readings against the time to read
// them once, and the degree of cure along one trace.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <vector>

#include <steadyfilm/cure_kinetics.hpp>
#include <steadyfilm/cure_profile.hpp>

#include "support/bench.hpp"

namespace {

using namespace steadyfilm;

constexpr std::size_t probes = 10;
constexpr std::size_t month_readings = 260'000;  // 30 days of one probe at 10 s
constexpr std::size_t trace_points = 10'000;

double ms(const auto& call) {
  const auto start = std::chrono::steady_clock::now();
  call();
  return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count();
}

void print_median(const char* name, std::size_t pairs, double target_ms, const auto& call) {
  std::vector<double> times;
  call();
  for (std::size_t i = 0; i < pairs; ++i) times.push_back(ms(call));
  std::ranges::sort(times);
  std::printf("%-58s %9.3f ms  (%.3f to %.3f; target at most %g ms)\n", name, times[times.size() / 2], times.front(),
              times.back(), target_ms);
  std::fflush(stdout);
}

// Bakes of 105 minutes one after another, a lag of ten minutes, noise of 0.3 C shown to 0.1 C.
void fill(std::span<double> time, std::span<double> temperature, std::span<const double> noise, double step_min) {
  for (std::size_t i = 0; i < time.size(); ++i) {
    time[i] = static_cast<double>(i) * step_min;
    const double minute = std::fmod(time[i], 240.0);
    const double part =
        minute < 105.0 ? 66.0 - 46.0 * std::exp(-minute / 10.0) : 20.0 + 46.0 * std::exp(-(minute - 105.0) / 10.0);
    temperature[i] = std::round(10.0 * (part + noise[i])) / 10.0;
  }
}

}  // namespace

int main(int count, char** words) {
  const auto options = bench::read_options(count, words);
  bench::print_machine(options.threads);
  const CureRate rate{55.0, 60.0};
  double sink = 0.0;
  {
    const auto noise = bench::normal_readings(probes * month_readings, 0.0, 0.3);
    const bench::Array time(month_readings), all(probes * month_readings);
    time.warm();
    all.warm();
    for (std::size_t p = 0; p < probes; ++p) {
      fill(time.all(), all.all().subspan(p * month_readings, month_readings),
           noise.all().subspan(p * month_readings, month_readings), 1.0 / 6.0);
    }
    const auto trace = [&](std::size_t p) { return all.all().subspan(p * month_readings, month_readings); };
    print_median("month of ten probes, all figures", options.pairs, 100.0, [&] {
      for (std::size_t p = 0; p < probes; ++p) {
        sink += trace_logging(time.all(), trace(p)).unobserved_min;
        for (const double threshold : {60.0, 65.6, 71.1}) {
          sink += time_above(time.all(), trace(p), threshold, {}, {}, options.threads).observed.total_min;
        }
        sink += trace_shape(time.all(), trace(p)).peak_c;
        sink += equivalent_time(time.all(), trace(p), rate, {}, {}, options.threads).observed_min;
      }
    });
    print_median("the same, equivalent time alone", options.pairs, 100.0, [&] {
      for (std::size_t p = 0; p < probes; ++p) {
        sink += equivalent_time(time.all(), trace(p), rate, {}, {}, options.threads).observed_min;
      }
    });
  }
  {
    std::vector<double> time(trace_points), temperature(trace_points), noise(trace_points, 0.0), out(trace_points);
    fill(time, temperature, noise, 0.02);
    const CureKinetics second{.model = CureModel::nth_order, .rate = {5e9, 70.0}, .n = 2.0};
    const CureKinetics kamal{.model = CureModel::kamal, .rate = {2e4, 50.0}, .second = {1e9, 75.0}, .m = 0.5, .n = 1.5};
    CureKinetics glass = kamal;
    glass.diffusion = {.sharpness = 30.0, .offset = -1.5148, .slope_per_k = 0.005171};
    print_median("degree of cure, 10,000 points, closed form", options.pairs, 2.0, [&] {
      degree_of_cure(time, temperature, second, out);
      sink += out.back();
    });
    print_median("degree of cure, 10,000 points, two energies", options.pairs, 2.0, [&] {
      degree_of_cure(time, temperature, kamal, out);
      sink += out.back();
    });
    print_median("degree of cure, 10,000 points, with diffusion", options.pairs, 2.0, [&] {
      degree_of_cure(time, temperature, glass, out);
      sink += out.back();
    });
  }
  const auto noise = bench::normal_readings(options.readings, 0.0, 0.3);
  const bench::Array time(options.readings);
  time.warm();
  fill(time.all(), noise.all(), noise.all(), 1.0 / 6.0);
  std::printf(
      "the input is as many times as temperatures, both read once; the yardstick reads the temperatures alone, so "
      "that\n"
      "one read of the input is 2 of its reads\n");
  bench::print_header();
  const auto above = bench::measure(
      "time above and peak", noise.all(), options.threads,
      [&] {
        const auto found = time_above(time.all(), noise.all(), 60.0, {}, {}, options.threads);
        sink += found.observed.total_min + found.highest_c;
      },
      options.pairs);
  bench::print(above);
  std::printf("%-52s %5.2f  (target at most 2)\n", "the same, in reads of the input", 0.5 * above.ratio);
  bench::print(bench::measure(
      "equivalent time", noise.all(), options.threads,
      [&] { sink += equivalent_time(time.all(), noise.all(), rate, {}, {}, options.threads).observed_min; },
      options.pairs));
  std::printf("(%g)\n", sink);
}
