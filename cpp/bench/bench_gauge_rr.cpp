// One gauge study of ten parts, three appraisers, three trials: analysis of variance with the interaction kept and
// pooled, every interval, and one window.
#include <algorithm>
#include <chrono>
#include <cstddef>
#include <cstdio>
#include <vector>

#include <steadyfilm/gauge_rr.hpp>

#include "support/bench.hpp"

namespace {

constexpr std::size_t parts = 10, appraisers = 3, trials = 3;
constexpr std::size_t calls = 200;  // a round
constexpr double target_ms = 0.2;

double at(std::vector<double> x, double share) {
  std::ranges::sort(x);
  return x[static_cast<std::size_t>(share * static_cast<double>(x.size() - 1) + 0.5)];
}

}  // namespace

int main(int count, char** words) {
  using namespace steadyfilm;
  const auto options = bench::read_options(count, words);
  bench::print_machine(1);
  const auto readings = bench::normal_readings(parts * appraisers * trials, 3.2, 0.05);
  std::vector<double> values(readings.all().begin(), readings.all().end());
  for (std::size_t i = 0; i < values.size(); ++i) values[i] += 0.06 * static_cast<double>(i / (appraisers * trials));

  double seen = 0.0;
  const auto one = [&](const GaugeOptions& given) {
    const auto study = gauge_study(values, parts, appraisers, trials, given);
    const auto window = gauge_window(study.kept, {.lower = 3.0, .upper = 3.5, .target = {}}, study.mean);
    seen += study.kept.ndc_ratio_upper + study.pooled->ndc_ratio_upper + window.share_upper;
  };
  std::printf("%zu x %zu x %zu, %zu calls a round, %zu rounds\n", parts, appraisers, trials, calls, options.pairs);
  std::printf("%-24s %9s %17s %7s\n", "intervals", "median ms", "quartiles", "target");
  for (const auto method : {IntervalMethod::modified_large_sample, IntervalMethod::satterthwaite}) {
    const GaugeOptions given{.interval_method = method};
    one(given);
    std::vector<double> rounds;
    for (std::size_t i = 0; i < options.pairs; ++i) {
      const auto start = std::chrono::steady_clock::now();
      for (std::size_t k = 0; k < calls; ++k) one(given);
      const auto spent = std::chrono::steady_clock::now() - start;
      rounds.push_back(std::chrono::duration<double, std::milli>(spent).count() / static_cast<double>(calls));
    }
    std::printf("%-24s %9.4f %8.4f-%-8.4f %7.1f\n",
                method == IntervalMethod::satterthwaite ? "Satterthwaite" : "modified large sample", at(rounds, 0.5),
                at(rounds, 0.25), at(rounds, 0.75), target_ms);
  }
  std::printf("(%g)\n", seen);  // the calls cannot be left out
}
