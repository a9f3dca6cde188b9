// Any rules over any points: the engine against the rules spelled out window by window, and a monitored series cut into
// pieces against the whole.
//
// Input: options, number of rules, four bytes a rule, then two bytes a point: height, and what happens before it.
#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <limits>
#include <steadyfilm/monitor.hpp>
#include <steadyfilm/run_rules.hpp>
#include <string>
#include <vector>

#include "fuzz.hpp"
#include "rule_definition.hpp"

namespace {

using steadyfilm::Monitored;
using steadyfilm::RuleSignal;

/// Bytes one after the other; zeros after the last.
class Bytes {
 public:
  Bytes(const std::uint8_t* data, std::size_t size) : data_(data), size_(size) {}
  unsigned next() { return at_ < size_ ? data_[at_++] : 0U; }
  [[nodiscard]] bool done() const { return at_ >= size_; }

 private:
  const std::uint8_t* data_;
  std::size_t size_;
  std::size_t at_ = 0;
};

std::string rule_word(Bytes& bytes) {
  const unsigned kind = bytes.next();
  const unsigned window = bytes.next();
  const unsigned hits = bytes.next();
  const unsigned zone = bytes.next();
  if (kind % 8 == 6) return "trend" + std::to_string(2 + window % 8);
  if (kind % 8 == 7) return "alternating" + std::to_string(3 + window % 12);
  const unsigned longest = 1 + window % 53;
  const std::string counts = std::to_string(1 + hits % longest) + "of" + std::to_string(longest);
  static const std::array<const char*, 7> zones = {"0", "0.5", "1", "1.5", "2", "2.5", "3"};
  static const std::array<const char*, 4> sides = {"_one", "_either", "_above", "_below"};
  if (kind % 8 == 5) return counts + "_within" + zones[1 + zone % 6] + "_either";
  return counts + "_beyond" + zones[zone % 7] + sides[kind % 4];
}

struct Series {
  std::vector<double> z;
  std::vector<std::uint8_t> takes_part, break_before;
  std::vector<std::size_t> cuts;

  [[nodiscard]] steadyfilm::MonitorPoints piece(std::size_t first, std::size_t last) const {
    const auto part = [&](const auto& all) { return std::span(all).subspan(first, last - first); };
    return {.value = part(z), .takes_part = part(takes_part), .break_before = part(break_before)};
  }
};

Series series(Bytes& bytes) {
  Series made;
  while (!bytes.done()) {
    const unsigned height = bytes.next();
    const unsigned event = bytes.next();
    // Quarters of a sigma, so that ties and points on a line are common; the last bits move off the line by half its
    // width, or twice.
    static const std::array<double, 4> nudge = {0.0, 0.5e-9, -0.5e-9, 2e-9};
    const bool part = event % 16 != 1;
    const double z = 0.25 * (static_cast<double>(height % 32) - 16.0) + nudge[height / 32 % 4];
    made.z.push_back(part ? z : std::numeric_limits<double>::quiet_NaN());
    made.takes_part.push_back(part);
    made.break_before.push_back(event % 16 == 2);
    if (event >= 128) made.cuts.push_back(made.z.size() - 1);
  }
  return made;
}

bool same_bits(const std::vector<double>& a, const std::vector<double>& b) {
  return std::ranges::equal(
      a, b, [](double x, double y) { return std::bit_cast<std::uint64_t>(x) == std::bit_cast<std::uint64_t>(y); });
}

Monitored in_pieces(const steadyfilm::MonitorLimits& limits, const Series& points) {
  Monitored all;
  all.states.resize(1);
  std::vector<std::size_t> borders = points.cuts;
  borders.push_back(points.z.size());
  std::size_t first = 0;
  for (const std::size_t last : borders) {
    const Monitored piece = steadyfilm::monitor(limits, all.states[0], points.piece(first, last));
    all.z.insert(all.z.end(), piece.z.begin(), piece.z.end());
    all.ewma.insert(all.ewma.end(), piece.ewma.begin(), piece.ewma.end());
    for (auto signal : piece.signals) {
      signal.point += first;
      all.signals.push_back(signal);
    }
    for (auto episode : piece.episodes) {
      episode.point += first;
      all.episodes.push_back(episode);
    }
    all.states = piece.states;
    first = last;
  }
  return all;
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  Bytes bytes(data, std::min(size, std::size_t{600}));
  const unsigned choice = bytes.next();
  const unsigned count = bytes.next() % 5;
  std::vector<std::string> words;
  for (unsigned r = 0; r < count; ++r) words.push_back(rule_word(bytes));
  const auto rules = steadyfilm::parse_rules(words);
  const Series points = series(bytes);
  const steadyfilm::RuleOptions options{.last_point_beyond = (choice & 1U) == 0,
                                        .clear_after_signal = (choice & 2U) != 0};

  auto seen_breaks = points.break_before;
#ifdef STEADYFILM_PLANTED_FAULT
  // As an engine would that looks across a gap between two points far out on one side.
  for (std::size_t i = 1; i < seen_breaks.size(); ++i) {
    if (points.z[i - 1] > 2.5 && points.z[i] > 2.5) seen_breaks[i] = 0;
  }
#endif
  const auto found = steadyfilm::rule_signals(points.z, points.takes_part, seen_breaks, rules, options);
  fuzz::require(found == definition::signals(points.z, points.takes_part, points.break_before, rules, options),
                "the engine gives the signals of the definition");
  for (const RuleSignal& signal : found) {
    const auto members = steadyfilm::pattern_points(rules[signal.rule], signal, points.z);
    fuzz::require(members.size() >= rules[signal.rule].hits && members.front() + signal.length == signal.point + 1,
                  "a signal has as many points as its rule needs, from the first that its length says");
  }

  steadyfilm::MonitorLimits limits;
  limits.rules = rules;
  limits.last_point_beyond = options.last_point_beyond;
  limits.mark_every_signal = (choice & 4U) != 0;
  limits.ewma_time_varying = (choice & 8U) != 0;
  limits.smoothing = (choice & 16U) != 0 ? 0.2 : 0.0;
  limits.ewma_multiple = 2.0;
  const Monitored whole = steadyfilm::monitor(limits, {}, points.piece(0, points.z.size()));
  const Monitored pieces = in_pieces(limits, points);
  fuzz::require(same_bits(whole.z, pieces.z) && same_bits(whole.ewma, pieces.ewma),
                "a cut leaves the bits of z and EWMA");
  fuzz::require(whole.signals == pieces.signals, "a cut leaves the signals");
  fuzz::require(whole.episodes == pieces.episodes, "a cut leaves the episodes");
  fuzz::require(whole.states == pieces.states, "a cut leaves the state");

  if (limits.smoothing == 0.0) {
    const auto cleared =
        definition::signals(points.z, points.takes_part, points.break_before, rules,
                            {.last_point_beyond = options.last_point_beyond, .clear_after_signal = true});
    std::vector<std::size_t> starts;
    for (const auto& signal : cleared) {
      if (starts.empty() || starts.back() != signal.point) starts.push_back(signal.point);
    }
    fuzz::require(std::ranges::equal(whole.episodes, starts, {}, &steadyfilm::Episode::point),
                  "episodes start where the definition, cleared at each signal, finds one");
  }
  return 0;
}
