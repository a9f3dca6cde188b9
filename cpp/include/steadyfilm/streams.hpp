/// @file
/// Many streams charted in one call, from one array: center, spread from neighbors, limits, EWMA, signals of each.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

namespace steadyfilm {

struct StreamsOptions {
  double smoothing = 0.2;          ///< of the EWMA, above 0 and at most 1; 0: no EWMA
  std::size_t fewest_points = 20;  ///< a stream with fewer points that take part gets no limits; 2 or more
  std::size_t threads = 0;         ///< at most so many; 0: as many as run at once. The result is the same for all
};

enum class StreamTest : std::uint8_t {
  beyond,  ///< the point lies beyond a limit
  ewma     ///< the EWMA lies beyond its limit
};

/// One test met at one point.
struct StreamSignal {
  std::size_t stream = 0;
  std::size_t point = 0;  ///< position in the values given
  StreamTest test = StreamTest::beyond;
  int side = 0;  ///< +1 above, -1 below

  friend bool operator==(const StreamSignal&, const StreamSignal&) = default;
};

/// One element a stream, in the unit of the data; NaN where there is none.
struct StreamCharts {
  std::vector<std::int64_t> count;               ///< points that take part
  std::vector<double> center;                    ///< their mean
  std::vector<std::int64_t> moving_range_count;  ///< of two neighbors that both take part
  std::vector<double> mean_moving_range;
  std::vector<double> sigma_within;      ///< mean moving range over d2(2)
  std::vector<std::uint8_t> has_limits;  ///< 0: too few points, or no two neighbors
  std::vector<double> lower;             ///< center -+ multiple sigma_within
  std::vector<double> upper;
  std::vector<std::int64_t> beyond_count;  ///< points beyond a limit
  std::vector<std::int64_t> ewma_count;    ///< points at which the EWMA is beyond its limit
  std::vector<StreamSignal> signals;       ///< stream by stream, in the order of points
};

/// Chart each stream by itself: center and sigma as `individuals_chart`, EWMA with limits that vary as `ewma_chart`,
/// bit for bit, for every number of threads and whatever streams stand beside it.
///
/// @param values      stream after stream, each in production order; read only where the point takes part.
/// @param takes_part  as long as values, 0 for missing points: no moving range goes across, the EWMA is carried over.
///                    Empty: all take part.
/// @param offsets     one more than streams, from 0 to the number of values, not falling; a stream may be empty.
/// @param multiples   distance of the limits from the center, in sigma of the point and of the EWMA: one for all
///                    streams, or one each; above 0.
/// @param ewma        output in the unit of the data, as long as values, or empty: not wanted. NaN for streams without
///                    limits.
/// @throws InvalidInput  lengths that differ, offsets that fall, a value that is not finite, options out of range.
/// @note   Constant data is an answer: sigma 0, all lines on the value.
/// @see    cpp/methods/streams.md
[[nodiscard]] StreamCharts chart_streams(std::span<const double> values, std::span<const std::uint8_t> takes_part,
                                         std::span<const std::size_t> offsets, std::span<const double> multiples,
                                         const StreamsOptions& options = {}, std::span<double> ewma = {});

/// Distance of each point from the others at the same moment, both less the center of their stream.
///
/// level[t] = mean over the streams of reference present at t of (value - center); difference = (value - center) - mean
/// of the same over the reference streams present other than its own. NaN without such a stream.
///
/// @param values      finite.
/// @param stream      of each value, from 0 to centers.size() - 1.
/// @param moment      of each value, from 0 to moments - 1; a stream is present at most once at a moment.
/// @param centers     one a stream.
/// @param reference   one a stream, 0: not counted among the others.
/// @param difference  output, as long as values.
/// @param level       output, one a moment; NaN where no reference stream is present.
/// @throws InvalidInput  lengths that differ, a stream or moment out of range.
void differences_from_others(std::span<const double> values, std::span<const std::int64_t> stream,
                             std::span<const std::int64_t> moment, std::span<const double> centers,
                             std::span<const std::uint8_t> reference, std::span<double> difference,
                             std::span<double> level);

}  // namespace steadyfilm
