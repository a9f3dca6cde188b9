#include "support/bench.hpp"

#include <sys/mman.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <new>
#include <numbers>
#include <string>
#include <thread>

#include <steadyfilm/core.hpp>

#include "kernels/read.hpp"
#include "support/parallel.hpp"

namespace bench {

namespace {

using steadyfilm::support::for_blocks;

/// Blocks as the measured calls have them: 65,536 subgroups of five.
constexpr std::size_t block_readings = 327'680;

double now_ms() {
  return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

double quantile(std::vector<double> x, double p) {
  std::ranges::sort(x);
  return x[static_cast<std::size_t>(std::lround(p * static_cast<double>(x.size() - 1)))];
}

/// A generator that can start anywhere: the result for a position depends on the position alone.
std::uint64_t mixed(std::uint64_t x) {
  x += 0x9e3779b97f4a7c15U;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9U;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebU;
  return x ^ (x >> 31);
}

double uniform(std::uint64_t position) { return (static_cast<double>(mixed(position) >> 11) + 0.5) * 0x1p-53; }

std::string first_line(const std::string& path) {
  std::ifstream file(path);
  std::string line;
  std::getline(file, line);
  return line.empty() ? "unknown" : line;
}

std::string processor() {
  std::ifstream file("/proc/cpuinfo");
  for (std::string line; std::getline(file, line);) {
    if (line.starts_with("model name")) return line.substr(line.find(':') + 2);
  }
  return "unknown processor";
}

}  // namespace

Array::Array(std::size_t count)
    : data_(static_cast<double*>(std::malloc(std::max<std::size_t>(1, count) * sizeof(double)))), count_(count) {
  if (data_ == nullptr) throw std::bad_alloc();
  // NumPy, numpy/_core/src/multiarray/alloc.c: advice for the whole pages of blocks of 4 MiB or more.
  const std::size_t bytes = count * sizeof(double);
  if (bytes < (std::size_t{1} << 22)) return;
  const std::size_t skip = 4096 - reinterpret_cast<std::uintptr_t>(data_.get()) % 4096;
  (void)madvise(reinterpret_cast<char*>(data_.get()) + skip, bytes - skip, MADV_HUGEPAGE);
}

void Array::Free::operator()(double* data) const { std::free(data); }

void Array::warm() const { std::ranges::fill(all(), 0.0); }

Array normal_readings(std::size_t count, double mean, double sd) {
  Array readings(count);
  const auto x = readings.all();
  for_blocks((count + block_readings - 1) / block_readings, 0, [&](std::size_t block) {
    const std::size_t last = std::min(count, (block + 1) * block_readings);
    for (std::size_t i = block * block_readings; i < last; ++i) {
      const double radius = std::sqrt(-2.0 * std::log(uniform(2 * i)));
      const double z = radius * std::cos(2.0 * std::numbers::pi * uniform(2 * i + 1));
      x[i] = std::round((mean + sd * z) * 100.0) / 100.0;
    }
  });
  return readings;
}

double read(std::span<const double> readings, std::size_t threads) {
  const std::size_t blocks = (readings.size() + block_readings - 1) / block_readings;
  std::vector<double> sums(blocks);
  const auto& table = steadyfilm::kernels::read::table();
  for_blocks(blocks, threads, [&](std::size_t block) {
    const std::size_t first = block * block_readings;
    sums[block] = table.sum(readings.data() + first, std::min(block_readings, readings.size() - first));
  });
  double total = 0.0;
  for (const double sum : sums) total += sum;
  return total;
}

Times measure(const std::string& name, std::span<const double> readings, std::size_t threads,
              const std::function<void()>& call, std::size_t pairs) {
  std::vector<double> calls, reads, ratios;
  volatile double sink = read(readings, threads);
  call();
  const auto timed = [](std::vector<double>& times, const auto& work) {
    const double start = now_ms();
    work();
    times.push_back(now_ms() - start);
  };
  for (std::size_t i = 0; i < pairs; ++i) {
    const auto yardstick = [&] { sink = sink + read(readings, threads); };
    // Who goes first changes from pair to pair: the second is a little faster.
    if (i % 2 == 0) timed(reads, yardstick);
    timed(calls, call);
    if (i % 2 != 0) timed(reads, yardstick);
    ratios.push_back(calls.back() / reads.back());
  }
  return {.name = name,
          .call_ms = quantile(calls, 0.5),
          .read_ms = quantile(reads, 0.5),
          .ratio = quantile(ratios, 0.5),
          .ratio_low = quantile(ratios, 0.25),
          .ratio_high = quantile(ratios, 0.75)};
}

void print_machine(std::size_t threads) {
  std::printf("processor        %s, %u logical\n", processor().c_str(), std::thread::hardware_concurrency());
  for (const char* index : {"index0", "index2", "index3"}) {
    const std::string cache = std::string("/sys/devices/system/cpu/cpu0/cache/") + index;
    std::printf("cache level %s    %s\n", first_line(cache + "/level").c_str(), first_line(cache + "/size").c_str());
  }
  std::printf("huge pages       %s\n", first_line("/sys/kernel/mm/transparent_hugepage/enabled").c_str());
  std::printf("load before      %s\n", first_line("/proc/loadavg").c_str());
  std::printf("instruction set  %s\n", std::string(steadyfilm::instruction_set()).c_str());
  std::printf("threads          %zu\n\n", threads);
}

void print_header() {
  std::printf("%-52s %9s %9s %7s %15s %7s\n", "call", "call ms", "read ms", "ratio", "quartiles", "target");
}

void print(const Times& times, double target) {
  std::printf("%-52s %9.1f %9.1f %7.2f %7.2f-%-7.2f", times.name.c_str(), times.call_ms, times.read_ms, times.ratio,
              times.ratio_low, times.ratio_high);
  if (target > 0.0) std::printf(" %7.1f", target);
  std::printf("\n");
  std::fflush(stdout);
}

Options read_options(int count, char** words) {
  Options options;
  for (int i = 1; i + 1 < count; i += 2) {
    const std::string word = words[i];
    const auto value = static_cast<std::size_t>(std::strtoull(words[i + 1], nullptr, 10));
    if (word == "--threads") options.threads = value;
    if (word == "--readings") options.readings = value;
    if (word == "--pairs") options.pairs = value;
  }
  return options;
}

}  // namespace bench
