#include <steadyfilm/streams.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

#include <steadyfilm/constants.hpp>
#include <steadyfilm/core.hpp>
#include <steadyfilm/monitor.hpp>
#include <steadyfilm/run_rules.hpp>

#include "support/chart.hpp"
#include "support/double_double.hpp"
#include "support/ewma_scan.hpp"
#include "support/parallel.hpp"

namespace steadyfilm {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr auto function = "chart_streams";
/// Streams that one thread takes at a time; fixed, so that nothing depends on the number of threads.
constexpr std::size_t block_streams = 32;

void check(std::span<const double> values, std::span<const std::uint8_t> takes_part,
           std::span<const std::size_t> offsets, std::span<const double> multiples, const StreamsOptions& options,
           std::span<const double> ewma) {
  support::require_mask(takes_part, values.size(), function, "takes_part");
  if (offsets.empty() || offsets.front() != 0 || offsets.back() != values.size()) {
    throw InvalidInput(function, "offsets", "must run from 0 to " + std::to_string(values.size()));
  }
  for (std::size_t s = 1; s < offsets.size(); ++s) {
    if (offsets[s] < offsets[s - 1]) throw InvalidInput(function, "offsets", "must not fall", s);
  }
  const std::size_t streams = offsets.size() - 1;
  if (multiples.size() != 1 && multiples.size() != streams) {
    throw InvalidInput(function, "multiples",
                       "needs one element, or one for each of " + std::to_string(streams) + " streams");
  }
  for (const double multiple : multiples) require_positive(multiple, function, "multiples");
  if (!(options.smoothing >= 0.0 && options.smoothing <= 1.0)) {
    throw InvalidInput(function, "smoothing", "must lie between 0 and 1, got " + to_text(options.smoothing));
  }
  if (options.fewest_points < 2) {
    throw InvalidInput(function, "fewest_points", "must be 2 or more, got " + std::to_string(options.fewest_points));
  }
  if (!ewma.empty() && ewma.size() != values.size()) throw InvalidInput(function, "ewma", "must be as long as values");
}

/// sqrt of the variance of the EWMA over that of a point, one a number of points since the start; the last one stays.
std::vector<double> ewma_factors(double smoothing) {
  std::vector<double> factors;
  if (!(smoothing > 0.0)) return factors;
  const MonitorLimits widening{.rules = {}, .smoothing = smoothing, .ewma_multiple = 1.0, .ewma_time_varying = true};
  const double end = std::sqrt(smoothing / (2.0 - smoothing));
  constexpr std::size_t most = 4096;
  while (factors.size() < most && (factors.empty() || factors.back() < end)) {
    factors.push_back(ewma_reach(widening, factors.size() + 1));
  }
  factors.push_back(end);
  return factors;
}

struct Work {
  std::vector<double> z, level;
};

/// Charts one stream; knows nothing of the others.
class StreamChart {
 public:
  StreamChart(StreamCharts& out, const StreamsOptions& options, std::span<const double> factors, double divisor)
      : out_(out), options_(options), factors_(factors), divisor_(divisor) {}

  void run(std::size_t stream, std::size_t first, std::span<const double> values,
           std::span<const std::uint8_t> takes_part, double multiple, Work& work, std::span<double> ewma,
           std::vector<StreamSignal>& signals) const {
    estimate(stream, first, values, takes_part);
    std::ranges::fill(ewma, none);
    out_.lower[stream] = out_.upper[stream] = none;
    if (out_.has_limits[stream] == 0) return;
    const double center = out_.center[stream], sigma = out_.sigma_within[stream];
    const auto lines = support::lines(center, multiple * sigma);
    require_finite(lines.upper - lines.lower, function, "limits of values");
    out_.lower[stream] = lines.lower;
    out_.upper[stream] = lines.upper;
    find(stream, first, values, takes_part, multiple, work, ewma, signals);
  }

 private:
  void estimate(std::size_t stream, std::size_t first, std::span<const double> values,
                std::span<const std::uint8_t> takes_part) const {
    support::DoubleDouble sum, ranges;
    double lowest = std::numeric_limits<double>::infinity(), highest = -lowest, before = none;
    std::int64_t count = 0, range_count = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
      if (!support::takes_part_at(takes_part, i)) {
        before = none;
        continue;
      }
      const double x = values[i];
      if (!std::isfinite(x)) {
        throw InvalidInput(function, "values", "is not finite (" + to_text(x) + ")", first + i);
      }
      sum = sum + x;
      lowest = std::min(lowest, x);
      highest = std::max(highest, x);
      ++count;
      if (!std::isnan(before)) {
        ranges = ranges + (std::max(before, x) - std::min(before, x));
        ++range_count;
      }
      before = x;
    }
    out_.count[stream] = count;
    out_.moving_range_count[stream] = range_count;
    out_.center[stream] = out_.mean_moving_range[stream] = out_.sigma_within[stream] = none;
    if (count > 0) {
      // The mean of equal values may differ from them by a rounding; then they would all lie off their own center.
      out_.center[stream] = lowest == highest ? lowest : support::divide(sum, static_cast<double>(count)).value();
      require_finite(out_.center[stream], function, "mean of values");
    }
    if (range_count > 0) {
      out_.mean_moving_range[stream] = ranges.value() / static_cast<double>(range_count);
      out_.sigma_within[stream] = out_.mean_moving_range[stream] / divisor_;
    }
    const bool enough = count >= static_cast<std::int64_t>(options_.fewest_points) && range_count > 0;
    out_.has_limits[stream] = static_cast<std::uint8_t>(enough);
  }

  void find(std::size_t stream, std::size_t first, std::span<const double> values,
            std::span<const std::uint8_t> takes_part, double multiple, Work& work, std::span<double> ewma,
            std::vector<StreamSignal>& signals) const {
    const double center = out_.center[stream], sigma = out_.sigma_within[stream];
    const double scale = sigma > 0.0 ? sigma : 1.0;
    const bool smooth = options_.smoothing > 0.0;
    if (smooth) {
      work.z.resize(values.size());
      work.level.resize(values.size());
      for (std::size_t i = 0; i < values.size(); ++i) {
        work.z[i] = support::takes_part_at(takes_part, i) ? (values[i] - center) / scale : 0.0;
      }
      support::ewma_scan(support::EwmaWeights(options_.smoothing), work.z, takes_part, {}, work.level, 1);
    }
    std::int64_t beyond = 0, drifted = 0;
    std::size_t taken = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
      if (!ewma.empty() && smooth) ewma[i] = center + scale * work.level[i];
      if (!support::takes_part_at(takes_part, i)) continue;
      const double z = support::standardized(values[i], center, sigma);
      if (std::abs(z) > multiple + on_line) {
        ++beyond;
        signals.push_back({.stream = stream, .point = first + i, .test = StreamTest::beyond, .side = z > 0.0 ? 1 : -1});
      }
      if (!smooth) continue;
      const double factor = factors_[std::min(taken++, factors_.size() - 1)];
      const double level = sigma > 0.0 ? work.level[i] : support::standardized(work.level[i], 0.0, 0.0);
      if (std::abs(level) > multiple * factor + on_line) {
        ++drifted;
        signals.push_back(
            {.stream = stream, .point = first + i, .test = StreamTest::ewma, .side = level > 0.0 ? 1 : -1});
      }
    }
    out_.beyond_count[stream] = beyond;
    out_.ewma_count[stream] = drifted;
  }

  StreamCharts& out_;
  const StreamsOptions& options_;
  std::span<const double> factors_;
  double divisor_;
};

}  // namespace

StreamCharts chart_streams(std::span<const double> values, std::span<const std::uint8_t> takes_part,
                           std::span<const std::size_t> offsets, std::span<const double> multiples,
                           const StreamsOptions& options, std::span<double> ewma) {
  check(values, takes_part, offsets, multiples, options, ewma);
  const std::size_t streams = offsets.size() - 1;
  StreamCharts out;
  for (auto* counts : {&out.count, &out.moving_range_count, &out.beyond_count, &out.ewma_count}) {
    counts->assign(streams, 0);
  }
  for (auto* numbers : {&out.center, &out.mean_moving_range, &out.sigma_within, &out.lower, &out.upper}) {
    numbers->assign(streams, none);
  }
  out.has_limits.assign(streams, 0);

  const auto factors = ewma_factors(options.smoothing);
  const StreamChart chart(out, options, factors, d2(2));
  const std::size_t blocks = (streams + block_streams - 1) / block_streams;
  std::vector<std::vector<StreamSignal>> found(blocks);
  support::for_blocks(blocks, options.threads, [&](std::size_t block) {
    Work work;
    const std::size_t end = std::min(streams, (block + 1) * block_streams);
    for (std::size_t s = block * block_streams; s < end; ++s) {
      const std::size_t first = offsets[s], length = offsets[s + 1] - first;
      chart.run(s, first, values.subspan(first, length),
                takes_part.empty() ? takes_part : takes_part.subspan(first, length),
                multiples[multiples.size() == 1 ? 0 : s], work, ewma.empty() ? ewma : ewma.subspan(first, length),
                found[block]);
    }
  });
  for (const auto& part : found) out.signals.insert(out.signals.end(), part.begin(), part.end());
  return out;
}

void differences_from_others(std::span<const double> values, std::span<const std::int64_t> stream,
                             std::span<const std::int64_t> moment, std::span<const double> centers,
                             std::span<const std::uint8_t> reference, std::span<double> difference,
                             std::span<double> level) {
  constexpr auto where = "differences_from_others";
  if (stream.size() != values.size() || moment.size() != values.size() || difference.size() != values.size()) {
    throw InvalidInput(where, "stream, moment and difference", "must be as long as values");
  }
  if (reference.size() != centers.size()) throw InvalidInput(where, "reference", "must be as long as centers");
  require_finite(values, where);
  std::vector<support::DoubleDouble> sum(level.size());
  std::vector<double> present(level.size(), 0.0);
  const auto counted = [&](std::size_t i) { return reference[static_cast<std::size_t>(stream[i])] != 0; };
  const auto deviation = [&](std::size_t i) { return values[i] - centers[static_cast<std::size_t>(stream[i])]; };
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (stream[i] < 0 || static_cast<std::size_t>(stream[i]) >= centers.size()) {
      throw InvalidInput(where, "stream", "lies outside the centers", i);
    }
    if (moment[i] < 0 || static_cast<std::size_t>(moment[i]) >= level.size()) {
      throw InvalidInput(where, "moment", "lies outside the levels", i);
    }
    if (!counted(i)) continue;
    const auto m = static_cast<std::size_t>(moment[i]);
    // In twice the working precision, so that the order of the streams leaves no trace in the sum.
    sum[m] = sum[m] + deviation(i);
    present[m] += 1.0;
  }
  for (std::size_t m = 0; m < level.size(); ++m) level[m] = present[m] > 0.0 ? sum[m].value() / present[m] : none;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const auto m = static_cast<std::size_t>(moment[i]);
    const double own = counted(i) ? 1.0 : 0.0, others = present[m] - own, mine = deviation(i);
    const auto rest = counted(i) ? sum[m] + -mine : sum[m];
    difference[i] = others > 0.0 ? mine - rest.value() / others : none;
  }
}

}  // namespace steadyfilm
