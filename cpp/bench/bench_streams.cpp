// Many streams in one call against one stream of the same total length, by turns: the same charts, the same EWMA.
#include <algorithm>
#include <chrono>
#include <cstddef>
#include <cstdio>
#include <vector>

#include <steadyfilm/streams.hpp>

#include "support/bench.hpp"

namespace {

constexpr std::size_t stream_readings = 500;
constexpr std::size_t usual_total = 5'000'000;

double ms(const auto& call) {
  const auto start = std::chrono::steady_clock::now();
  call();
  return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count();
}

double at(std::vector<double> x, double share) {
  std::ranges::sort(x);
  return x[static_cast<std::size_t>(share * static_cast<double>(x.size() - 1) + 0.5)];
}

}  // namespace

int main(int count, char** words) {
  using namespace steadyfilm;
  auto options = bench::read_options(count, words);
  if (options.readings == bench::usual_readings) options.readings = usual_total;
  bench::print_machine(options.threads);
  const std::size_t streams = std::max<std::size_t>(1, options.readings / stream_readings);
  const std::size_t total = streams * stream_readings;
  const auto readings = bench::normal_readings(total, 2.1, 0.1);
  const bench::Array ewma(total);
  ewma.warm();
  std::vector<std::size_t> many, one = {0, total};
  for (std::size_t s = 0; s <= streams; ++s) many.push_back(s * stream_readings);
  const std::vector<double> multiple = {4.5};

  std::printf("%zu streams of %zu readings against one of %zu\n", streams, stream_readings, total);
  std::printf("%-8s %9s %9s %7s %15s %7s\n", "threads", "many ms", "one ms", "ratio", "quartiles", "target");
  for (std::size_t threads = 1; threads <= options.threads; ++threads) {
    const StreamsOptions given{.fewest_points = 20, .threads = threads};
    std::size_t signals = 0;
    const auto run = [&](const std::vector<std::size_t>& offsets) {
      return ms(
          [&] { signals += chart_streams(readings.all(), {}, offsets, multiple, given, ewma.all()).signals.size(); });
    };
    (void)run(many);
    (void)run(one);
    std::vector<double> batch, alone, ratio;
    for (std::size_t i = 0; i < options.pairs; ++i) {
      alone.push_back(run(one));
      batch.push_back(run(many));
      ratio.push_back(batch.back() / alone.back());
    }
    std::printf("%-8zu %9.1f %9.1f %7.2f %7.2f-%-7.2f %7.1f   (%zu signals)\n", threads, at(batch, 0.5), at(alone, 0.5),
                at(ratio, 0.5), at(ratio, 0.25), at(ratio, 0.75), 1.3, signals);
    std::fflush(stdout);
  }
}
