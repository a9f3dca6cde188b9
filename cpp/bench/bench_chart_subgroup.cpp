// Subgroup chart of 80 million readings in fives, against the time to read them.
#include <cmath>
#include <cstdio>

#include "support/bench.hpp"
#include "support/subgroup_scan.hpp"

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
  const support::SubgroupLines lines{
      .center = 85.0, .sigma_point = 5.0 / std::sqrt(5.0), .range_center = 2.326 * 5.0, .range_sigma = 0.864 * 5.0};
  const auto rules = western_electric();
  const std::vector<RunRule> range_rules = {parse_rule("1of1_beyond3_one")};
  const RuleOptions rule_options{.last_point_beyond = true, .clear_after_signal = false, .threads = options.threads};
  bench::print_header();
  std::size_t signals = 0;
  const auto run = [&](const char* name, double target, auto call) {
    bench::print(bench::measure(name, x, options.threads, call, options.pairs), target);
  };
  run("totals only", 0, [&] { (void)support::scan_subgroups(x, 5, {}, {}, options.threads, "bench"); });
  run("means and ranges", 0, [&] { (void)support::scan_subgroups(x, 5, means, ranges, options.threads, "bench"); });
  run("signals, given limits", 1.6, [&] {
    const auto found = support::scan_subgroup_signals(x, 5, lines, rules, range_rules, rule_options, {}, {}, "bench");
    signals = found.means.size() + found.ranges.size();
  });
  run("signals, means and ranges, given limits", 1.8, [&] {
    const auto found =
        support::scan_subgroup_signals(x, 5, lines, rules, range_rules, rule_options, means, ranges, "bench");
    signals = found.means.size() + found.ranges.size();
  });
  run("signals, means and ranges, estimated limits", 2.2, [&] {
    const auto totals = support::scan_subgroups(x, 5, means, ranges, options.threads, "bench");
    const double n = static_cast<double>(totals.groups);
    const double sigma = totals.ranges.value() / n / 2.3259289472810973;
    const support::SubgroupLines own{.center = totals.means.value() / n,
                                     .sigma_point = sigma / std::sqrt(5.0),
                                     .range_center = totals.ranges.value() / n,
                                     .range_sigma = 0.864 * sigma};
    const auto found = support::find_subgroup_signals(means, ranges, own, rules, range_rules, rule_options);
    signals = found.means.size() + found.ranges.size();
  });
  std::printf("%zu signals\n", signals);
}
