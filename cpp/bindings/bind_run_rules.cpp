#include <steadyfilm/run_rules.hpp>

#include "common.hpp"

void bind_run_rules(py::module_& m) {
  m.def(
      "rule_signals",
      [](const Array<double>& z, const Array<std::uint8_t>& takes_part, const Array<std::uint8_t>& break_before,
         const std::vector<std::string>& rules, bool last_point_beyond, bool clear_after_signal) {
        const auto z_view = as_span(z, "z");
        const auto takes_part_view = as_span(takes_part, "takes_part");
        const auto break_before_view = as_span(break_before, "break_before");
        std::vector<steadyfilm::RuleSignal> signals;
        {
          const py::gil_scoped_release unlocked;  // plain memory only from here on
          steadyfilm::RuleOptions options;
          options.last_point_beyond = last_point_beyond;
          options.clear_after_signal = clear_after_signal;
          signals = steadyfilm::rule_signals(z_view, takes_part_view, break_before_view, steadyfilm::parse_rules(rules),
                                             options);
        }
        return to_dict(signals);
      },
      "z"_a.noconvert(), "takes_part"_a.noconvert(), "break_before"_a.noconvert(), "rules"_a, "last_point_beyond"_a,
      "clear_after_signal"_a, "Points at which a rule is met; see steadyfilm.run_rules.");

  m.def(
      "pattern_points",
      [](const Array<double>& z, const std::string& word, std::size_t point, int side, std::size_t length) {
        return steadyfilm::pattern_points(steadyfilm::parse_rule(word),
                                          {.point = point, .rule = 0, .side = side, .length = length}, as_span(z, "z"));
      },
      "z"_a.noconvert(), "word"_a, "point"_a, "side"_a, "length"_a,
      "Points that make up a signal's pattern; see steadyfilm.run_rules.");

  m.def(
      "describe_rule", [](const std::string& word) { return steadyfilm::describe(steadyfilm::parse_rule(word)); },
      "word"_a, "Shop words of a rule; see steadyfilm.run_rules.");

  m.def(
      "pattern_probability",
      [](const std::string& word) { return steadyfilm::pattern_probability(steadyfilm::parse_rule(word)); }, "word"_a,
      "Chance that given points form a rule's pattern; see steadyfilm.run_rules.");

  const auto words = [](const std::vector<steadyfilm::RunRule>& rules) {
    std::vector<std::string> names;
    names.reserve(rules.size());
    for (const auto& rule : rules) names.push_back(rule.name);
    return names;
  };
  m.def(
      "rule_set",
      [words](const std::string& name) {
        if (name == "western_electric") return words(steadyfilm::western_electric());
        if (name == "nelson") return words(steadyfilm::nelson());
        throw steadyfilm::InvalidInput("rule_set", "name", "is not a known set: '" + name + "'");
      },
      "name"_a, "Words of a named set of rules; see steadyfilm.run_rules.");
}
