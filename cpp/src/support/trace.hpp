// Checked temperature traces: which stretches were observed, and how the rest is credited.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <limits>
#include <span>
#include <string_view>
#include <vector>

#include <steadyfilm/cure_profile.hpp>

#include "kernels/cure_profile.hpp"

namespace steadyfilm::support {

/// 0 C in K.
inline constexpr double zero_celsius_k = 273.15;

/// Absolute slack of a comparison of two temperatures in K: what a conversion from F may leave.
inline constexpr double same_temperature_k = 1e-9;

/// Readings first to last, both among them, that follow one another without a gap, all sound.
struct Piece {
  std::size_t first = 0;
  std::size_t last = 0;
};

/// A trace that holds to the contract of trace_logging.
struct Trace {
  std::span<const double> time_min;       ///< as given
  std::span<const double> temperature_c;  ///< as given
  std::span<const ReadingState> state;
  std::vector<Piece> pieces;  ///< in order; a lone sound reading is one
  Logging logging;
  std::vector<double> kept_time, kept_temperature;              ///< without lost readings, when there are some
  std::span<const double> credited_time, credited_temperature;  ///< what is credited: straight lines through these
  double open_before_min = 0.0;  ///< missing ends, credited as if at the wanted temperature
  double open_after_min = 0.0;
};

/// Called for every block of intervals of a trace once its times were looked through, while they are in a cache:
/// intervals [begin, begin + count), and one bit for each whether it is a gap, zeros behind the last; empty where none
/// is. Blocks come in any order and from any thread, and all of them once more when the limit of a gap turns out
/// another.
using BlockWork =
    std::function<void(std::size_t block, std::size_t begin, std::size_t count, std::span<const std::uint64_t> gaps)>;

/// Times and states are checked here; temperatures by whoever reads them.
/// @throws InvalidInput  as trace_logging, naming `function`
[[nodiscard]] Trace checked_trace(std::span<const double> time_min, std::span<const double> temperature_c,
                                  std::span<const ReadingState> state, const TraceRule& rule, std::string_view function,
                                  std::size_t threads = 1, const BlockWork& work = {});

/// What nothing has been seen of.
inline constexpr kernels::cure_profile::Seen nothing_seen{.lowest = std::numeric_limits<double>::infinity(),
                                                          .highest = -std::numeric_limits<double>::infinity(),
                                                          .finite = true};

/// One bit for each reading, whether it is at least `line`; words of 64, zeros behind the last. `seen` grows.
[[nodiscard]] std::vector<std::uint64_t> readings_at_least(std::span<const double> values, double line,
                                                           kernels::cure_profile::Seen& seen, std::size_t threads);

/// The same into words of the caller's, for readings of one block.
void readings_at_least(std::span<const double> values, double line, kernels::cure_profile::Seen& seen,
                       std::span<std::uint64_t> bits);

/// Refuse temperatures that are not finite or not above absolute zero; lost readings may be anything.
void refuse_temperatures(std::span<const double> temperature_c, std::span<const ReadingState> state,
                         std::string_view function);

/// Readings per block of work that goes to a thread; a multiple of 64. Times and temperatures of a block fit the
/// second-level cache.
inline constexpr std::size_t trace_block = std::size_t{1} << 15;

/// Blocks that so many readings or intervals make.
[[nodiscard]] constexpr std::size_t trace_blocks(std::size_t count) { return (count + trace_block - 1) / trace_block; }

/// Threads worth having for so many blocks, of those wished for (0: as many as the processor runs): a few blocks are
/// done before another thread has begun, and a thread that a busy machine starts late is waited for.
[[nodiscard]] std::size_t trace_team(std::size_t blocks, std::size_t threads);

/// First place in [from, to] whose bit is as wanted, else to + 1.
[[nodiscard]] std::size_t next_bit(std::span<const std::uint64_t> bits, std::size_t from, std::size_t to, bool wanted);

}  // namespace steadyfilm::support
