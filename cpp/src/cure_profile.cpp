#include <steadyfilm/cure_profile.hpp>

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <limits>
#include <string>
#include <string_view>
#include <utility>

#include <steadyfilm/core.hpp>
#include <steadyfilm/distributions.hpp>

#include "kernels/cure_profile.hpp"
#include "support/exponential_integral.hpp"
#include "support/parallel.hpp"
#include "support/quadrature.hpp"
#include "support/trace.hpp"

namespace steadyfilm {
namespace {

using kernels::cure_profile::Seen;
using kernels::cure_profile::tile_readings;
using support::Arrhenius;
using support::Piece;
using support::Trace;
using support::zero_celsius_k;

constexpr double unknown = std::numeric_limits<double>::quiet_NaN();

void require_temperature(double value, std::string_view function, std::string_view argument) {
  require_finite(value, function, argument);
  if (value <= -zero_celsius_k) {
    throw InvalidInput(function, argument, "must be above absolute zero (" + to_text(value) + ")");
  }
}

Arrhenius arrhenius(const CureRate& rate, std::string_view function) {
  require_finite(rate.activation_energy_kj, function, "activation_energy_kj");
  if (rate.activation_energy_kj < 0.0) {
    throw InvalidInput(function, "activation_energy_kj",
                       "must be 0 or more (" + to_text(rate.activation_energy_kj) + ")");
  }
  require_temperature(rate.reference_c, function, "reference_c");
  return {.energy_k = 1000.0 * rate.activation_energy_kj / gas_constant,
          .inverse_reference = 1.0 / (rate.reference_c + zero_celsius_k)};
}

// -- time above ----------------------------------------------------------------------------------

// First place in [from, to] whose bit is as wanted, else to + 1.
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

// Every run at or above the line within readings first to last.
template <typename Tell>
void runs_above(std::span<const double> time, std::span<const double> temperature, std::span<const std::uint64_t> bits,
                const Piece& piece, double line, const Tell& tell) {
  for (std::size_t i = next_bit(bits, piece.first, piece.last, true); i <= piece.last;) {
    const std::size_t below = next_bit(bits, i + 1, piece.last, false);
    Run run{.from = time[i], .to = time[piece.last], .at_start = i == piece.first, .at_end = below > piece.last};
    if (!run.at_start) run.from = crossing(time, temperature, i - 1, line);
    if (!run.at_end) run.to = crossing(time, temperature, below - 1, line);
    tell(run);
    i = next_bit(bits, below + 1, piece.last, true);
  }
}

void add_run(TimeAbove& sum, double length) {
  if (!(length > 0.0)) return;
  sum.total_min += length;
  sum.longest_min = std::max(sum.longest_min, length);
  ++sum.excursions;
}

TimeAbove credited_above(const Trace& trace, std::span<const std::uint64_t> bits, double line) {
  TimeAbove sum;
  double before = trace.open_before_min, after = trace.open_after_min;
  if (!trace.credited_time.empty()) {
    const Piece all{0, trace.credited_time.size() - 1};
    runs_above(trace.credited_time, trace.credited_temperature, bits, all, line, [&](const Run& run) {
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

// -- dose ----------------------------------------------------------------------------------------

bool usable(const Seen& seen) { return seen.finite && !(seen.lowest <= -zero_celsius_k); }

// One tile of at most tile_readings intervals: f and w of its first reading are there, those of the last are left.
struct Tile {
  std::array<double, tile_readings + 8> factor;
  std::array<double, tile_readings + 8> weight;
  std::array<double, tile_readings + 8> rest;
};

double tile_dose(const Arrhenius& rate, const double* time, const double* temperature, std::size_t words, Tile& tile,
                 Seen& seen) {
  const auto& kernel = kernels::cure_profile::table();
  std::array<std::uint64_t, tile_readings / 64> bits;
  kernel.factors(temperature + 1, 64 * words, rate.energy_k, rate.inverse_reference,
                 {tile.factor.data() + 1, tile.weight.data() + 1, tile.rest.data() + 1}, &seen);
  if (!usable(seen)) return unknown;
  double sum = kernel.dose(time, temperature, {tile.factor.data(), tile.weight.data(), tile.rest.data()}, words,
                           support::largest_small_step, bits.data());
  for (std::size_t word = 0; word < words; ++word) {
    for (std::uint64_t left = bits[word]; left != 0; left &= left - 1) {
      // The closed form in place of what the kernel added for this interval.
      const std::size_t i = 64 * word + static_cast<std::size_t>(std::countr_zero(left));
      const double f0 = tile.factor[i], f1 = tile.factor[i + 1];
      const double step = temperature[i + 1] - temperature[i];
      const double slope0 = f0 * tile.weight[i], slope1 = f1 * tile.weight[i + 1];
      const double rough =
          support::small_step_mean(step, f0, f1, slope0, slope1, slope0 * tile.rest[i], slope1 * tile.rest[i + 1]);
      const double exact = rate.mean_factor(temperature[i] + zero_celsius_k, temperature[i + 1] + zero_celsius_k);
      sum += (time[i + 1] - time[i]) * (exact - rough);
    }
  }
  return sum;
}

double block_dose(const Arrhenius& rate, const double* time, const double* temperature, std::size_t intervals,
                  Seen& seen) {
  Tile tile;
  const double first = temperature[0] + zero_celsius_k;
  tile.factor[0] = rate.factor(first);
  tile.weight[0] = rate.energy_k / (first * first);
  tile.rest[0] = tile.weight[0] - 2.0 / first;
  seen.lowest = std::min(seen.lowest, temperature[0]);
  seen.finite = seen.finite && std::isfinite(temperature[0]);
  double sum = 0.0;
  std::size_t done = 0;
  for (; done + tile_readings <= intervals; done += tile_readings) {
    sum += tile_dose(rate, time + done, temperature + done, tile_readings / 64, tile, seen);
    tile.factor[0] = tile.factor[tile_readings];
    tile.weight[0] = tile.weight[tile_readings];
    tile.rest[0] = tile.rest[tile_readings];
  }
  if (const std::size_t left = intervals - done; left > 0) {
    // Padded with the last reading: intervals without length add nothing.
    std::array<double, tile_readings + 1> last_time, last_temperature;
    const std::size_t words = (left + 63) / 64;
    for (std::size_t i = 0; i <= 64 * words; ++i) {
      last_time[i] = time[done + std::min(i, left)];
      last_temperature[i] = temperature[done + std::min(i, left)];
    }
    sum += tile_dose(rate, last_time.data(), last_temperature.data(), words, tile, seen);
  }
  return sum;
}

// Dose from reading first to last, whatever lies between them.
double dose(const Arrhenius& rate, std::span<const double> time, std::span<const double> temperature,
            const Piece& piece, Seen& seen, std::size_t threads) {
  const std::size_t intervals = piece.last - piece.first;
  const std::size_t blocks = (intervals + support::trace_block - 1) / support::trace_block;
  if (blocks == 0) {
    const double lone = temperature[piece.first];
    seen.lowest = std::min(seen.lowest, lone);
    seen.finite = seen.finite && std::isfinite(lone);
    return 0.0;
  }
  std::vector<double> sums(blocks);
  std::vector<Seen> found(blocks, support::nothing_seen);
  support::for_blocks(blocks, threads, [&](std::size_t block) {
    const std::size_t begin = piece.first + block * support::trace_block;
    const std::size_t size = std::min(support::trace_block, piece.last - begin);
    sums[block] = block_dose(rate, time.data() + begin, temperature.data() + begin, size, found[block]);
  });
  double sum = 0.0;
  for (std::size_t block = 0; block < blocks; ++block) {
    sum += sums[block];
    seen.lowest = std::min(seen.lowest, found[block].lowest);
    seen.finite = seen.finite && found[block].finite;
  }
  return sum;
}

// What lies between the pieces, and before and behind them.
double bridged_dose(const Arrhenius& rate, const Trace& trace, Seen& seen) {
  double sum = 0.0;
  std::size_t at = 0;
  for (const Piece& piece : trace.pieces) {
    sum += dose(rate, trace.time_min, trace.temperature_c, {at, piece.first}, seen, 1);
    at = piece.last;
  }
  return sum + dose(rate, trace.time_min, trace.temperature_c, {at, trace.time_min.size() - 1}, seen, 1);
}

}  // namespace

Logging trace_logging(std::span<const double> time_min, std::span<const double> temperature_c,
                      std::span<const ReadingState> state, const TraceRule& rule) {
  support::refuse_temperatures(
      temperature_c, state.size() == temperature_c.size() ? state : std::span<const ReadingState>{}, "trace_logging");
  return support::checked_trace(time_min, temperature_c, state, rule, "trace_logging").logging;
}

TimeAbovePair time_above(std::span<const double> time_min, std::span<const double> temperature_c, double threshold_c,
                         std::span<const ReadingState> state, const TraceRule& rule, std::size_t threads) {
  constexpr std::string_view self = "time_above";
  require_finite(threshold_c, self, "threshold_c");
  const Trace trace = support::checked_trace(time_min, temperature_c, state, rule, self, threads);
  const double line = threshold_c - support::same_temperature_k;
  Seen seen = support::nothing_seen;
  const auto credited_bits = support::readings_at_least(trace.credited_temperature, line, seen, threads);
  if (!usable(seen)) support::refuse_temperatures(temperature_c, state, self);
  const bool same = trace.credited_time.data() == time_min.data();
  Seen ignored = support::nothing_seen;
  const auto own_bits =
      same ? std::vector<std::uint64_t>{} : support::readings_at_least(temperature_c, line, ignored, threads);
  TimeAbovePair found;
  for (const Piece& piece : trace.pieces) {
    runs_above(time_min, temperature_c, same ? credited_bits : own_bits, piece, line,
               [&](const Run& run) { add_run(found.observed, run.to - run.from); });
  }
  found.credited = credited_above(trace, credited_bits, line);
  found.highest_c = trace.credited_time.empty() ? unknown : seen.highest;
  return found;
}

double cure_rate_factor(double temperature_c, const CureRate& rate) {
  const Arrhenius speed = arrhenius(rate, "cure_rate_factor");
  require_temperature(temperature_c, "cure_rate_factor", "temperature_c");
  return speed.factor(temperature_c + zero_celsius_k);
}

EquivalentTime equivalent_time(std::span<const double> time_min, std::span<const double> temperature_c,
                               const CureRate& rate, std::span<const ReadingState> state, const TraceRule& rule,
                               std::size_t threads) {
  constexpr std::string_view self = "equivalent_time";
  const Arrhenius speed = arrhenius(rate, self);
  const Trace trace = support::checked_trace(time_min, temperature_c, state, rule, self, threads);
  EquivalentTime found;
  Seen seen = support::nothing_seen;
  for (const Piece& piece : trace.pieces) {
    found.observed_min += dose(speed, time_min, temperature_c, piece, seen, threads);
  }
  const double open = trace.open_before_min + trace.open_after_min;
  if (trace.credited_time.empty()) {
    found.credited_min = open;
  } else if (trace.credited_time.data() == time_min.data()) {
    found.credited_min = found.observed_min + bridged_dose(speed, trace, seen) + open;
  } else {
    const Piece all{0, trace.credited_time.size() - 1};
    found.credited_min = dose(speed, trace.credited_time, trace.credited_temperature, all, seen, threads) + open;
  }
  if (!usable(seen)) support::refuse_temperatures(temperature_c, state, self);
  return found;
}

EquivalentTime equivalent_time_trapezoid(std::span<const double> time_min, std::span<const double> temperature_c,
                                         const CureRate& rate, std::optional<double> sample_min,
                                         const TraceRule& rule) {
  constexpr std::string_view self = "equivalent_time_trapezoid";
  const Arrhenius speed = arrhenius(rate, self);
  if (sample_min) require_positive(*sample_min, self, "sample_min");
  support::refuse_temperatures(temperature_c, {}, self);
  const Trace trace = support::checked_trace(time_min, temperature_c, {}, rule, self);
  // The factor at any minute: `at` walks forward with it.
  std::size_t at = 0;
  const auto factor = [&](double minute) {
    while (at + 2 < time_min.size() && time_min[at + 1] < minute) ++at;
    const double share = (minute - time_min[at]) / (time_min[at + 1] - time_min[at]);
    const double temperature = temperature_c[at] + share * (temperature_c[at + 1] - temperature_c[at]);
    return speed.factor(temperature + zero_celsius_k);
  };
  const auto between = [&](double from, double to) {
    if (!(to > from)) return 0.0;
    double sum = 0.0;
    double last = factor(from);
    double begin = from;
    for (std::size_t k = 1; begin < to; ++k) {
      // By the reading where no sample is given, else by the step; the last one ends at the end.
      double end = to;
      if (sample_min) {
        end = std::min(to, from + static_cast<double>(k) * *sample_min);
      } else {
        end = std::min(to, *std::upper_bound(time_min.begin(), time_min.end(), begin));
      }
      const double next = factor(end);
      sum += 0.5 * (end - begin) * (last + next);
      last = next;
      begin = end;
    }
    return sum;
  };
  EquivalentTime found;
  double before = time_min.front();
  for (const Piece& piece : trace.pieces) {
    at = 0;
    found.credited_min += between(before, time_min[piece.first]);
    const double own = between(time_min[piece.first], time_min[piece.last]);
    found.observed_min += own;
    found.credited_min += own;
    before = time_min[piece.last];
  }
  return found;
}

ScheduleEnergy activation_energy_from_schedule(std::span<const SchedulePoint> points, double confidence_level) {
  constexpr std::string_view self = "activation_energy_from_schedule";
  require_count(points.size(), 2, self, "points");
  require_open_unit(confidence_level, self, "confidence_level");
  const double count = static_cast<double>(points.size());
  double mean_x = 0.0, mean_y = 0.0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (!std::isfinite(points[i].minutes) || !(points[i].minutes > 0.0)) {
      throw InvalidInput(self, "minutes", "must be above 0 (" + to_text(points[i].minutes) + ")", i);
    }
    if (!std::isfinite(points[i].temperature_c) || points[i].temperature_c <= -zero_celsius_k) {
      throw InvalidInput(self, "temperature_c",
                         "must be finite and above absolute zero (" + to_text(points[i].temperature_c) + ")", i);
    }
    mean_x += 1.0 / (points[i].temperature_c + zero_celsius_k) / count;
    mean_y += std::log(points[i].minutes) / count;
  }
  double xx = 0.0, xy = 0.0, yy = 0.0;
  for (const SchedulePoint& point : points) {
    const double x = 1.0 / (point.temperature_c + zero_celsius_k) - mean_x;
    const double y = std::log(point.minutes) - mean_y;
    xx += x * x;
    xy += x * y;
    yy += y * y;
  }
  if (!(xx > 1e-24 * mean_x * mean_x)) {
    throw InvalidInput(self, "temperature_c", "must hold two different temperatures");
  }
  const double slope = xy / xx;
  const double to_kj = gas_constant / 1000.0;
  ScheduleEnergy found{.activation_energy_kj = slope * to_kj,
                       .standard_error_kj = unknown,
                       .lower_kj = unknown,
                       .upper_kj = unknown,
                       .ln_minutes_at_zero = mean_y - slope * mean_x,
                       .residual_sd = unknown};
  if (points.size() == 2) return found;
  const double freedom = count - 2.0;
  found.residual_sd = std::sqrt(std::max(0.0, yy - slope * xy) / freedom);
  found.standard_error_kj = found.residual_sd / std::sqrt(xx) * to_kj;
  const double half = student_t_quantile(0.5 + 0.5 * confidence_level, freedom) * found.standard_error_kj;
  found.lower_kj = found.activation_energy_kj - half;
  found.upper_kj = found.activation_energy_kj + half;
  return found;
}

}  // namespace steadyfilm
