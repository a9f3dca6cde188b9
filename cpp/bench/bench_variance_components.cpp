// Mixed models in the core alone: a gauge study, the shop's model, and crossed factors, with and without profile
// intervals. cpp/bench/mixed_peer.py times the same shapes against other libraries.
#include <algorithm>
#include <chrono>
#include <cstdint>
#include <cstdio>
#include <random>
#include <string>
#include <vector>

#include <steadyfilm/variance_components.hpp>

#include "support/bench.hpp"

namespace {

using steadyfilm::MixedModel;

struct Term {
  std::string name;
  std::vector<std::int32_t> codes;
  std::size_t levels = 0;
  double sd = 0.0;
};

struct Case {
  std::string name;
  std::vector<double> values;
  std::vector<Term> random, fixed;
  double target_ms = 0.0;

  [[nodiscard]] MixedModel model() const {
    MixedModel out;
    for (const Term& one : random) out.random.push_back({one.name, one.codes, one.levels});
    for (const Term& one : fixed) out.fixed.push_back({one.name, one.codes, one.levels});
    return out;
  }

  /// Values from the terms' effects.
  void fill(std::mt19937_64& chance) {
    std::normal_distribution<double> normal;
    const std::size_t count = random.front().codes.size();
    values.assign(count, 2.1);
    for (const auto* terms : {&random, &fixed}) {
      for (const Term& one : *terms) {
        std::vector<double> effect(one.levels);
        for (double& x : effect) x = one.sd * normal(chance);
        for (std::size_t i = 0; i < count; ++i) values[i] += effect[static_cast<std::size_t>(one.codes[i])];
      }
    }
    for (double& x : values) x += 0.05 * normal(chance);
  }
};

void number_anew(Term& term) {
  std::vector<std::int32_t> to(term.levels, -1);
  std::int32_t next = 0;
  for (std::int32_t& code : term.codes) {
    auto& own = to[static_cast<std::size_t>(code)];
    if (own < 0) own = next++;
    code = own;
  }
  term.levels = static_cast<std::size_t>(next);
}

Case crossed(const std::string& name, std::size_t readings, std::size_t parts, std::size_t people, double target_ms) {
  std::mt19937_64 chance(7);
  Case out{name, {}, {{"part", {}, parts, 0.2}, {"person", {}, people, 0.05}}, {}, target_ms};
  for (std::size_t i = 0; i < readings; ++i) {
    for (Term& one : out.random) one.codes.push_back(static_cast<std::int32_t>(chance() % one.levels));
  }
  for (Term& one : out.random) number_anew(one);
  out.fill(chance);
  return out;
}

/// 10 parts, 3 appraisers, 3 trials, with the interaction, 5 readings missing.
Case study() {
  std::mt19937_64 chance(3);
  Case out{"gauge study, 85 of 90 readings", {}, {{"part", {}, 10, 0.2}, {"person", {}, 3, 0.05}}, {}, 2.0};
  for (std::int32_t i = 5; i < 90; ++i) {
    out.random[0].codes.push_back(i % 10);
    out.random[1].codes.push_back(i / 30);
  }
  const auto both = steadyfilm::combine_levels(out.random[0].codes, out.random[1].codes);
  out.random.push_back({"part x person", both.codes, both.levels, 0.03});
  out.fill(chance);
  return out;
}

/// 40 days, 10 units a day, 5 places (fixed), 3 repeats, painters and guns, about a tenth missing.
Case shop() {
  std::mt19937_64 chance(5);
  Case out{"shop: day, unit, unit x place, painter, gun", {}, {}, {{"place", {}, 5, 0.05}}, 200.0};
  out.random = {{"day", {}, 40, 0.05},
                {"unit", {}, 440, 0.08},
                {"unit x place", {}, 2200, 0.08},
                {"painter", {}, 6, 0.04},
                {"gun", {}, 8, 0.03}};
  for (std::int32_t unit = 0; unit < 440; ++unit) {
    const auto painter = static_cast<std::int32_t>(chance() % 6), gun = static_cast<std::int32_t>(chance() % 8);
    for (std::int32_t place = 0; place < 5; ++place) {
      for (int k = 0; k < 3; ++k) {
        if (chance() % 11 == 0) continue;
        const std::int32_t codes[] = {unit / 11, unit, 5 * unit + place, painter, gun};
        for (std::size_t t = 0; t < 5; ++t) out.random[t].codes.push_back(codes[t]);
        out.fixed[0].codes.push_back(place);
      }
    }
  }
  for (Term& one : out.random) number_anew(one);
  out.fill(chance);
  return out;
}

double median_ms(std::size_t pairs, const auto& call) {
  std::vector<double> times;
  for (std::size_t i = 0; i < pairs; ++i) {
    const auto start = std::chrono::steady_clock::now();
    call();
    times.push_back(std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count());
  }
  std::ranges::sort(times);
  return times[times.size() / 2];
}

}  // namespace

int main(int count, char** words) {
  const auto options = bench::read_options(count, words);
  bench::print_machine(1);
  std::printf("%-46s %9s %10s %10s %10s\n", "mixed model", "readings", "fit ms", "+ profile", "target");
  for (const Case& one : {study(), shop(), crossed("crossed 40 x 10", 2000, 40, 10, 0.0),
                          crossed("crossed 200 x 20", 100'000, 200, 20, 2000.0)}) {
    const auto model = one.model();
    bool sound = true;
    const auto run = [&](bool profile) {
      return median_ms(options.pairs, [&] {
        sound = sound && mixed_components(one.values, model, {.profile_intervals = profile}).convergence.converged;
      });
    };
    const double plain = run(false), full = run(true);
    std::printf("%-46s %9zu %10.2f %10.2f %10.0f%s\n", one.name.c_str(), one.values.size(), plain, full, one.target_ms,
                sound ? "" : "   not converged");
    std::fflush(stdout);
  }
}
