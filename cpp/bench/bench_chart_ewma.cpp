// The EWMA of very many points, against the time to read them once.
#include "support/bench.hpp"
#include "support/ewma_scan.hpp"

int main(int count, char** words) {
  using namespace steadyfilm;
  const auto options = bench::read_options(count, words);
  bench::print_machine(options.threads);
  const auto readings = bench::normal_readings(options.readings, 0.0, 1.0);
  const auto x = readings.all();
  const bench::Array ewma_array(x.size());
  ewma_array.warm();
  const auto z = ewma_array.all();
  const support::EwmaWeights weights(0.2);
  bench::print_header();
  bench::print(bench::measure(
      "EWMA of all points returned", x, options.threads,
      [&] { support::ewma_scan(weights, x, {}, {}, z, options.threads); }, options.pairs));
  bench::print(bench::measure(
      "EWMA of all points returned, fresh", x, options.threads,
      [&] {
        const bench::Array fresh(x.size());
        support::ewma_scan(weights, x, {}, {}, fresh.all(), options.threads);
      },
      options.pairs));
}
