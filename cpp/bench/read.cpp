// The yardstick against itself: what the machine does, and how much a ratio scatters when nothing differs.
#include <cstdio>

#include "support/bench.hpp"

int main(int count, char** words) {
  const auto options = bench::read_options(count, words);
  bench::print_machine(options.threads);
  const auto readings = bench::normal_readings(options.readings, 85.0, 5.0);
  const auto x = readings.all();
  bench::print_header();
  for (const std::size_t threads : {std::size_t{1}, options.threads}) {
    volatile double sink = 0.0;
    const auto times = bench::measure(
        "read against read, " + std::to_string(threads) + " threads", x, threads,
        [&] { sink = bench::read(x, threads); }, options.pairs);
    bench::print(times);
    std::printf("  %.1f GB/s\n", static_cast<double>(x.size_bytes()) / times.read_ms / 1e6);
  }
}
