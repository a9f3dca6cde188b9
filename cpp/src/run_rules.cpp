#include <steadyfilm/run_rules.hpp>

#include <algorithm>
#include <bit>
#include <charconv>
#include <cmath>
#include <optional>

#include <steadyfilm/core.hpp>

#include "support/rule_planes.hpp"

namespace steadyfilm {
namespace {

// -- words --------------------------------------------------------------------------------------

[[noreturn]] void refuse(std::string_view word, std::string_view reason) {
  throw InvalidInput("parse_rule", "rule", "'" + std::string(word) + "' " + std::string(reason));
}

/// Takes pieces off the front of a rule word; each `take` leaves the text alone when it does not fit.
class Reader {
 public:
  explicit Reader(std::string_view text) : rest_(text) {}

  bool take(std::string_view literal) {
    if (!rest_.starts_with(literal)) return false;
    rest_.remove_prefix(literal.size());
    return true;
  }

  std::optional<std::size_t> take_count() {
    std::size_t count = 0;
    const auto [end, code] = std::from_chars(rest_.data(), rest_.data() + rest_.size(), count);
    return taken(end, code) ? std::optional(count) : std::nullopt;
  }

  std::optional<double> take_number() {
    double number = 0.0;
    const auto [end, code] =
        std::from_chars(rest_.data(), rest_.data() + rest_.size(), number, std::chars_format::fixed);
    return taken(end, code) ? std::optional(number) : std::nullopt;
  }

  [[nodiscard]] bool at_end() const { return rest_.empty(); }

 private:
  bool taken(const char* end, std::errc code) {
    if (code != std::errc{}) return false;
    rest_.remove_prefix(static_cast<std::size_t>(end - rest_.data()));
    return true;
  }

  std::string_view rest_;
};

std::optional<Side> take_side(Reader& reader) {
  if (reader.take("_one")) return Side::one;
  if (reader.take("_either")) return Side::either;
  if (reader.take("_above")) return Side::above;
  if (reader.take("_below")) return Side::below;
  return std::nullopt;
}

constexpr std::string_view known_words =
    "is not a rule word; write for example 2of3_beyond2_one, 15of15_within1_either, trend6 or alternating14";

RunRule step_rule(Reader reader, std::string_view word, Pattern pattern, std::size_t fewest) {
  const auto points = reader.take_count();
  if (!points || !reader.at_end()) refuse(word, known_words);
  if (*points < fewest || *points > longest_step_window) {
    refuse(word, "needs " + std::to_string(fewest) + " to " + std::to_string(longest_step_window) + " points");
  }
  return {.pattern = pattern,
          .hits = *points,
          .window = *points,
          .zone = 0.0,
          .side = Side::either,
          .name = std::string(word)};
}

RunRule counted_rule(Reader reader, std::string_view word) {
  const auto hits = reader.take_count();
  if (!hits || !reader.take("of")) refuse(word, known_words);
  const auto window = reader.take_count();
  if (!window) refuse(word, known_words);
  const bool beyond = reader.take("_beyond");
  if (!beyond && !reader.take("_within")) refuse(word, known_words);
  const auto zone = reader.take_number();
  const auto side = zone ? take_side(reader) : std::nullopt;
  if (!side || !reader.at_end()) refuse(word, known_words);

  if (*hits < 1 || *hits > *window) refuse(word, "needs from 1 hit to as many as the window holds");
  if (*window > longest_counted_window) {
    refuse(word, "has a window longer than " + std::to_string(longest_counted_window) + " points");
  }
  if (!std::isfinite(*zone) || *zone < 0.0) refuse(word, "needs a zone line at a finite distance, not below 0");
  if (!beyond && *zone == 0.0) refuse(word, "needs a zone wider than 0");
  if (!beyond && *side != Side::either) refuse(word, "counts both sides of the center; write _either");
  return {.pattern = beyond ? Pattern::beyond : Pattern::within,
          .hits = *hits,
          .window = *window,
          .zone = *zone,
          .side = *side,
          .name = std::string(word)};
}

// -- the engine ---------------------------------------------------------------------------------

/// Whether the point is a hit of a counted rule: in `above` also when the sides are not told apart.
struct Hit {
  bool above = false;
  bool below = false;
};

Hit hit(const RunRule& rule, double z) {
  // On the line counts as inside it, for both patterns.
  const bool above = z > rule.zone + on_line;
  const bool below = z < -(rule.zone + on_line);
  if (rule.pattern == Pattern::within) return {.above = !above && !below, .below = false};
  switch (rule.side) {
    case Side::one:
      return {.above = above, .below = below};
    case Side::either:
      return {.above = above || below, .below = false};
    case Side::above:
      return {.above = above, .below = false};
    case Side::below:
      break;
  }
  return {.above = false, .below = below};
}

/// Length of the pattern if `history` and the present point hold enough hits, else 0.
std::size_t counted_length(const RunRule& rule, std::uint64_t history, bool present, bool last_point_beyond) {
  if (last_point_beyond && !present) return 0;
  const auto hits = static_cast<std::size_t>(std::popcount(history)) + (present ? 1U : 0U);
  if (hits < rule.hits) return 0;
  return static_cast<std::size_t>(std::bit_width(history)) + 1;
}

/// The history one point later: the oldest point leaves, the present one enters.
std::uint64_t shifted(std::uint64_t history, std::size_t window, bool present) {
  const std::uint64_t kept = (std::uint64_t{1} << (window - 1)) - 1;
  return ((history << 1) | (present ? 1U : 0U)) & kept;
}

/// +1 up, -1 down, 0 equal.
int step(double from, double to) {
  if (from == to) return 0;  // also two infinite points, whose difference is no number
  const double rise = to - from;
  if (std::abs(rise) <= on_line) return 0;
  return rise > 0.0 ? 1 : -1;
}

int sign(int value) { return (value > 0) - (value < 0); }

void take_step(RuleMemory& memory, double z) {
  const int direction = memory.has_last ? step(memory.last_z, z) : 0;
  memory.trend = direction == sign(memory.trend) ? memory.trend + direction : direction;
  memory.alternation = direction == -sign(memory.alternation) ? direction - memory.alternation : direction;
  memory.has_last = true;
  memory.last_z = z;
}

int side_of(const RunRule& rule) {
  if (rule.pattern != Pattern::beyond) return 0;
  return rule.side == Side::either ? 0 : rule.side == Side::below ? -1 : 1;
}

}  // namespace

RunRule parse_rule(std::string_view word) {
  Reader reader(word);
  if (reader.take("trend")) return step_rule(reader, word, Pattern::trend, 2);
  if (reader.take("alternating")) return step_rule(reader, word, Pattern::alternating, 3);
  return counted_rule(reader, word);
}

std::vector<RunRule> parse_rules(std::span<const std::string> words) {
  std::vector<RunRule> rules;
  rules.reserve(words.size());
  for (const auto& word : words) rules.push_back(parse_rule(word));
  return rules;
}

std::string describe(const RunRule& rule) {
  const std::string window = std::to_string(rule.window);
  if (rule.pattern == Pattern::trend) return window + " points in a row rising or falling";
  if (rule.pattern == Pattern::alternating) return window + " points in a row going up and down by turns";
  std::string text = rule.window == 1           ? "1 point"
                     : rule.hits == rule.window ? window + " points in a row"
                                                : std::to_string(rule.hits) + " of " + window + " points";
  if (rule.pattern == Pattern::within) return text + " within " + to_text(rule.zone) + " sigma of the center";
  if (rule.zone > 0.0) text += " beyond " + to_text(rule.zone) + " sigma";
  switch (rule.side) {
    case Side::one:
      if (rule.zone == 0.0) return text + " on one side of the center";
      return rule.window == 1 ? text : text + " on one side";
    case Side::either:
      if (rule.zone == 0.0) return text + " off the center";
      return rule.window == 1 ? text : text + " on either side";
    case Side::above:
      return text + " above the center";
    case Side::below:
      break;
  }
  return text + " below the center";
}

std::vector<RunRule> western_electric() {
  static const std::vector<std::string> words = {"1of1_beyond3_one", "2of3_beyond2_one", "4of5_beyond1_one",
                                                 "8of8_beyond0_one"};
  return parse_rules(words);
}

std::vector<RunRule> nelson() {
  static const std::vector<std::string> words = {"1of1_beyond3_one",      "9of9_beyond0_one",   "trend6",
                                                 "alternating14",         "2of3_beyond2_one",   "4of5_beyond1_one",
                                                 "15of15_within1_either", "8of8_beyond1_either"};
  return parse_rules(words);
}

void clear(RuleMemory& memory) {
  std::fill(memory.above.begin(), memory.above.end(), 0);
  std::fill(memory.below.begin(), memory.below.end(), 0);
  memory.has_last = false;
  memory.last_z = 0.0;
  memory.trend = 0;
  memory.alternation = 0;
}

void advance(RuleMemory& memory, std::span<const RunRule> rules, double z, std::size_t point,
             const RuleOptions& options, std::vector<RuleSignal>& signals) {
  memory.above.resize(rules.size());
  memory.below.resize(rules.size());
  const std::size_t before = signals.size();
  take_step(memory, z);

  const auto met_steps = [&](std::size_t r, int steps, int side) {
    const auto points = static_cast<std::size_t>(std::abs(steps)) + 1;
    if (points >= rules[r].window) signals.push_back({.point = point, .rule = r, .side = side, .length = points});
  };
  const auto met_hits = [&](std::size_t r, std::uint64_t& history, bool present, int side) {
    const std::size_t length = counted_length(rules[r], history, present, options.last_point_beyond);
    if (length > 0) signals.push_back({.point = point, .rule = r, .side = side, .length = length});
    history = shifted(history, rules[r].window, present);
  };

  for (std::size_t r = 0; r < rules.size(); ++r) {
    switch (rules[r].pattern) {
      case Pattern::trend:
        met_steps(r, memory.trend, sign(memory.trend));
        break;
      case Pattern::alternating:
        met_steps(r, memory.alternation, 0);
        break;
      case Pattern::beyond:
      case Pattern::within: {
        const Hit present = hit(rules[r], z);
        if (rules[r].side == Side::below) {
          met_hits(r, memory.below[r], present.below, -1);
          break;
        }
        met_hits(r, memory.above[r], present.above, side_of(rules[r]));
        if (rules[r].side == Side::one) met_hits(r, memory.below[r], present.below, -1);
        break;
      }
    }
  }
  if (options.clear_after_signal && signals.size() > before) clear(memory);
}

std::vector<RuleSignal> rule_signals(std::span<const double> z, std::span<const std::uint8_t> takes_part,
                                     std::span<const std::uint8_t> break_before, std::span<const RunRule> rules,
                                     const RuleOptions& options) {
  const auto check_length = [&](std::size_t length, const char* name) {
    if (length != 0 && length != z.size()) {
      throw InvalidInput("rule_signals", name,
                         "has " + std::to_string(length) + " elements for " + std::to_string(z.size()) + " points");
    }
  };
  check_length(takes_part.size(), "takes_part");
  check_length(break_before.size(), "break_before");

  if (support::planes_fit(rules, options)) {
    return support::plane_signals(z, takes_part, break_before, rules, options);
  }
  std::vector<RuleSignal> signals;
  RuleMemory memory;
  for (std::size_t i = 0; i < z.size(); ++i) {
    if (!break_before.empty() && break_before[i] != 0) clear(memory);
    if (!takes_part.empty() && takes_part[i] == 0) {
      clear(memory);
      continue;
    }
    if (std::isnan(z[i])) throw InvalidInput("rule_signals", "z", "is not a number (nan)", i);
    advance(memory, rules, z[i], i, options, signals);
  }
  return signals;
}

std::vector<std::size_t> pattern_points(const RunRule& rule, const RuleSignal& signal, std::span<const double> z) {
  if (signal.point >= z.size() || signal.length < 1 || signal.length > signal.point + 1) {
    throw InvalidInput("pattern_points", "signal",
                       "ends at point " + std::to_string(signal.point) + " with length " +
                           std::to_string(signal.length) + ", outside the " + std::to_string(z.size()) + " points");
  }
  const bool steps = rule.pattern == Pattern::trend || rule.pattern == Pattern::alternating;
  std::vector<std::size_t> points;
  for (std::size_t i = signal.point + 1 - signal.length; i <= signal.point; ++i) {
    const Hit found = hit(rule, z[i]);
    if (steps || (signal.side < 0 ? found.below : found.above)) points.push_back(i);
  }
  return points;
}

double pattern_probability(const RunRule& rule) {
  if (rule.pattern == Pattern::trend || rule.pattern == Pattern::alternating) {
    const std::size_t n = rule.window;
    double factorial = 1.0;
    for (std::size_t i = 2; i <= n; ++i) factorial *= static_cast<double>(i);
    if (rule.pattern == Pattern::trend) return 2.0 / factorial;
    // Zigzag numbers (up-down permutations of n points) by the triangle of running sums: exact in doubles up to n = 20.
    std::vector<double> row = {1.0};
    for (std::size_t i = 1; i <= n; ++i) {
      std::vector<double> next(i + 1, 0.0);
      for (std::size_t j = 1; j <= i; ++j) next[j] = next[j - 1] + row[i - j];
      row = std::move(next);
    }
    return 2.0 * row[n] / factorial;
  }

  const double tail = 0.5 * std::erfc(rule.zone / std::sqrt(2.0));
  const bool sides_apart = rule.pattern == Pattern::beyond && rule.side != Side::either;
  const double p = sides_apart ? tail : rule.pattern == Pattern::beyond ? 2.0 * tail : 1.0 - 2.0 * tail;
  // The last point is a hit, and at least hits - 1 of the window - 1 points before it are.
  const auto others = static_cast<double>(rule.window - 1);
  double enough = 0.0;
  for (std::size_t k = rule.hits - 1; k < rule.window; ++k) {
    const auto count = static_cast<double>(k);
    double ways = 1.0;
    for (double i = 1.0; i <= count; i += 1.0) ways = ways * (others - count + i) / i;
    enough += ways * std::pow(p, count) * std::pow(1.0 - p, others - count);
  }
  return (rule.side == Side::one && sides_apart ? 2.0 : 1.0) * p * enough;
}

}  // namespace steadyfilm
