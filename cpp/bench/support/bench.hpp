/// @file
/// What all benchmarks share: arrays as NumPy allocates them, the yardstick, and pairs of times.
#pragma once

#include <cstddef>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <vector>

namespace bench {

/// 640 MB of readings: far more than any cache holds.
inline constexpr std::size_t usual_readings = 80'000'000;
inline constexpr std::size_t usual_pairs = 21;

/// Memory as NumPy gives it for a large array: from malloc, with the advice to use huge pages from 4 MiB on.
class Array {
 public:
  explicit Array(std::size_t count);
  [[nodiscard]] std::span<double> all() const { return {data_.get(), count_}; }
  /// Write every page once, so that the system has handed it over.
  void warm() const;

 private:
  struct Free {
    void operator()(double* data) const;
  };
  std::unique_ptr<double, Free> data_;
  std::size_t count_;
};

/// Independent normal readings, rounded to 0.01 as a gauge shows them; the same for every run.
[[nodiscard]] Array normal_readings(std::size_t count, double mean, double sd);

/// Sum of all readings, read as fast as the machine can on so many threads.
double read(std::span<const double> readings, std::size_t threads);

/// Times of a call and of the yardstick over the same readings, measured by turns.
struct Times {
  std::string name;
  double call_ms = 0.0;    ///< median
  double read_ms = 0.0;    ///< median
  double ratio = 0.0;      ///< median of the ratios of the pairs
  double ratio_low = 0.0;  ///< quartiles of those ratios
  double ratio_high = 0.0;
};

[[nodiscard]] Times measure(const std::string& name, std::span<const double> readings, std::size_t threads,
                            const std::function<void()>& call, std::size_t pairs = usual_pairs);

/// One line a measured call, with the machine above.
void print_machine(std::size_t threads);
void print_header();
void print(const Times& times, double target = 0.0);

/// Options of a benchmark's command line: [--threads N] [--readings N] [--pairs N].
struct Options {
  std::size_t threads = 2;
  std::size_t readings = usual_readings;
  std::size_t pairs = usual_pairs;
};
[[nodiscard]] Options read_options(int count, char** words);

}  // namespace bench
