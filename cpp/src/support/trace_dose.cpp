#include "support/trace_dose.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <vector>

#include "kernels/cure_profile.hpp"
#include "support/parallel.hpp"
#include "support/trace.hpp"

namespace steadyfilm::support {
namespace {

using kernels::cure_profile::Seen;

constexpr std::size_t word_size = 64;

bool usable(const Seen& seen) { return seen.finite && !(seen.lowest <= -zero_celsius_k); }

// What the kernel adds for one interval.
double rough_mean(const Arrhenius& rate, double from_k, double to_k) {
  const double f0 = rate.factor(from_k), f1 = rate.factor(to_k);
  const double w0 = rate.energy_k / (from_k * from_k), w1 = rate.energy_k / (to_k * to_k);
  const double slope0 = f0 * w0, slope1 = f1 * w1;
  return small_step_mean(to_k - from_k, f0, f1, slope0, slope1, slope0 * (w0 - 2.0 / from_k),
                         slope1 * (w1 - 2.0 / to_k));
}

// Intervals of one run of readings, at most trace_block of them; nothing outside of [0, intervals] is read.
double run_dose(const Arrhenius& rate, const double* time, const double* temperature, std::size_t intervals,
                Seen& seen) {
  const auto& kernel = kernels::cure_profile::table();
  std::array<std::uint64_t, trace_block / word_size + 1> bits;
  const kernels::cure_profile::Factor factor{.energy_k = rate.energy_k, .inverse_reference = rate.inverse_reference};
  double sum = 0.0;
  // Words of readings [from, from + 64 words), and the closed form in place of what they added for large steps.
  const auto add = [&](const double* t, const double* c, std::size_t words) {
    sum += kernel.dose(t, c, words, factor, largest_small_step, bits.data(), &seen);
    if (!usable(seen)) return;
    for (std::size_t word = 0; word < words; ++word) {
      for (std::uint64_t left = bits[word]; left != 0; left &= left - 1) {
        const std::size_t i = word_size * word + static_cast<std::size_t>(std::countr_zero(left));
        const double from = c[i] + zero_celsius_k, to = c[i + 1] + zero_celsius_k;
        if (!(from > 0.0) || !(to > 0.0) || !std::isfinite(from) || !std::isfinite(to)) {
          seen.finite = false;  // refused by whoever asks, with its position
          return;
        }
        sum += (t[i + 1] - t[i]) * (rate.mean_factor(from, to) - rough_mean(rate, from, to));
      }
    }
  };
  // The first and the last words are copies with the end readings repeated: intervals without length add nothing.
  const auto add_copy = [&](std::size_t from) {
    std::array<double, word_size + 2> t, c;
    for (std::size_t i = 0; i < t.size(); ++i) {
      const std::size_t at = std::min(intervals, std::max<std::size_t>(from + i, 1) - 1);
      t[i] = time[at];
      c[i] = temperature[at];
    }
    add(t.data() + 1, c.data() + 1, 1);
  };
  add_copy(0);
  if (intervals < word_size) return sum;
  const std::size_t whole = intervals / word_size;  // words whose readings all have a next one
  if (whole > 1) add(time + word_size, temperature + word_size, whole - 1);
  add_copy(whole * word_size);
  return sum;
}

struct Part {
  double observed = 0.0;
  double bridged = 0.0;
  Seen seen = nothing_seen;
};

// A run of any length, in blocks that do not depend on the number of threads.
double long_dose(const Arrhenius& rate, std::span<const double> time, std::span<const double> temperature,
                 const Piece& piece, Seen& seen, std::size_t threads) {
  const std::size_t intervals = piece.last - piece.first;
  if (intervals == 0) {
    const double lone = temperature[piece.first];
    seen.lowest = std::min(seen.lowest, lone);
    seen.finite = seen.finite && std::isfinite(lone);
    return 0.0;
  }
  std::vector<Part> parts(trace_blocks(intervals));
  for_blocks(parts.size(), trace_team(parts.size(), threads), [&](std::size_t block) {
    const std::size_t begin = piece.first + block * trace_block;
    const std::size_t size = std::min(trace_block, piece.last - begin);
    parts[block].observed = run_dose(rate, time.data() + begin, temperature.data() + begin, size, parts[block].seen);
  });
  double sum = 0.0;
  for (const Part& part : parts) {
    sum += part.observed;
    seen.lowest = std::min(seen.lowest, part.seen.lowest);
    seen.finite = seen.finite && part.seen.finite;
  }
  return sum;
}

// Where all readings are sound: what lies between gaps is observed, gaps are bridged.
Part block_dose(const Arrhenius& rate, const double* time, const double* temperature, std::size_t intervals,
                std::span<const std::uint64_t> gaps) {
  Part part;
  std::size_t first = 0;
  const auto run = [&](std::size_t last) {
    part.observed += run_dose(rate, time + first, temperature + first, last - first, part.seen);
  };
  if (!gaps.empty()) {
    for (std::size_t gap = next_bit(gaps, 0, intervals - 1, true); gap < intervals;
         gap = next_bit(gaps, gap + 1, intervals - 1, true)) {
      run(gap);
      part.bridged += run_dose(rate, time + gap, temperature + gap, 1, part.seen);
      first = gap + 1;
    }
  }
  run(intervals);
  return part;
}

EquivalentTime sound_dose(std::span<const double> time, std::span<const double> temperature, const Arrhenius& rate,
                          const TraceRule& rule, std::string_view function, std::size_t threads, Seen& seen) {
  std::vector<Part> parts(temperature.size() == time.size() && !time.empty() ? trace_blocks(time.size() - 1) : 0);
  const Trace trace =
      checked_trace(time, temperature, {}, rule, function, threads,
                    [&](std::size_t block, std::size_t begin, std::size_t count, std::span<const std::uint64_t> gaps) {
                      parts[block] = block_dose(rate, time.data() + begin, temperature.data() + begin, count, gaps);
                    });
  EquivalentTime found;
  double bridged = 0.0;
  for (const Part& part : parts) {
    found.observed_min += part.observed;
    bridged += part.bridged;
    seen.lowest = std::min(seen.lowest, part.seen.lowest);
    seen.finite = seen.finite && part.seen.finite;
  }
  if (parts.empty()) (void)long_dose(rate, time, temperature, {0, 0}, seen, 1);
  found.credited_min = found.observed_min + bridged + trace.open_before_min + trace.open_after_min;
  return found;
}

EquivalentTime marked_dose(std::span<const double> time, std::span<const double> temperature, const Arrhenius& rate,
                           std::span<const ReadingState> state, const TraceRule& rule, std::string_view function,
                           std::size_t threads, Seen& seen) {
  const Trace trace = checked_trace(time, temperature, state, rule, function, threads);
  EquivalentTime found;
  for (const Piece& piece : trace.pieces) {
    found.observed_min += long_dose(rate, time, temperature, piece, seen, threads);
  }
  found.credited_min = trace.open_before_min + trace.open_after_min;
  if (!trace.credited_time.empty()) {
    const Piece all{0, trace.credited_time.size() - 1};
    found.credited_min += long_dose(rate, trace.credited_time, trace.credited_temperature, all, seen, threads);
  }
  return found;
}

}  // namespace

EquivalentTime dose_of(std::span<const double> time_min, std::span<const double> temperature_c, const Arrhenius& rate,
                       std::span<const ReadingState> state, const TraceRule& rule, std::string_view function,
                       std::size_t threads) {
  Seen seen = nothing_seen;
  const EquivalentTime found = state.empty()
                                   ? sound_dose(time_min, temperature_c, rate, rule, function, threads, seen)
                                   : marked_dose(time_min, temperature_c, rate, state, rule, function, threads, seen);
  if (!usable(seen)) refuse_temperatures(temperature_c, state, function);
  return found;
}

}  // namespace steadyfilm::support
