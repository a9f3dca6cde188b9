#include "support/ewma_scan.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <vector>

#include "kernels/chart_ewma.hpp"
#include "support/parallel.hpp"

namespace steadyfilm::support {

namespace {

namespace kernel = kernels::chart_ewma;
static_assert(kernel::block_points == ewma_block_size);

constexpr std::size_t tile = kernel::tile_blocks * ewma_block_size;

/// A result longer than this goes past the caches.
constexpr std::size_t streamed_result = (std::size_t{16} << 20) / sizeof(double);

/// Whole blocks from one level on; gives the level behind them. A null z: only the level is wanted.
double run_blocks(const EwmaWeights& weights, std::span<const double> x, double level, double* z, bool streamed) {
  const auto& table = kernel::table();
  alignas(64) std::array<double, tile> own;
  for (std::size_t first = 0; first < x.size(); first += tile) {
    const std::size_t blocks = std::min(tile, x.size() - first) / ewma_block_size;
    const bool aside = z == nullptr || streamed;
    level = table.blocks(x.data() + first, blocks, weights.smoothing, weights.power.data(), level,
                         aside ? own.data() : z + first, streamed && z != nullptr ? z + first : nullptr);
  }
  return level;
}

/// Points after which an older one weighs less than 2^-100 of its own: beyond any digit of a level near it.
std::size_t memory_of(const EwmaWeights& weights) {
  const double b = weights.power[0];
  if (b <= 0.0) return ewma_block_size;
  const double points = std::min(1e9, std::ceil(-100.0 * std::log(2.0) / std::log(b)));
  return (static_cast<std::size_t>(points) / ewma_block_size + 1) * ewma_block_size;
}

/// Whole blocks, shared out to threads.
double run_long(const EwmaWeights& weights, std::span<const double> x, double level, std::span<double> z,
                std::size_t threads, std::size_t stretch) {
  const bool streamed = z.size() > streamed_result;
  const std::size_t memory = memory_of(weights);
  const std::size_t stretches = (x.size() + stretch - 1) / stretch;
  if (stretches < 2 || thread_count(threads) < 2 || memory > stretch / 2) {
    const double last = run_blocks(weights, x, level, z.data(), streamed);
    if (streamed) kernel::table().fence();
    return last;
  }
  struct Ends {
    double start = 0.0;
    double end = 0.0;
  };
  std::vector<Ends> ends(stretches);
  const auto part = [&](std::size_t i) { return std::min(stretch, x.size() - i * stretch); };
  for_blocks(stretches, threads, [&](std::size_t i) {
    const std::size_t first = i * stretch;
    Ends own;
    own.start = i == 0 ? level : run_blocks(weights, x.subspan(first - memory, memory), 0.0, nullptr, false);
    own.end = run_blocks(weights, x.subspan(first, part(i)), own.start, z.data() + first, streamed);
    if (streamed) kernel::table().fence();
    ends[i] = own;
  });
  const auto same = [](double a, double b) {
    return std::bit_cast<std::uint64_t>(a) == std::bit_cast<std::uint64_t>(b);
  };
  for (std::size_t i = 1; i < stretches; ++i) {
    if (same(ends[i].start, ends[i - 1].end)) continue;
    ends[i].end = run_blocks(weights, x.subspan(i * stretch, part(i)), ends[i - 1].end, z.data() + i * stretch, false);
  }
  return ends.back().end;
}

/// How many points from `first` on take part without a break before any but the first.
std::size_t unbroken(std::span<const std::uint8_t> takes_part, std::span<const std::uint8_t> break_before,
                     std::size_t first, std::size_t end) {
  std::size_t i = first;
  for (; i < end; ++i) {
    if (!takes_part.empty() && takes_part[i] == 0) break;
    if (i > first && !break_before.empty() && break_before[i] != 0) break;
  }
  return i - first;
}

}  // namespace

void ewma_scan(const EwmaWeights& weights, std::span<const double> x, std::span<const std::uint8_t> takes_part,
               std::span<const std::uint8_t> break_before, std::span<double> z, std::size_t threads,
               std::size_t stretch) {
  EwmaState state;
  const auto point_by_point = [&](std::size_t first, std::size_t count) {
    const auto part = [&](auto span) { return span.empty() ? span : span.subspan(first, count); };
    ewma_run(weights, state, x.subspan(first, count), part(takes_part), part(break_before), 0.0,
             z.subspan(first, count));
  };
  for (std::size_t first = 0; first < x.size();) {
    const bool plain = takes_part.empty() && break_before.empty();
    const std::size_t run = plain ? x.size() - first : unbroken(takes_part, break_before, first, x.size());
    if (run == 0) {
      point_by_point(first, 1);
      ++first;
      continue;
    }
    const bool restarts = !break_before.empty() && break_before[first] != 0;
    if (restarts) state = EwmaState{};
    const std::size_t head = std::min(run, state.pending == 0 ? 0 : ewma_block_size - state.pending);
    point_by_point(first, head);
    const std::size_t whole = (run - head) / ewma_block_size * ewma_block_size;
    state.level = whole == 0 ? state.level
                             : run_long(weights, x.subspan(first + head, whole), state.level,
                                        z.subspan(first + head, whole), threads, stretch);
    first += head + whole;
    point_by_point(first, run - head - whole);
    first += run - head - whole;
  }
}

}  // namespace steadyfilm::support
