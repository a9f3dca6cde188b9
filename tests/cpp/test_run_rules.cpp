#include <doctest/doctest.h>

#include <array>
#include <cstdint>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include <steadyfilm/core.hpp>
#include <steadyfilm/run_rules.hpp>

#include "../fuzz/rule_definition.hpp"
#include "reference.hpp"

using steadyfilm::parse_rule;
using steadyfilm::rule_signals;
using steadyfilm::RuleSignal;

namespace {

using Points = std::vector<std::size_t>;

const reference::Register signals("rule_signals", [](const reference::Args& args) {
  const double center = args.number("center");
  const double sigma_point = args.number("sigma_point");
  auto z = args.list("values");
  for (double& value : z) value = (value - center) / sigma_point;
  const auto rules = steadyfilm::parse_rules(args.words("rules"));
  const auto found = rule_signals(z, {}, {}, rules, {.last_point_beyond = args.number("last_point_beyond") == 1.0});
  reference::List points;
  for (const auto& signal : found) points.push_back(static_cast<double>(signal.point) + 1.0);
  return reference::Found{.numbers = {}, .lists = {{"signals", points}}, .words = {}};
});

const reference::Register probability("pattern_probability", [](const reference::Args& args) {
  return reference::Found{.numbers = {{"probability", steadyfilm::pattern_probability(parse_rule(args.word("rule")))}},
                          .lists = {},
                          .words = {}};
});

/// Points at which one rule is met, from 0.
Points met(const char* word, const std::vector<double>& z, const std::vector<std::uint8_t>& takes_part = {},
           const std::vector<std::uint8_t>& break_before = {}, const steadyfilm::RuleOptions& options = {}) {
  Points points;
  for (const auto& signal : rule_signals(z, takes_part, break_before, std::vector{parse_rule(word)}, options)) {
    points.push_back(signal.point);
  }
  return points;
}

}  // namespace

TEST_CASE("run rules: seven and eight in a row on one side") {
  const std::vector<double> seven(7, 0.5);
  const std::vector<double> eight(8, -0.5);
  CHECK(met("8of8_beyond0_one", seven).empty());
  CHECK(met("8of8_beyond0_one", eight) == Points{7});
  CHECK(met("7of7_beyond0_one", seven) == Points{6});
  CHECK(met("9of9_beyond0_one", eight).empty());
}

TEST_CASE("run rules: two of three needs one side, at a point that is itself beyond") {
  CHECK(met("2of3_beyond2_one", {2.5, 0.1, -2.5}).empty());
  CHECK(met("2of3_beyond2_either", {2.5, 0.1, -2.5}) == Points{2});
  CHECK(met("2of3_beyond2_one", {2.5, -2.5, 2.2}) == Points{2});
  CHECK(met("2of3_beyond2_one", {2.5, 2.2, 0.0, 0.0}) == Points{1});
  CHECK(met("2of3_beyond2_one", {2.5, 2.2, 0.0, 0.0}, {}, {}, {.last_point_beyond = false}) == Points{1, 2});
  CHECK(met("2of3_beyond2_one", {2.5, 0.0, 0.0, 2.5}).empty());
  CHECK(met("2of3_beyond2_above", {-2.5, -2.5, 2.5, 0.0, 2.5}) == Points{4});
  CHECK(met("2of3_beyond2_below", {-2.5, -2.5, 2.5, 0.0, 2.5}) == Points{1});
}

TEST_CASE("run rules: a point exactly on a line belongs to the inner side") {
  CHECK(met("1of1_beyond3_one", {3.0, -3.0, 3.0 + 0.9e-9, 3.0 + 1.1e-9, -3.0 - 1.1e-9}) == Points{3, 4});
  CHECK(met("3of3_within1_either", {1.0, -1.0, 1.0 + 0.9e-9}) == Points{2});
  CHECK(met("3of3_within1_either", {1.0, -1.0, 1.0 + 1.1e-9}).empty());
  // On the center: on neither side, so it breaks runs on both.
  CHECK(met("3of3_beyond0_one", {0.5, 0.5, 0.0, 0.5, 0.5}).empty());
  CHECK(met("3of3_beyond0_one", {-0.5, -0.5, 0.9e-9, -0.5, -0.5}).empty());
}

TEST_CASE("run rules: nothing looks across a gap or an excluded point") {
  const std::vector<double> run(8, 0.5);
  CHECK(met("8of8_beyond0_one", run, {}, {0, 0, 0, 0, 1, 0, 0, 0}).empty());
  CHECK(met("8of8_beyond0_one", run, {}, {1, 0, 0, 0, 0, 0, 0, 0}) == Points{7});
  CHECK(met("4of4_beyond0_one", {0.5, 0.5, 0.5, 9.0, 0.5, 0.5, 0.5}, {1, 1, 1, 0, 1, 1, 1}).empty());
  CHECK(met("2of3_beyond2_one", {2.5, 2.5}, {}, {0, 1}).empty());
  CHECK(met("2of3_beyond2_one", {2.5, 0.0, 2.5}, {1, 0, 1}).empty());
  CHECK(met("trend3", {0.0, 0.1, 0.2}, {}, {0, 0, 1}).empty());
  CHECK(met("trend3", {0.0, 0.1, 0.05, 0.2, 0.3}, {1, 1, 0, 1, 1}).empty());
  CHECK(met("alternating3", {0.0, 0.1, 0.0}, {}, {0, 1, 0}).empty());
  // An excluded point is not read.
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK(met("1of1_beyond3_one", {nan, 3.5}, {0, 1}) == Points{1});
}

TEST_CASE("run rules: six in a trend are six points, and an equal neighbor breaks it") {
  CHECK(met("trend6", {-1, -0.5, 0.1, 0.4, 0.8}).empty());
  CHECK(met("trend6", {-1, -0.5, 0.1, 0.4, 0.8, 1.2, 1.3, 1.2}) == Points{5, 6});
  CHECK(met("trend6", {-1, -0.5, 0.1, 0.1, 0.4, 0.8, 1.2}).empty());
  CHECK(met("trend3", {0.0, 0.5e-9, 1.0e-9}).empty());
  CHECK(met("alternating4", {0.0, 1.0, 0.5, 0.8}) == Points{3});
  CHECK(met("alternating4", {0.0, 1.0, 1.0, 0.5, 0.8}).empty());
  // A step that goes on in the same direction starts a new alternation.
  CHECK(met("alternating4", {0.0, 1.0, 0.0, -1.0, 0.0, -1.0}) == Points{5});
  const double inf = std::numeric_limits<double>::infinity();
  CHECK(met("trend2", {inf, inf, -inf}) == Points{2});
}

TEST_CASE("run rules: after a signal everything is forgotten when asked for") {
  const steadyfilm::RuleOptions clear{.last_point_beyond = true, .clear_after_signal = true};
  CHECK(met("2of3_beyond2_one", {2.5, 2.5, 2.5, 2.5}) == Points{1, 2, 3});
  CHECK(met("2of3_beyond2_one", {2.5, 2.5, 2.5, 2.5}, {}, {}, clear) == Points{1, 3});
  CHECK(met("trend3", {1, 2, 3, 4, 5, 6, 7}, {}, {}, clear) == Points{2, 5});
}

TEST_CASE("run rules: a signal says its side, its length and its points") {
  const std::vector<double> z = {2.5, 0.1, 2.2, 1.0, 0.5, 0.2, -3.5};
  const auto rules =
      steadyfilm::parse_rules(std::vector<std::string>{"2of3_beyond2_one", "trend4", "1of1_beyond3_one"});
  const auto found = rule_signals(z, {}, {}, rules);
  const std::vector<RuleSignal> expected = {{.point = 2, .rule = 0, .side = 1, .length = 3},
                                            {.point = 5, .rule = 1, .side = -1, .length = 4},
                                            {.point = 6, .rule = 1, .side = -1, .length = 5},
                                            {.point = 6, .rule = 2, .side = -1, .length = 1}};
  CHECK(found == expected);
  CHECK(steadyfilm::pattern_points(rules[0], found[0], z) == Points{0, 2});
  CHECK(steadyfilm::pattern_points(rules[1], found[1], z) == Points{2, 3, 4, 5});
  CHECK_THROWS_WITH_AS((void)steadyfilm::pattern_points(rules[0], {.point = 1, .rule = 0, .side = 1, .length = 3}, z),
                       "pattern_points: signal ends at point 1 with length 3, outside the 7 points",
                       steadyfilm::InvalidInput);
}

TEST_CASE("run rules: the engine equals the definition spelled out window by window") {
  const std::array<const char*, 14> words = {"1of1_beyond3_one",
                                             "2of3_beyond2_one",
                                             "4of5_beyond1_one",
                                             "8of8_beyond0_one",
                                             "9of9_beyond0_one",
                                             "trend6",
                                             "alternating14",
                                             "15of15_within1_either",
                                             "8of8_beyond1_either",
                                             "3of7_beyond0.5_above",
                                             "2of2_beyond1.5_below",
                                             "13of15_within1.2_either",
                                             "trend2",
                                             "alternating3"};
  std::vector<steadyfilm::RunRule> rules;
  for (const char* word : words) rules.push_back(parse_rule(word));
  std::mt19937 random(19560101);
  std::size_t signal_count = 0;
  for (int round = 0; round < 400; ++round) {
    const std::size_t n = random() % 60;
    std::vector<double> z(n);
    std::vector<std::uint8_t> takes_part(n);
    std::vector<std::uint8_t> break_before(n);
    for (std::size_t i = 0; i < n; ++i) {
      // A coarse grid, so that ties and points on a line are common; a fine one in every other round.
      z[i] = round % 2 == 0 ? 0.5 * (static_cast<double>(random() % 15) - 7.0)
                            : (static_cast<double>(random() % 6001) - 3000.0) / 900.0;
      takes_part[i] = random() % 20 != 0;
      break_before[i] = random() % 20 == 0;
    }
    const steadyfilm::RuleOptions options{.last_point_beyond = round % 3 != 0, .clear_after_signal = round % 5 == 0};
    const auto found = rule_signals(z, takes_part, break_before, rules, options);
    CAPTURE(round);
    CHECK(found == definition::signals(z, takes_part, break_before, rules, options));
    signal_count += found.size();
  }
  CHECK(signal_count > 1000);  // the comparison was not empty
}

TEST_CASE("run rules: words and their meaning") {
  CHECK(steadyfilm::western_electric().size() == 4);
  CHECK(steadyfilm::nelson().size() == 8);
  CHECK(describe(parse_rule("2of3_beyond2_one")) == "2 of 3 points beyond 2 sigma on one side");
  CHECK(describe(parse_rule("1of1_beyond3_one")) == "1 point beyond 3 sigma");
  CHECK(describe(parse_rule("1of1_beyond2.5_above")) == "1 point beyond 2.5 sigma above the center");
  CHECK(describe(parse_rule("8of8_beyond0_one")) == "8 points in a row on one side of the center");
  CHECK(describe(parse_rule("7of8_beyond0_below")) == "7 of 8 points below the center");
  CHECK(describe(parse_rule("8of8_beyond1_either")) == "8 points in a row beyond 1 sigma on either side");
  CHECK(describe(parse_rule("5of5_beyond0_either")) == "5 points in a row off the center");
  CHECK(describe(parse_rule("15of15_within1_either")) == "15 points in a row within 1 sigma of the center");
  CHECK(describe(parse_rule("trend6")) == "6 points in a row rising or falling");
  CHECK(describe(parse_rule("alternating14")) == "14 points in a row going up and down by turns");
}

TEST_CASE("run rules: words that are no rule are refused") {
  for (const char* word : {"",
                           "2of3",
                           "2of3_beyond2",
                           "2of3_beyond2_left",
                           "2of3_beyond_one",
                           "3of2_beyond2_one",
                           "0of3_beyond2_one",
                           "2of54_beyond2_one",
                           "1of1_beyond-1_one",
                           "1of1_beyondinf_one",
                           "1of1_beyondnan_one",
                           "4of5_within0_either",
                           "4of5_within1_one",
                           "trend",
                           "trend1",
                           "trend101",
                           "trend6_one",
                           "alternating2",
                           "2 of 3",
                           "1of1_beyond3_one "}) {
    CAPTURE(word);
    CHECK_THROWS_AS((void)parse_rule(word), steadyfilm::InvalidInput);
  }
  CHECK_THROWS_WITH_AS((void)parse_rule("3of2_beyond2_one"),
                       "parse_rule: rule '3of2_beyond2_one' needs from 1 hit to as many as the window holds",
                       steadyfilm::InvalidInput);
}

TEST_CASE("run rules: input it cannot use is refused with name and position") {
  const auto rules = steadyfilm::western_electric();
  const std::vector<double> z = {0.0, std::numeric_limits<double>::quiet_NaN()};
  CHECK_THROWS_WITH_AS((void)rule_signals(z, {}, {}, rules), "rule_signals: z[1] is not a number (nan)",
                       steadyfilm::InvalidInput);
  const std::vector<std::uint8_t> three(3, 1);
  CHECK_THROWS_WITH_AS((void)rule_signals(z, three, {}, rules), "rule_signals: takes_part has 3 elements for 2 points",
                       steadyfilm::InvalidInput);
  CHECK(rule_signals({}, {}, {}, rules).empty());
  CHECK(rule_signals(z, std::vector<std::uint8_t>{1, 0}, {}, {}).empty());
}

TEST_CASE("run rules: chance of a pattern") {
  // Zigzag numbers 1, 1, 2, 5, 16, 61, 272 (Andre 1879), two directions each.
  CHECK(steadyfilm::pattern_probability(parse_rule("alternating3")) == doctest::Approx(4.0 / 6.0));
  CHECK(steadyfilm::pattern_probability(parse_rule("alternating7")) == doctest::Approx(544.0 / 5040.0));
  CHECK(steadyfilm::pattern_probability(parse_rule("alternating14")) == 398721962.0 / 87178291200.0);
  CHECK(steadyfilm::pattern_probability(parse_rule("trend6")) == 2.0 / 720.0);
  CHECK(steadyfilm::pattern_probability(parse_rule("8of8_beyond0_one")) == doctest::Approx(2.0 / 256.0));
  // P(|Z| > 3) = 0.002699796063 (normal table).
  CHECK(steadyfilm::pattern_probability(parse_rule("1of1_beyond3_one")) ==
        doctest::Approx(0.002699796063).epsilon(1e-9));
  CHECK(steadyfilm::pattern_probability(parse_rule("1of1_beyond3_above")) ==
        doctest::Approx(0.0013498980316).epsilon(1e-9));
}
