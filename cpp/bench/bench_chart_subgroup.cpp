// Averages, ranges and signals of very many subgroups of five, against the time to read the readings once.
#include <cstdio>

#include <steadyfilm/chart_subgroup.hpp>

#include "support/bench.hpp"

int main(int count, char** words) {
  using namespace steadyfilm;
  const auto options = bench::read_options(count, words);
  bench::print_machine(options.threads);
  const auto readings = bench::normal_readings(options.readings, 85.0, 5.0);
  const auto x = readings.all();
  const std::size_t groups = x.size() / 5;
  const bench::Array mean_array(groups), range_array(groups);
  mean_array.warm();
  range_array.warm();
  const auto means = mean_array.all(), ranges = range_array.all();

  const auto rules = western_electric();
  RuleOptions rule_options;
  rule_options.threads = options.threads;
  SubgroupOptions given;
  given.center = 85.0;
  given.sigma_within = 5.0;
  std::size_t signals = 0;
  const auto run = [&](const char* name, double target, const auto& call) {
    bench::print(bench::measure(name, x, options.threads, call, options.pairs), target);
  };
  const auto find = [&](const SubgroupOptions& chosen, std::span<double> m, std::span<double> r) {
    const auto found = subgroup_signals(x, 5, chosen, rules, rule_options, m, r);
    signals = found.signals.size() + found.spread_signals.size();
  };

  bench::print_header();
  run("averages alone", 0, [&] { (void)subgroup_averages(x, 5, {}, {}, options.threads); });
  run("means and ranges", 0, [&] { (void)subgroup_averages(x, 5, means, ranges, options.threads); });
  run("given limits: signals", 1.6, [&] { find(given, {}, {}); });
  run("given limits: signals, means, ranges", 1.8, [&] { find(given, means, ranges); });
  run("given limits: signals, fresh means and ranges", 0, [&] {
    const bench::Array fresh_means(groups), fresh_ranges(groups);
    find(given, fresh_means.all(), fresh_ranges.all());
  });
  run("estimated limits: signals, means, ranges", 2.2, [&] { find({}, means, ranges); });
  run("estimated limits: signals", 0, [&] { find({}, {}, {}); });
  std::printf("\n%zu subgroups, %zu signals of the four zone rules and the range limit in the last call\n", groups,
              signals);
}
