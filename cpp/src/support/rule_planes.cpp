#include "support/rule_planes.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <functional>
#include <limits>
#include <numeric>
#include <utility>

#include <steadyfilm/core.hpp>

#include "support/chart.hpp"
#include "support/parallel.hpp"

namespace steadyfilm::support {

namespace {

using kernels::run_rules::history_words;
using kernels::run_rules::tile_words;
using kernels::run_rules::word_points;

std::size_t line_at(std::vector<double>& lines, double line) {
  const auto found = std::find(lines.begin(), lines.end(), line);
  if (found != lines.end()) return static_cast<std::size_t>(found - lines.begin());
  lines.push_back(line);
  return lines.size() - 1;
}

/// Doubles as integers in the same order.
std::int64_t rank(double x) {
  const auto bits = std::bit_cast<std::int64_t>(x);
  return bits >= 0 ? bits : std::numeric_limits<std::int64_t>::min() - bits;
}

double from_rank(std::int64_t rank) {
  return std::bit_cast<double>(rank >= 0 ? rank : std::numeric_limits<std::int64_t>::min() - rank);
}

/// The largest double for which a condition does not hold that holds for infinity and, once it holds, for all above.
template <typename Condition>
double last_without(Condition holds) {
  constexpr double infinity = std::numeric_limits<double>::infinity();
  std::int64_t without = rank(-infinity);
  std::int64_t with = rank(infinity);
  while (with - 1 > without) {
    const std::int64_t middle = std::midpoint(without, with);
    (holds(from_rank(middle)) ? with : without) = middle;
  }
  return from_rank(without);
}

/// Set bits in a row that end at bit i of the tile; tile_points or more when they fill it.
std::size_t ones_up_to(const std::uint64_t* tile, std::size_t i) {
  std::size_t count = 0;
  std::size_t w = i / word_points;
  std::size_t in_word = i % word_points + 1;
  for (;;) {
    const auto ones = static_cast<std::size_t>(std::countl_one(tile[w] << (word_points - in_word)));
    count += std::min(ones, in_word);
    if (ones < in_word || w == 0) return count;
    --w;
    in_word = word_points;
  }
}

/// Set bits in a row from the tile's first on.
std::size_t ones_from_start(const std::uint64_t* tile) {
  std::size_t count = 0;
  for (std::size_t w = 0; w < tile_words; ++w) {
    const auto ones = static_cast<std::size_t>(std::countr_one(tile[w]));
    count += ones;
    if (ones < word_points) break;
  }
  return count;
}

/// The plane one point ago.
std::uint64_t one_ago(const std::uint64_t* word) { return (word[0] << 1) | (word[-1] >> (word_points - 1)); }

/// The 64 bits that end in front of bit i, the newest in the highest place.
std::uint64_t bits_before(const std::uint64_t* plane, std::size_t i) {
  const std::uint64_t* word = plane + i / word_points;
  const std::size_t shift = i % word_points;
  return (word[0] << (word_points - 1 - shift) << 1) | (word[-1] >> shift);
}

StepRun step_run(Pattern pattern, int side) {
  if (pattern == Pattern::alternating) return StepRun::turning;
  return side > 0 ? StepRun::rising : StepRun::falling;
}

/// Steps that a pattern of this many points has in its plane: a turn takes two steps, the first of which shows no turn.
std::size_t plane_steps(Pattern pattern, std::size_t points) {
  return pattern == Pattern::alternating ? points - 2 : points - 1;
}

/// Points of a pattern with this many steps in its plane.
std::size_t step_points(Pattern pattern, std::size_t steps) {
  return pattern == Pattern::alternating ? steps + 2 : steps + 1;
}

}  // namespace

bool planes_fit(std::span<const RunRule> rules, const RuleOptions& options) {
  if (options.clear_after_signal) return false;
  return std::ranges::all_of(rules, [](const RunRule& rule) {
    switch (rule.pattern) {
      case Pattern::trend:
        return rule.window >= 2 && rule.window <= longest_step_window;
      case Pattern::alternating:
        return rule.window >= 3 && rule.window <= longest_step_window;
      case Pattern::beyond:
      case Pattern::within:
        break;
    }
    return rule.zone >= 0.0 && rule.hits >= 1 && rule.hits <= rule.window && rule.window <= longest_counted_window;
  });
}

RulePlan make_plan(std::span<const RunRule> rules, const RuleOptions& options) {
  RulePlan plan;
  plan.newest = options.last_point_beyond;
  for (std::size_t r = 0; r < rules.size(); ++r) {
    const RunRule& rule = rules[r];
    RuleTest test;
    test.rule = r;
    test.pattern = rule.pattern;
    test.least = rule.hits;
    test.window = rule.window;
    if (!test.steps() && test.window > 1) test.earlier = ~std::uint64_t{0} << (word_points - (test.window - 1));
    if (!test.steps()) test.line = line_at(plan.widths, rule.zone + on_line);
    const auto add = [&](int side) {
      test.side = side;
      plan.tests.push_back(test);
    };
    plan.steps = plan.steps || test.steps();
    const bool told_apart = rule.pattern == Pattern::beyond && rule.side != Side::either;
    if (rule.pattern == Pattern::trend) {
      add(1);
      add(-1);
    } else if (told_apart) {
      if (rule.side != Side::below) add(1);
      if (rule.side != Side::above) add(-1);
    } else {
      add(0);
    }
  }
  return plan;
}

RulePlan on_values(RulePlan plan, double center, double sigma, double lowest) {
  plan.center = center;
  for (double& width : plan.widths) {
    const double z = width;
    width = last_without([&](double distance) { return standardized(distance, 0.0, sigma) > z; });
  }
  if (std::ranges::all_of(plan.widths, [&](double width) { return center - lowest <= width; })) {
    plan.none_below = true;
    std::erase_if(plan.tests, [](const RuleTest& test) { return test.side < 0; });
  }
  return plan;
}

RuleScan::RuleScan(const RulePlan& plan, bool masked)
    : plan_(plan),
      table_(kernels::run_rules::table()),
      masked_(masked),
      beyond_(plan.widths.size()),
      hits_(plan.tests.size()),
      met_(plan.tests.size()),
      tile_signals_((tile_points + 1) * plan.tests.size()) {}

void RuleScan::read(const double* x, const std::uint8_t* takes_part, const std::uint8_t* break_before,
                    std::size_t first, const double* ahead) {
  if (!beyond_.empty()) {
    table_.zones(x, plan_.center, plan_.widths.data(), beyond_.size(), plan_.none_below ? nullptr : above_.data(),
                 beyond_.front().data(), ahead);
  }
  std::uint64_t* present = present_.data() + history_words;
  std::uint64_t* open = open_.data() + history_words;
  if (masked_) {
    if (takes_part == nullptr) {
      std::fill_n(present, tile_words, ~std::uint64_t{0});
    } else {
      table_.marks(takes_part, present);
    }
    if (break_before == nullptr) {
      std::copy_n(present, tile_words, open);
    } else {
      table_.marks(break_before, open);
      for (std::size_t w = 0; w < tile_words; ++w) open[w] = present[w] & ~open[w];
    }
  }
  if (plan_.steps) read_steps(x, first);
  for (std::size_t t = 0; t < plan_.tests.size(); ++t) {
    const RuleTest& test = plan_.tests[t];
    if (test.steps()) continue;
    const std::uint64_t* beyond = beyond_[test.line].data() + history_words;
    std::uint64_t* hits = hits_[t].data() + history_words;
    if (test.side > 0 && !plan_.none_below) {
      for (std::size_t w = 0; w < tile_words; ++w) hits[w] = beyond[w] & above_[w];
    } else if (test.side < 0) {
      for (std::size_t w = 0; w < tile_words; ++w) hits[w] = beyond[w] & ~above_[w];
    } else {
      const std::uint64_t flip = test.pattern == Pattern::within ? ~std::uint64_t{0} : 0;
      for (std::size_t w = 0; w < tile_words; ++w) hits[w] = beyond[w] ^ flip;
    }
    if (!masked_) continue;
    for (std::size_t w = 0; w < tile_words; ++w) hits[w] &= present[w];
  }
}

void RuleScan::read_steps(const double* x, std::size_t first) {
  const auto plane = [&](StepRun run) { return step_planes_[static_cast<std::size_t>(run)].data() + history_words; };
  std::uint64_t* rising = plane(StepRun::rising);
  std::uint64_t* falling = plane(StepRun::falling);
  std::uint64_t* turning = plane(StepRun::turning);
  table_.steps(x, on_line, rising, falling);
  if (first == 0) {
    rising[0] &= ~std::uint64_t{1};
    falling[0] &= ~std::uint64_t{1};
  }
  for (std::size_t w = 0; w < tile_words; ++w) {
    if (masked_) {
      const std::uint64_t both = open_[history_words + w] & one_ago(present_.data() + history_words + w);
      rising[w] &= both;
      falling[w] &= both;
    }
    turning[w] = (rising[w] & one_ago(falling + w)) | (falling[w] & one_ago(rising + w));
  }
}

void RuleScan::prepare(const double* x, const std::uint8_t* takes_part, const std::uint8_t* break_before,
                       std::size_t first) {
  read(x, takes_part, break_before, first, nullptr);
  move_on();
}

void RuleScan::find(const double* x, const std::uint8_t* takes_part, const std::uint8_t* break_before,
                    std::size_t first, std::size_t points, Stretch& found, const double* ahead) {
  read(x, takes_part, break_before, first, ahead);
  for (std::size_t t = 0; t < plan_.tests.size(); ++t) {
    const RuleTest& test = plan_.tests[t];
    if (test.steps()) {
      const Plane& plane = step_planes_[static_cast<std::size_t>(step_run(test.pattern, test.side))];
      table_.in_a_row(plane.data() + history_words, plane_steps(test.pattern, test.window), met_[t].data());
    } else {
      table_.counted(hits_[t].data() + history_words, masked_ ? open_.data() + history_words : nullptr, test.least,
                     test.window, plan_.newest, met_[t].data());
    }
  }
  append(points, found);
  if (plan_.steps) count_steps(points, found);
  found.points += points;
  move_on();
}

void RuleScan::append(std::size_t points, Stretch& found) {
  const std::size_t tests = plan_.tests.size();
  FoundSignal* next = tile_signals_.data();
  for (std::size_t w = 0; w * word_points < points; ++w) {
    std::uint64_t any = 0;
    for (const Tile& met : met_) any |= met[w];
    const std::size_t in_word = points - w * word_points;
    if (in_word < word_points) any &= (std::uint64_t{1} << in_word) - 1;
    for (; any != 0; any &= any - 1) {
      const auto bit = static_cast<std::size_t>(std::countr_zero(any));
      // Written for each test and kept for those that are met: which ones are is too irregular to branch on.
      for (std::size_t t = 0; t < tests; ++t) {
        next->point = static_cast<std::uint32_t>(w * word_points + bit);
        next->test = static_cast<std::uint32_t>(t);
        next += (met_[t][w] >> bit) & 1U;
      }
    }
  }
  const auto end = tile_signals_.begin() + (next - tile_signals_.data());
  for (auto signal = tile_signals_.begin(); signal != end; ++signal) {
    const RuleTest& test = plan_.tests[signal->test];
    const std::size_t length =
        test.steps() ? step_points(test.pattern, step_length(step_run(test.pattern, test.side), signal->point))
                     : hit_length(signal->test, signal->point);
    signal->length = static_cast<std::uint32_t>(length);
    signal->point += static_cast<std::uint32_t>(found.points);
  }
  found.signals.insert(found.signals.end(), tile_signals_.begin(), end);
}

std::size_t RuleScan::hit_length(std::size_t test, std::size_t i) const {
  std::uint64_t earlier = bits_before(hits_[test].data() + history_words, i) & plan_.tests[test].earlier;
  if (masked_) {
    // Point i - j is seen when the j newest points, i among them, are open: those before i and i itself.
    const std::uint64_t* open = open_.data() + history_words;
    if (((open[i / word_points] >> (i % word_points)) & 1U) == 0) return 1;
    const auto seen = static_cast<std::size_t>(std::countl_one(bits_before(open, i))) + 1;
    if (seen < word_points) earlier &= ~std::uint64_t{0} << (word_points - seen);
  }
  // Without an earlier hit all 64 places are empty, and the length is 1.
  return word_points + 1 - static_cast<std::size_t>(std::countr_zero(earlier));
}

std::size_t RuleScan::step_length(StepRun run, std::size_t i) const {
  const auto r = static_cast<std::size_t>(run);
  const std::size_t here = ones_up_to(step_planes_[r].data() + history_words, i);
  return here == i + 1 ? here + step_counts_[r] : here;
}

void RuleScan::count_steps(std::size_t points, Stretch& found) {
  for (std::size_t r = 0; r < step_runs; ++r) {
    const std::uint64_t* tile = step_planes_[r].data() + history_words;
    if (found.leading[r] == found.points) found.leading[r] += std::min(points, ones_from_start(tile));
    step_counts_[r] = step_length(static_cast<StepRun>(r), points - 1);
    found.trailing[r] = step_counts_[r];
  }
}

void RuleScan::move_on() {
  const auto shift = [](std::uint64_t* plane) { std::copy_n(plane + tile_words, history_words, plane); };
  for (Plane& plane : hits_) shift(plane.data());
  for (Plane& plane : step_planes_) shift(plane.data());
  shift(present_.data());
  shift(open_.data());
}

std::vector<RuleSignal> join(std::span<const Stretch> stretches, const RulePlan& plan) {
  std::size_t count = 0;
  for (const Stretch& stretch : stretches) count += stretch.signals.size();
  std::vector<RuleSignal> signals;
  signals.reserve(count);

  std::array<std::size_t, step_runs> carried{};  // steps in a row at the end of the stretches before
  std::size_t first = 0;
  for (const Stretch& stretch : stretches) {
    for (const FoundSignal& found : stretch.signals) {
      const RuleTest& test = plan.tests[found.test];
      std::size_t length = found.length;
      if (test.steps()) {
        const auto r = static_cast<std::size_t>(step_run(test.pattern, test.side));
        if (found.point < stretch.leading[r]) length += carried[r];
      }
      signals.push_back({.point = first + found.point, .rule = test.rule, .side = test.side, .length = length});
    }
    for (std::size_t r = 0; r < step_runs; ++r) {
      carried[r] = stretch.trailing[r] + (stretch.trailing[r] == stretch.points ? carried[r] : 0);
    }
    first += stretch.points;
  }
  return signals;
}

std::vector<RuleSignal> plane_signals(std::span<const double> z, std::span<const std::uint8_t> takes_part,
                                      std::span<const std::uint8_t> break_before, std::span<const RunRule> rules,
                                      const RuleOptions& options, std::size_t stretch_tiles) {
  const std::size_t stretch_points = stretch_tiles * tile_points;
  const RulePlan plan = make_plan(rules, options);
  const bool masked = !takes_part.empty() || !break_before.empty();
  const std::size_t blocks = (z.size() + stretch_points - 1) / stretch_points;
  std::vector<Stretch> stretches(blocks);

  for_blocks(blocks, options.threads, [&](std::size_t block) {
    RuleScan scan(plan, masked);
    std::array<double, tile_points + 1> points{};
    std::array<std::uint8_t, tile_points> part{}, breaks{};

    // A tile that cannot be read where it lies is copied: one that ends early, and the first, which nothing comes
    // before.
    const auto visit = [&](std::size_t first, auto use) {
      const std::size_t count = std::min(tile_points, z.size() - first);
      const double* x = z.data() + first;
      const std::uint8_t* p = takes_part.empty() ? nullptr : takes_part.data() + first;
      const std::uint8_t* b = break_before.empty() ? nullptr : break_before.data() + first;
      if (first == 0 || count < tile_points) {
        points[0] = first == 0 ? 0.0 : x[-1];
        std::fill(std::copy_n(x, count, points.begin() + 1), points.end(), 0.0);
        x = points.data() + 1;
        if (p != nullptr) {
          std::fill(std::copy_n(p, count, part.begin()), part.end(), std::uint8_t{0});
          p = part.data();
        }
        if (b != nullptr) {
          std::fill(std::copy_n(b, count, breaks.begin()), breaks.end(), std::uint8_t{0});
          b = breaks.data();
        }
      }
      use(x, p, b, count);
    };

    std::size_t first = block * stretch_points;
    if (first > 0) {
      visit(first - tile_points, [&](const double* x, const std::uint8_t* p, const std::uint8_t* b, std::size_t) {
        scan.prepare(x, p, b, first - tile_points);
      });
    }
    const std::size_t last = std::min(z.size(), first + stretch_points);
    for (; first < last; first += tile_points) {
      visit(first, [&](const double* x, const std::uint8_t* p, const std::uint8_t* b, std::size_t count) {
        if (kernels::run_rules::table().not_a_number(x)) {
          for (std::size_t i = 0; i < count; ++i) {
            if (std::isnan(x[i]) && (p == nullptr || p[i] != 0)) {
              throw InvalidInput("rule_signals", "z", "is not a number (nan)", first + i);
            }
          }
        }
        const bool more = first + 2 * tile_points <= last;
        scan.find(x, p, b, first, count, stretches[block], more ? z.data() + first + tile_points : nullptr);
      });
    }
  });
  return join(stretches, plan);
}

}  // namespace steadyfilm::support
