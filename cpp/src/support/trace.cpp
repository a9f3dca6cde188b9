#include "support/trace.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <limits>
#include <string>

#include <steadyfilm/core.hpp>

#include "kernels/cure_profile.hpp"
#include "support/parallel.hpp"

namespace steadyfilm::support {
namespace {

using kernels::cure_profile::Intervals;
using kernels::cure_profile::Seen;

constexpr double infinite = std::numeric_limits<double>::infinity();

// Two lengths of interval are the same within the rounding of times in minutes.
constexpr double same_length = 1e-9;

struct Blocks {
  std::size_t count = 0;
  std::size_t readings = 0;

  explicit Blocks(std::size_t all) : count(trace_blocks(all)), readings(all) {}
  [[nodiscard]] std::size_t begin(std::size_t block) const { return block * trace_block; }
  [[nodiscard]] std::size_t size(std::size_t block) const { return std::min(trace_block, readings - begin(block)); }
};

// The first reading that is wrong; only called when one is.
[[noreturn]] void refuse_times(std::span<const double> time, std::string_view function) {
  require_finite(time, function, "time_min");
  for (std::size_t i = 1; i < time.size(); ++i) {
    if (!(time[i] > time[i - 1])) {
      const std::string kind = time[i] == time[i - 1] ? "equals" : "is before";
      throw InvalidInput(function, "time_min",
                         "must ascend strictly (" + to_text(time[i]) + " " + kind + " the time before it, " +
                             to_text(time[i - 1]) + "); sort the log, and take one reading of each time",
                         i);
    }
  }
  throw InvalidInput(function, "time_min", "must ascend strictly");
}

struct Steps {
  double median = std::numeric_limits<double>::quiet_NaN();
  double limit = infinite;
  std::vector<std::size_t> gaps;  // interval i lies between readings i and i + 1
};

// The lesser of both; NaN once there is one.
double shorter(double one, double two) { return std::isnan(one) || one <= two ? one : two; }

// One pass over the times: do they ascend, which intervals are longer than the limit, how many have the usual length.
Intervals pass(std::span<const double> time, double usual, double slack, double limit, std::vector<std::size_t>& gaps,
               std::size_t threads, const BlockWork& work) {
  struct Found {
    Intervals seen{.shortest = infinite, .usual = 0};
    std::vector<std::size_t> gaps;
  };
  const double usual_from = usual - slack, usual_to = usual + slack;
  const std::size_t count = time.size() - 1;
  const Blocks blocks(count);
  std::vector<Found> found(blocks.count);
  const auto& kernel = kernels::cure_profile::table();
  for_blocks(blocks.count, trace_team(blocks.count, threads), [&](std::size_t block) {
    const std::size_t begin = blocks.begin(block);
    const std::size_t size = blocks.size(block);
    const std::size_t words = size / 64;
    std::array<std::uint64_t, trace_block / 64> bits;
    Found& here = found[block];
    kernel.longer(time.data() + begin, words, limit, usual_from, usual_to, bits.data(), &here.seen);
    if (size % 64 != 0) bits[words] = 0;
    for (std::size_t i = words * 64; i < size; ++i) {  // what fills no word
      const double step = time[begin + i + 1] - time[begin + i];
      here.seen.shortest = shorter(here.seen.shortest, step);
      if (step > limit) bits[words] |= std::uint64_t{1} << (i % 64);
      if (step > usual_from && step < usual_to) ++here.seen.usual;
    }
    const auto all = std::span<const std::uint64_t>(bits).first((size + 63) / 64);
    for (std::size_t i = next_bit(all, 0, size - 1, true); i < size; i = next_bit(all, i + 1, size - 1, true)) {
      here.gaps.push_back(begin + i);
    }
    if (work) work(block, begin, size, here.gaps.empty() ? std::span<const std::uint64_t>{} : all);
  });
  Intervals all{.shortest = infinite, .usual = 0};
  gaps.clear();
  for (const Found& part : found) {
    all.shortest = shorter(all.shortest, part.seen.shortest);
    all.usual += part.seen.usual;
    gaps.insert(gaps.end(), part.gaps.begin(), part.gaps.end());
  }
  return all;
}

double median_of(std::vector<double>& values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  if (values.size() % 2 == 1) return *middle;
  return 0.5 * (*middle + *std::max_element(values.begin(), middle));
}

Steps steps_of(std::span<const double> time, double gap_medians, std::string_view function, std::size_t threads,
               const BlockWork& work) {
  Steps steps;
  if (time.size() < 2) {
    require_finite(time, function, "time_min");
    return steps;
  }
  // Most logs have one interval nearly everywhere: then it is the median, and one pass does.
  std::vector<double> first;
  for (std::size_t i = 0; i + 1 < std::min<std::size_t>(time.size(), 258); ++i) {
    first.push_back(time[i + 1] - time[i]);
    if (!(first.back() > 0.0)) refuse_times(time, function);
  }
  const double guess = median_of(first);
  // Late times are rounded more coarsely than early ones, and so are the intervals between them.
  const double rounding =
      8.0 * std::numeric_limits<double>::epsilon() * std::max(std::abs(time.front()), std::abs(time.back()));
  const double slack = guess * same_length + rounding;
  const auto limit_for = [&](double median) { return gap_medians * median * (1.0 + same_length) + rounding; };
  const Intervals seen = pass(time, guess, slack, limit_for(guess), steps.gaps, threads, work);
  if (!(seen.shortest > 0.0)) refuse_times(time, function);
  steps.median = guess;
  if (2 * seen.usual <= time.size() - 1) {
    std::vector<double> all(time.size() - 1);
    for (std::size_t i = 0; i + 1 < time.size(); ++i) all[i] = time[i + 1] - time[i];
    steps.median = median_of(all);
    if (steps.median != guess) {
      (void)pass(time, guess, slack, limit_for(steps.median), steps.gaps, threads, work);
    }
  }
  steps.limit = gap_medians * steps.median;
  return steps;
}

// Maximal runs of sound readings without a gap between them.
std::vector<Piece> pieces_of(std::size_t count, std::span<const ReadingState> state,
                             std::span<const std::size_t> gaps) {
  std::vector<Piece> pieces;
  const auto sound_runs = [&](std::size_t first, std::size_t last) {  // both ends among them
    if (state.empty()) {
      pieces.push_back({first, last});
      return;
    }
    for (std::size_t i = first; i <= last; ++i) {
      if (state[i] != ReadingState::sound) continue;
      const std::size_t begin = i;
      while (i < last && state[i + 1] == ReadingState::sound) ++i;
      pieces.push_back({begin, i});
    }
  };
  std::size_t first = 0;
  for (const std::size_t gap : gaps) {
    sound_runs(first, gap);
    first = gap + 1;
  }
  sound_runs(first, count - 1);
  return pieces;
}

void note_unobserved(Trace& trace, const TraceRule& rule, std::string_view function) {
  const auto time = trace.time_min;
  Logging& log = trace.logging;
  const auto add = [&log](double from, double to, bool open) {
    if (!(to > from)) return;
    log.unobserved.push_back({from, to, open});
    log.unobserved_min += to - from;
  };
  const double slack = std::isfinite(log.gap_limit_min) ? log.gap_limit_min : 0.0;
  double begin = trace.credited_time.empty() ? time.front() : trace.credited_time.front();
  double end = trace.credited_time.empty() ? time.back() : trace.credited_time.back();
  const double sound_end = end;
  double load_begin = time.front(), load_end = time.back();
  if (rule.begin_min) {
    require_finite(*rule.begin_min, function, "begin_min");
    if (*rule.begin_min > time.front()) throw InvalidInput(function, "begin_min", "lies after the first reading");
    if (time.front() - *rule.begin_min > slack) load_begin = *rule.begin_min;
  }
  if (rule.end_min) {
    require_finite(*rule.end_min, function, "end_min");
    if (*rule.end_min < time.back()) throw InvalidInput(function, "end_min", "lies before the last reading");
    if (*rule.end_min - time.back() > slack) load_end = *rule.end_min;
  }
  log.duration_min = load_end - load_begin;
  if (trace.credited_time.empty()) {  // no reading means anything
    add(load_begin, load_end, true);
    trace.open_before_min = log.unobserved_min;
    return;
  }
  trace.open_before_min = begin - load_begin;
  trace.open_after_min = load_end - end;
  add(load_begin, begin, true);
  for (const Piece& piece : trace.pieces) {
    add(begin, time[piece.first], false);
    begin = time[piece.last];
  }
  add(begin, sound_end, false);
  add(sound_end, load_end, true);
}

}  // namespace

std::size_t trace_team(std::size_t blocks, std::size_t threads) {
  constexpr std::size_t blocks_each = 12;  // about a third of a millisecond
  return std::min(thread_count(threads), 1 + blocks / blocks_each);
}

std::size_t next_bit(std::span<const std::uint64_t> bits, std::size_t from, std::size_t to, bool wanted) {
  const std::uint64_t flip = wanted ? 0 : ~std::uint64_t{0};
  std::size_t word = from / 64;
  if (from > to) return to + 1;
  std::uint64_t here = (bits[word] ^ flip) & (~std::uint64_t{0} << (from % 64));
  while (here == 0) {
    if (++word > to / 64) return to + 1;
    here = bits[word] ^ flip;
  }
  return std::min(to + 1, 64 * word + static_cast<std::size_t>(std::countr_zero(here)));
}

void refuse_temperatures(std::span<const double> temperature_c, std::span<const ReadingState> state,
                         std::string_view function) {
  for (std::size_t i = 0; i < temperature_c.size(); ++i) {
    if (!state.empty() && state[i] == ReadingState::lost) continue;
    if (!std::isfinite(temperature_c[i])) {
      throw InvalidInput(function, "temperature_c", "is not finite (" + to_text(temperature_c[i]) + ")", i);
    }
    if (temperature_c[i] <= -zero_celsius_k) {
      throw InvalidInput(
          function, "temperature_c",
          "must be above absolute zero (" + to_text(temperature_c[i]) + "); mark readings without meaning as lost", i);
    }
  }
}

void readings_at_least(std::span<const double> values, double line, Seen& seen, std::span<std::uint64_t> bits) {
  const std::size_t size = values.size();
  const std::size_t words = size / 64;
  const auto& kernel = kernels::cure_profile::table();
  kernel.at_least(values.data(), words, line, bits.data(), &seen);
  if (size % 64 == 0) return;
  std::array<double, 64> rest;  // what fills no word, its last reading repeated
  for (std::size_t i = 0; i < 64; ++i) rest[i] = values[64 * words + std::min(i, size % 64 - 1)];
  std::uint64_t last = 0;
  kernel.at_least(rest.data(), 1, line, &last, &seen);
  bits[words] = last & ((std::uint64_t{1} << (size % 64)) - 1);
}

std::vector<std::uint64_t> readings_at_least(std::span<const double> values, double line, Seen& seen,
                                             std::size_t threads) {
  const Blocks blocks(values.size());
  std::vector<std::uint64_t> bits((values.size() + 63) / 64, 0);
  std::vector<Seen> found(blocks.count, nothing_seen);
  for_blocks(blocks.count, trace_team(blocks.count, threads), [&](std::size_t block) {
    const std::size_t begin = blocks.begin(block);
    readings_at_least(values.subspan(begin, blocks.size(block)), line, found[block],
                      std::span(bits).subspan(begin / 64));
  });
  for (const Seen& part : found) {
    seen.lowest = std::min(seen.lowest, part.lowest);
    seen.highest = std::max(seen.highest, part.highest);
    seen.finite = seen.finite && part.finite;
  }
  return bits;
}

Trace checked_trace(std::span<const double> time_min, std::span<const double> temperature_c,
                    std::span<const ReadingState> state, const TraceRule& rule, std::string_view function,
                    std::size_t threads, const BlockWork& work) {
  require_count(time_min.size(), 1, function, "time_min");
  if (temperature_c.size() != time_min.size()) {
    throw InvalidInput(function, "temperature_c",
                       "needs " + std::to_string(time_min.size()) + " elements like time_min, got " +
                           std::to_string(temperature_c.size()));
  }
  if (!state.empty() && state.size() != time_min.size()) {
    throw InvalidInput(
        function, "state",
        "needs " + std::to_string(time_min.size()) + " elements like time_min, got " + std::to_string(state.size()));
  }
  if (!(rule.gap_medians > 0.0)) {
    throw InvalidInput(function, "gap_medians", "must be above 0 (" + to_text(rule.gap_medians) + ")");
  }
  Trace trace{.time_min = time_min,
              .temperature_c = temperature_c,
              .state = state,
              .pieces = {},
              .logging = {},
              .kept_time = {},
              .kept_temperature = {},
              .credited_time = time_min,
              .credited_temperature = temperature_c,
              .open_before_min = 0.0,
              .open_after_min = 0.0};
  const Steps steps = steps_of(time_min, rule.gap_medians, function, threads, work);
  trace.logging.median_interval_min = steps.median;
  trace.logging.gap_limit_min = steps.limit;
  trace.pieces = pieces_of(time_min.size(), state, steps.gaps);
  if (std::ranges::find(state, ReadingState::lost) != state.end()) {
    for (std::size_t i = 0; i < state.size(); ++i) {
      if (state[i] == ReadingState::lost) continue;
      trace.kept_time.push_back(time_min[i]);
      trace.kept_temperature.push_back(temperature_c[i]);
    }
    trace.credited_time = trace.kept_time;
    trace.credited_temperature = trace.kept_temperature;
  }
  note_unobserved(trace, rule, function);
  return trace;
}

}  // namespace steadyfilm::support
