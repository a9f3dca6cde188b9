// Run rules over very many standardized points, against the time to read them once.
#include <cstdint>
#include <cstdio>
#include <vector>

#include <steadyfilm/run_rules.hpp>

#include "support/bench.hpp"

int main(int count, char** words) {
  using namespace steadyfilm;
  const auto options = bench::read_options(count, words);
  bench::print_machine(options.threads);
  const auto points = bench::normal_readings(options.readings, 0.0, 1.0);
  const auto z = points.all();
  RuleOptions rule_options;
  rule_options.threads = options.threads;
  std::size_t signals = 0;
  const auto run = [&](const char* name, const std::vector<RunRule>& rules, const std::vector<std::uint8_t>& part) {
    bench::print(bench::measure(
        name, z, options.threads, [&] { signals = rule_signals(z, part, {}, rules, rule_options).size(); },
        options.pairs));
    std::printf("  %zu signals\n", signals);
  };
  bench::print_header();
  run("one point beyond 3 sigma", {parse_rule("1of1_beyond3_one")}, {});
  run("four zone rules", western_electric(), {});
  run("eight rules, trends and alternations among them", nelson(), {});
  std::vector<std::uint8_t> part(z.size(), 1);
  for (std::size_t i = 0; i < part.size(); i += 997) part[i] = 0;
  run("four zone rules, some points excluded", western_electric(), part);
}
