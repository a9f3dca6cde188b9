// Each run rule spelled out window by window from the points alone: slow, without memory, and written apart from the
// engine.
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <vector>

#include <steadyfilm/run_rules.hpp>

namespace definition {

inline bool lies_beyond(double z, double zone, int side) { return static_cast<double>(side) * z > zone + 1e-9; }

inline bool is_hit(const steadyfilm::RunRule& rule, double z, int side) {
  const bool beyond_any = lies_beyond(z, rule.zone, 1) || lies_beyond(z, rule.zone, -1);
  if (rule.pattern == steadyfilm::Pattern::within) return !beyond_any;
  return side == 0 ? beyond_any : lies_beyond(z, rule.zone, side);
}

inline int direction(double from, double to) {
  if (from == to || std::abs(to - from) <= 1e-9) return 0;
  return to > from ? 1 : -1;
}

// Signals of one rule at point t when only the points from `start` on may be looked at.
inline void signals_at(const std::vector<double>& z, std::size_t start, std::size_t t, const steadyfilm::RunRule& rule,
                       std::size_t index, bool last_point_beyond, std::vector<steadyfilm::RuleSignal>& out) {
  using steadyfilm::Pattern;
  using steadyfilm::Side;
  if (rule.pattern == Pattern::trend || rule.pattern == Pattern::alternating) {
    const bool trend = rule.pattern == Pattern::trend;
    // The longest run that ends at t.
    std::size_t first = t;
    while (first > start) {
      const int before = direction(z[first - 1], z[first]);
      if (before == 0) break;
      if (first < t) {
        const int after = direction(z[first], z[first + 1]);
        if (trend ? before != after : before == after) break;
      }
      --first;
    }
    const std::size_t length = t - first + 1;
    if (length < rule.window) return;
    out.push_back({.point = t, .rule = index, .side = trend ? direction(z[t - 1], z[t]) : 0, .length = length});
    return;
  }
  std::vector<int> sides = {0};
  if (rule.pattern == Pattern::beyond && rule.side == Side::one) sides = {1, -1};
  if (rule.pattern == Pattern::beyond && rule.side == Side::above) sides = {1};
  if (rule.pattern == Pattern::beyond && rule.side == Side::below) sides = {-1};
  for (const int side : sides) {
    if (last_point_beyond && !is_hit(rule, z[t], side)) continue;
    const std::size_t have = t - start + 1;
    std::size_t hits = 0;
    std::size_t oldest = t;
    for (std::size_t back = 0; back < rule.window && back < have; ++back) {
      if (!is_hit(rule, z[t - back], side)) continue;
      ++hits;
      oldest = t - back;
    }
    if (hits >= rule.hits) out.push_back({.point = t, .rule = index, .side = side, .length = t - oldest + 1});
  }
}

inline std::vector<steadyfilm::RuleSignal> signals(const std::vector<double>& z,
                                                   const std::vector<std::uint8_t>& takes_part,
                                                   const std::vector<std::uint8_t>& break_before,
                                                   const std::vector<steadyfilm::RunRule>& rules,
                                                   const steadyfilm::RuleOptions& options) {
  std::vector<steadyfilm::RuleSignal> out;
  std::size_t start = 0;
  for (std::size_t t = 0; t < z.size(); ++t) {
    if (break_before[t] != 0) start = t;
    if (takes_part[t] == 0) {
      start = t + 1;
      continue;
    }
    const std::size_t before = out.size();
    for (std::size_t r = 0; r < rules.size(); ++r) {
      signals_at(z, start, t, rules[r], r, options.last_point_beyond, out);
    }
    if (options.clear_after_signal && out.size() > before) start = t + 1;
  }
  return out;
}

}  // namespace definition
