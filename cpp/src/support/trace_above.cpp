// Time at or above a temperature; see cure_profile.hpp.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <string_view>
#include <utility>
#include <vector>

#include <steadyfilm/core.hpp>
#include <steadyfilm/cure_profile.hpp>

#include "kernels/cure_profile.hpp"
#include "support/trace.hpp"

namespace steadyfilm {
namespace {

using kernels::cure_profile::Seen;
using support::Piece;
using support::Trace;
using support::trace_block;

constexpr std::string_view self = "time_above";
constexpr double unknown = std::numeric_limits<double>::quiet_NaN();

bool usable(const Seen& seen) { return seen.finite && !(seen.lowest <= -support::zero_celsius_k); }

double crossing(std::span<const double> time, std::span<const double> temperature, std::size_t i, double line) {
  const double share = (line - temperature[i]) / (temperature[i + 1] - temperature[i]);
  return time[i] + share * (time[i + 1] - time[i]);
}

struct Run {
  double from = 0.0;
  double to = 0.0;
  bool at_start = false;
  bool at_end = false;
};

// Every run at or above the line within readings first to last. Bit k is of reading first_bit + k.
template <typename Tell>
void runs_above(std::span<const double> time, std::span<const double> temperature, std::span<const std::uint64_t> bits,
                std::size_t first_bit, const Piece& piece, double line, const Tell& tell) {
  const std::size_t last = piece.last - first_bit;
  const auto next = [&](std::size_t from, bool wanted) {
    return support::next_bit(bits, from - first_bit, last, wanted) + first_bit;
  };
  for (std::size_t i = next(piece.first, true); i <= piece.last;) {
    const std::size_t below = next(i + 1, false);
    Run run{.from = time[i], .to = time[piece.last], .at_start = i == piece.first, .at_end = below > piece.last};
    if (!run.at_start) run.from = crossing(time, temperature, i - 1, line);
    if (!run.at_end) run.to = crossing(time, temperature, below - 1, line);
    tell(run);
    i = next(below + 1, true);
  }
}

void add_run(TimeAbove& sum, double length) {
  if (!(length > 0.0)) return;
  sum.total_min += length;
  sum.longest_min = std::max(sum.longest_min, length);
  ++sum.excursions;
}

// -- some readings are not sound: piece by piece -------------------------------------------------

TimeAbove credited_above(const Trace& trace, std::span<const std::uint64_t> bits, double line) {
  TimeAbove sum;
  double before = trace.open_before_min, after = trace.open_after_min;
  if (!trace.credited_time.empty()) {
    const Piece all{0, trace.credited_time.size() - 1};
    runs_above(trace.credited_time, trace.credited_temperature, bits, 0, all, line, [&](const Run& run) {
      double length = run.to - run.from;
      if (run.at_start) length += std::exchange(before, 0.0);
      if (run.at_end) length += std::exchange(after, 0.0);
      add_run(sum, length);
    });
  }
  add_run(sum, before);
  add_run(sum, after);
  return sum;
}

TimeAbovePair marked_above(std::span<const double> time, std::span<const double> temperature, double line,
                           std::span<const ReadingState> state, const TraceRule& rule, std::size_t threads,
                           Seen& seen) {
  const Trace trace = support::checked_trace(time, temperature, state, rule, self, threads);
  const auto credited_bits = support::readings_at_least(trace.credited_temperature, line, seen, threads);
  if (!usable(seen)) support::refuse_temperatures(temperature, state, self);
  const bool same = trace.credited_time.data() == time.data();
  Seen ignored = support::nothing_seen;
  const auto own_bits =
      same ? std::vector<std::uint64_t>{} : support::readings_at_least(temperature, line, ignored, threads);
  TimeAbovePair found;
  for (const Piece& piece : trace.pieces) {
    runs_above(time, temperature, same ? credited_bits : own_bits, 0, piece, line,
               [&](const Run& run) { add_run(found.observed, run.to - run.from); });
  }
  found.credited = credited_above(trace, credited_bits, line);
  found.highest_c = trace.credited_time.empty() ? unknown : seen.highest;
  return found;
}

// -- all readings are sound: block by block, in one pass over times and temperatures -----------------

// Runs of a stretch of readings that shares its first and last reading with its neighbors.
struct Stretch {
  TimeAbove inner;    ///< runs that touch neither end
  double head = 0.0;  ///< run from the first reading
  double tail = 0.0;  ///< run to the last reading
  bool starts = false;
  bool ends = false;
  bool whole = false;  ///< head and tail are one run
  bool gap = false;    ///< the stretch is a gap: only credited
};

// Adds stretches in order of time, so that a run may reach over many of them.
class Runs {
 public:
  void begin(double before) { before_ = before; }
  void add(const Stretch& next) {
    if (next.starts) open_ += std::exchange(before_, 0.0) + next.head;
    close_if(next.starts && !next.whole);
    if (next.whole) return;
    add_run(sum_, std::exchange(before_, 0.0));
    sum_.total_min += next.inner.total_min;
    sum_.longest_min = std::max(sum_.longest_min, next.inner.longest_min);
    sum_.excursions += next.inner.excursions;
    if (next.ends) open_ = next.tail;
  }
  void close() { close_if(true); }
  TimeAbove end(double after, bool above) {
    if (above) {
      open_ += after;
      close();
    } else {
      close();
      add_run(sum_, after);
    }
    return sum_;
  }

 private:
  void close_if(bool now) {
    if (now) add_run(sum_, std::exchange(open_, 0.0));
  }

  TimeAbove sum_;
  double open_ = 0.0;
  double before_ = 0.0;
};

struct Block {
  std::vector<Stretch> stretches;
  Seen seen = support::nothing_seen;
};

Stretch stretch_of(std::span<const double> time, std::span<const double> temperature,
                   std::span<const std::uint64_t> bits, std::size_t first_bit, const Piece& piece, double line) {
  Stretch found;
  runs_above(time, temperature, bits, first_bit, piece, line, [&](const Run& run) {
    const double length = run.to - run.from;
    if (run.at_start) {
      found.starts = true;
      found.head = length;
      found.whole = run.at_end;
    } else if (!run.at_end) {
      add_run(found.inner, length);
    }
    if (run.at_end) {
      found.ends = true;
      found.tail = length;
    }
  });
  return found;
}

Block block_of(std::span<const double> time, std::span<const double> temperature, double line, std::size_t begin,
               std::size_t count, std::span<const std::uint64_t> gaps) {
  Block block;
  std::array<std::uint64_t, trace_block / 64 + 1> bits;
  support::readings_at_least(temperature.subspan(begin, count + 1), line, block.seen, bits);
  const auto add = [&](std::size_t first, std::size_t last, bool gap) {
    if (last == first) return;
    Stretch found = stretch_of(time, temperature, bits, begin, {begin + first, begin + last}, line);
    found.gap = gap;
    block.stretches.push_back(found);
  };
  std::size_t first = 0;
  if (!gaps.empty()) {
    for (std::size_t gap = support::next_bit(gaps, 0, count - 1, true); gap < count;
         gap = support::next_bit(gaps, gap + 1, count - 1, true)) {
      add(first, gap, false);
      add(gap, gap + 1, true);
      first = gap + 1;
    }
  }
  add(first, count, false);
  return block;
}

TimeAbovePair sound_above(std::span<const double> time, std::span<const double> temperature, double line,
                          const TraceRule& rule, std::size_t threads, Seen& seen) {
  const bool several = temperature.size() == time.size() && time.size() > 1;
  std::vector<Block> blocks(several ? support::trace_blocks(time.size() - 1) : 0);
  const Trace trace = support::checked_trace(
      time, temperature, {}, rule, self, threads,
      [&](std::size_t block, std::size_t begin, std::size_t count, std::span<const std::uint64_t> gaps) {
        blocks[block] = block_of(time, temperature, line, begin, count, gaps);
      });
  if (!several) {
    seen.lowest = seen.highest = temperature.front();
    seen.finite = std::isfinite(temperature.front());
  }
  Runs observed, credited;
  credited.begin(trace.open_before_min);
  if (!several) {  // a lone reading: what there is lies before and behind it
    Stretch lone;
    lone.starts = lone.ends = lone.whole = temperature.front() >= line;
    credited.add(lone);
  }
  for (const Block& block : blocks) {
    for (const Stretch& stretch : block.stretches) {
      credited.add(stretch);
      if (stretch.gap) {
        observed.close();
      } else {
        observed.add(stretch);
      }
    }
    seen.lowest = std::min(seen.lowest, block.seen.lowest);
    seen.highest = std::max(seen.highest, block.seen.highest);
    seen.finite = seen.finite && block.seen.finite;
  }
  const bool above = temperature.back() >= line;
  return {.observed = observed.end(0.0, above),
          .credited = credited.end(trace.open_after_min, above),
          .highest_c = seen.highest};
}

}  // namespace

TimeAbovePair time_above(std::span<const double> time_min, std::span<const double> temperature_c, double threshold_c,
                         std::span<const ReadingState> state, const TraceRule& rule, std::size_t threads) {
  require_finite(threshold_c, self, "threshold_c");
  const double line = threshold_c - support::same_temperature_k;
  Seen seen = support::nothing_seen;
  const TimeAbovePair found = state.empty() ? sound_above(time_min, temperature_c, line, rule, threads, seen)
                                            : marked_above(time_min, temperature_c, line, state, rule, threads, seen);
  if (!usable(seen)) support::refuse_temperatures(temperature_c, state, self);
  return found;
}

}  // namespace steadyfilm
