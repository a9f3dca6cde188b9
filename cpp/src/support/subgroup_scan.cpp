#include "support/subgroup_scan.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <string>
#include <utility>

#include <steadyfilm/core.hpp>

#include "kernels/chart_subgroup.hpp"
#include "support/chart.hpp"
#include "support/parallel.hpp"
#include "support/rule_planes.hpp"

namespace steadyfilm::support {

namespace {

namespace kernel = kernels::chart_subgroup;

/// Subgroups that one thread takes at a time.
constexpr std::size_t stretch_groups = usual_stretch_tiles * tile_points;

/// Results longer than this go past the caches: they would only push out each other.
constexpr std::size_t streamed_results = (std::size_t{16} << 20) / sizeof(double);

std::size_t stretches_of(std::size_t groups) { return (groups + stretch_groups - 1) / stretch_groups; }

void check_lengths(std::span<const double> readings, std::size_t size, std::span<const double> means,
                   std::span<const double> ranges, const char* function) {
  if (size == 0) throw InvalidInput(function, "subgroup_size", "must be 1 or more, got 0");
  if (readings.size() % size != 0) {
    throw InvalidInput(function, "values",
                       "has " + std::to_string(readings.size()) +
                           " elements, which is no whole number of subgroups of " + std::to_string(size));
  }
  const auto check = [&](std::span<const double> out, const char* name) {
    if (out.empty() || out.size() == readings.size() / size) return;
    throw InvalidInput(function, name, "must be empty or as long as there are subgroups");
  };
  check(means, "means");
  check(ranges, "ranges");
}

/// Refuse readings that are not finite, or that overflow within one subgroup.
void check_readings(std::span<const double> readings, std::size_t first, std::size_t size, const char* function) {
  for (std::size_t i = 0; i < readings.size(); ++i) {
    if (!std::isfinite(readings[i])) {
      throw InvalidInput(function, "values", "is not finite (" + to_text(readings[i]) + ")", first + i);
    }
  }
  for (std::size_t start = 0; start < readings.size(); start += size) {
    double sum = 0.0;
    for (const double x : readings.subspan(start, size)) sum += x;
    if (!std::isfinite(sum)) {
      const double mean = sum / static_cast<double>(size);
      throw InvalidInput(function, "mean of subgroups", "is not finite (" + to_text(mean) + ")",
                         (first + start) / size);
    }
  }
}

/// Means and ranges of one tile, with the last ones of the tile before in front.
struct TilePoints {
  alignas(64) std::array<double, tile_points + 8> buffer{};
  double* x = buffer.data() + 8;

  void keep_last() { buffer[7] = x[tile_points - 1]; }
};

/// One chart's rules over consecutive tiles of points that come unstandardized.
class ChartScan {
 public:
  ChartScan(const RulePlan& plan, double center, double sigma)
      : scan_(plan, false), steps_(plan.steps), center_(center), sigma_(sigma) {}

  void prepare(const TilePoints& points, std::size_t first) {
    scan_.prepare(standard(points), nullptr, nullptr, first);
  }

  void find(const TilePoints& points, std::size_t first, std::size_t count, Stretch& found) {
    scan_.find(standard(points), nullptr, nullptr, first, count, found);
  }

  /// A whole tile that can stay where it lies, for plans without steps; the next one is asked for meanwhile.
  void find_in_place(const double* points, std::size_t first, Stretch& found) {
    scan_.find(points, nullptr, nullptr, first, tile_points, found, points + tile_points);
  }

 private:
  /// Plans without steps compare the points themselves; neighbors are compared by their z.
  const double* standard(const TilePoints& points) {
    if (!steps_) return points.x;
    if (sigma_ > 0.0) {
      kernel::table().standardize(points.x - 1, tile_points + 1, center_, sigma_, z_.x - 1);
    } else {
      for (std::size_t i = 0; i <= tile_points; ++i) {
        z_.buffer[7 + i] = standardized(points.buffer[7 + i], center_, sigma_);
      }
    }
    return z_.x;
  }

  RuleScan scan_;
  bool steps_;
  double center_;
  double sigma_;
  TilePoints z_;
};

/// Both charts of one series of subgroups, ready for any stretch of it.
struct Charts {
  RulePlan means;
  RulePlan ranges;
  SubgroupLines lines;

  Charts(const SubgroupLines& given, std::span<const RunRule> rules, std::span<const RunRule> range_rules,
         const RuleOptions& options)
      : means(ready(rules, options, given.center, given.sigma_point, -std::numeric_limits<double>::infinity())),
        ranges(ready(range_rules, options, given.range_center, given.range_sigma, 0.0)),
        lines(given) {}

  [[nodiscard]] bool steps() const { return means.steps || ranges.steps; }

  static RulePlan ready(std::span<const RunRule> rules, const RuleOptions& options, double center, double sigma,
                        double lowest) {
    RulePlan plan = make_plan(rules, options);
    return plan.steps ? plan : on_values(std::move(plan), center, sigma, lowest);
  }
};

struct BothStretches {
  Stretch means;
  Stretch ranges;
};

/// Look for the signals of one stretch; `read` fills a tile with the means and ranges from a subgroup on. With arrays
/// of both, tiles are looked at where they lie, if they can be.
template <typename Read>
void find_in_stretch(const Charts& charts, std::size_t block, std::size_t groups, BothStretches& found, Read read,
                     const double* all_means = nullptr, const double* all_ranges = nullptr) {
  TilePoints means, ranges;
  ChartScan mean_scan(charts.means, charts.lines.center, charts.lines.sigma_point);
  ChartScan range_scan(charts.ranges, charts.lines.range_center, charts.lines.range_sigma);
  std::size_t first = block * stretch_groups;
  if (first > 0) {
    read(first - tile_points, tile_points, means.x, ranges.x, false);
    mean_scan.prepare(means, first - tile_points);
    range_scan.prepare(ranges, first - tile_points);
    means.keep_last();
    ranges.keep_last();
  }
  const bool in_place = all_means != nullptr && !charts.steps();
  const std::size_t last = std::min(groups, first + stretch_groups);
  for (; first < last; first += tile_points) {
    const std::size_t count = std::min(tile_points, last - first);
    if (in_place && count == tile_points) {
      mean_scan.find_in_place(all_means + first, first, found.means);
      range_scan.find_in_place(all_ranges + first, first, found.ranges);
      continue;
    }
    read(first, count, means.x, ranges.x, true);
    mean_scan.find(means, first, count, found.means);
    range_scan.find(ranges, first, count, found.ranges);
    means.keep_last();
    ranges.keep_last();
  }
}

BothSignals join_both(std::span<BothStretches> found, const Charts& charts) {
  std::vector<Stretch> means, ranges;
  for (BothStretches& stretch : found) {
    means.push_back(std::move(stretch.means));
    ranges.push_back(std::move(stretch.ranges));
  }
  return {.means = join(means, charts.means), .ranges = join(ranges, charts.ranges)};
}

std::vector<double> standardize_all(std::span<const double> x, double center, double sigma) {
  std::vector<double> z(x.size());
  std::ranges::transform(x, z.begin(), [&](double value) { return standardized(value, center, sigma); });
  return z;
}

/// Reads tiles of subgroups, and puts their means and ranges where the caller wants them too.
class TileReader {
 public:
  TileReader(std::span<const double> readings, std::size_t size, std::span<double> means, std::span<double> ranges,
             const char* function)
      : readings_(readings),
        size_(size),
        means_(means),
        ranges_(ranges),
        streamed_(means.size() + ranges.size() > streamed_results),
        function_(function) {}

  void read(std::size_t first, std::size_t count, double* means, double* ranges, bool wanted) const {
    const auto tile = readings_.subspan(first * size_, count * size_);
    const std::array<double*, 2> copies = {means_.empty() ? nullptr : means_.data() + first,
                                           ranges_.empty() ? nullptr : ranges_.data() + first};
    const bool stream = wanted && streamed_;
    if (!table_.means_and_ranges(tile.data(), size_, count, means, ranges, stream ? copies.data() : nullptr)) {
      check_readings(tile, first * size_, size_, function_);
    }
    if (!wanted || streamed_) return;
    if (copies[0] != nullptr) std::copy_n(means, count, copies[0]);
    if (copies[1] != nullptr) std::copy_n(ranges, count, copies[1]);
  }

  /// Before another thread reads the results.
  void finish() const {
    if (streamed_) table_.fence();
  }

 private:
  const kernel::Table& table_ = kernel::table();
  std::span<const double> readings_;
  std::size_t size_;
  std::span<double> means_;
  std::span<double> ranges_;
  bool streamed_;
  const char* function_;
};

/// Totals of one stretch, lane by lane.
struct Lanes {
  std::array<double, kernel::sum_lanes> mean_high{}, mean_low{}, range_high{}, range_low{};
  double lowest = std::numeric_limits<double>::infinity();
  double highest = -std::numeric_limits<double>::infinity();
};

DoubleDouble joined(DoubleDouble sum, const std::array<double, kernel::sum_lanes>& high,
                    const std::array<double, kernel::sum_lanes>& low) {
  for (std::size_t lane = 0; lane < kernel::sum_lanes; ++lane) sum = sum + DoubleDouble{high[lane], low[lane]};
  return sum;
}

}  // namespace

SubgroupTotals scan_subgroups(std::span<const double> readings, std::size_t size, std::span<double> means,
                              std::span<double> ranges, std::size_t threads, const char* function) {
  check_lengths(readings, size, means, ranges, function);
  const auto& table = kernel::table();
  const std::size_t groups = readings.size() / size;
  const TileReader reader(readings, size, means, ranges, function);
  std::vector<Lanes> found(stretches_of(groups));
  for_blocks(found.size(), threads, [&](std::size_t block) {
    TilePoints tile_means, tile_ranges;
    Lanes lanes;  // here and not in `found`, where the threads would share cache lines
    const std::size_t last = std::min(groups, (block + 1) * stretch_groups);
    for (std::size_t first = block * stretch_groups; first < last; first += tile_points) {
      const std::size_t count = std::min(tile_points, last - first);
      reader.read(first, count, tile_means.x, tile_ranges.x, true);
      table.add(tile_means.x, count, lanes.mean_high.data(), lanes.mean_low.data());
      table.add(tile_ranges.x, count, lanes.range_high.data(), lanes.range_low.data());
      table.extend(tile_means.x, count, &lanes.lowest, &lanes.highest);
    }
    reader.finish();
    found[block] = lanes;
  });

  SubgroupTotals totals;
  totals.groups = groups;
  if (groups == 0) return totals;
  totals.lowest_mean = found.front().lowest;
  totals.highest_mean = found.front().highest;
  for (const Lanes& lanes : found) {
    totals.means = joined(totals.means, lanes.mean_high, lanes.mean_low);
    totals.ranges = joined(totals.ranges, lanes.range_high, lanes.range_low);
    totals.lowest_mean = std::min(totals.lowest_mean, lanes.lowest);
    totals.highest_mean = std::max(totals.highest_mean, lanes.highest);
  }
  return totals;
}

BothSignals scan_subgroup_signals(std::span<const double> readings, std::size_t size, const SubgroupLines& lines,
                                  std::span<const RunRule> rules, std::span<const RunRule> range_rules,
                                  const RuleOptions& options, std::span<double> means, std::span<double> ranges,
                                  const char* function) {
  check_lengths(readings, size, means, ranges, function);
  const std::size_t groups = readings.size() / size;
  if (!planes_fit(rules, options) || !planes_fit(range_rules, options)) {
    std::vector<double> own_means(means.empty() ? groups : 0), own_ranges(ranges.empty() ? groups : 0);
    if (means.empty()) means = own_means;
    if (ranges.empty()) ranges = own_ranges;
    (void)scan_subgroups(readings, size, means, ranges, options.threads, function);
    return find_subgroup_signals(means, ranges, lines, rules, range_rules, options);
  }

  const Charts charts(lines, rules, range_rules, options);
  const TileReader reader(readings, size, means, ranges, function);
  std::vector<BothStretches> found(stretches_of(groups));
  for_blocks(found.size(), options.threads, [&](std::size_t block) {
    find_in_stretch(charts, block, groups, found[block],
                    [&](std::size_t first, std::size_t count, double* m, double* r, bool wanted) {
                      reader.read(first, count, m, r, wanted);
                    });
    reader.finish();
  });
  return join_both(found, charts);
}

BothSignals find_subgroup_signals(std::span<const double> means, std::span<const double> ranges,
                                  const SubgroupLines& lines, std::span<const RunRule> rules,
                                  std::span<const RunRule> range_rules, const RuleOptions& options) {
  if (!planes_fit(rules, options) || !planes_fit(range_rules, options)) {
    return {.means = rule_signals(standardize_all(means, lines.center, lines.sigma_point), {}, {}, rules, options),
            .ranges = rule_signals(standardize_all(ranges, lines.range_center, lines.range_sigma), {}, {}, range_rules,
                                   options)};
  }
  const std::size_t groups = means.size();
  const Charts charts(lines, rules, range_rules, options);
  std::vector<BothStretches> found(stretches_of(groups));
  for_blocks(found.size(), options.threads, [&](std::size_t block) {
    find_in_stretch(
        charts, block, groups, found[block],
        [&](std::size_t first, std::size_t count, double* m, double* r, bool) {
          std::copy_n(means.data() + first, count, m);
          std::copy_n(ranges.data() + first, count, r);
        },
        means.data(), ranges.data());
  });
  return join_both(found, charts);
}

}  // namespace steadyfilm::support
