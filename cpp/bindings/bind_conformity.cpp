#include <steadyfilm/conformity.hpp>

#include "common.hpp"

namespace {

namespace sf = steadyfilm;
using Optional = std::optional<double>;

sf::LimitSide side_of(const std::string& word) {
  if (word == "lower") return sf::LimitSide::lower;
  if (word == "upper") return sf::LimitSide::upper;
  throw sf::InvalidInput("conformity", "side", "must be lower or upper, got " + word);
}

sf::ProcessPrior process_of(const std::string& kind, double first, double second) {
  if (kind == "normal") return {.kind = sf::ProcessPrior::Kind::normal, .mean = first, .sigma = second};
  if (kind == "gamma") return {.kind = sf::ProcessPrior::Kind::gamma, .shape = first, .rate = second};
  throw sf::InvalidInput("conformity", "process", "must be normal or gamma, got " + kind);
}

const char* word_of(sf::GuardBandClass found) {
  switch (found) {
    case sf::GuardBandClass::clearly_in:
      return "clearly in";
    case sf::GuardBandClass::doubtful:
      return "doubtful";
    default:
      return "clearly out";
  }
}

py::dict to_dict(const sf::AcceptanceRisks& found) {
  return py::dict("conforming"_a = found.conforming, "nonconforming"_a = found.nonconforming,
                  "accepted"_a = found.accepted, "consumer_risk"_a = found.consumer_risk,
                  "producer_risk"_a = found.producer_risk, "outside_among_accepted"_a = found.outside_among_accepted,
                  "inside_among_rejected"_a = found.inside_among_rejected);
}

}  // namespace

void bind_conformity(py::module_& m) {
  m.def("guard_band_factor", &sf::guard_band_factor, "alpha"_a, "sides"_a,
        "Factor of the standard uncertainty in a guard band; see steadyfilm.conformity.");

  m.def("false_accept_at_limit", &sf::false_accept_at_limit, "guard_over_expanded"_a, "coverage_factor"_a,
        "Chance to accept a true value on the limit; see steadyfilm.conformity.");

  m.def(
      "acceptance_limit_relative",
      [](double limit, double relative_uncertainty, double confidence_level, const std::string& side) {
        return sf::acceptance_limit_relative(limit, relative_uncertainty, confidence_level, side_of(side));
      },
      "limit"_a, "relative_uncertainty"_a, "confidence_level"_a, "side"_a,
      "Acceptance limit for an uncertainty that is a share of the value; see steadyfilm.conformity.");

  m.def(
      "guard_band",
      [](Optional lower, Optional upper, double standard_uncertainty, double alpha, double bias_bound) {
        const auto found = sf::guard_band({.lower = lower, .upper = upper, .target = std::nullopt},
                                          standard_uncertainty, alpha, bias_bound);
        return py::dict("factor"_a = found.factor, "guard"_a = found.guard, "accept_lower"_a = found.accept.lower,
                        "accept_upper"_a = found.accept.upper, "reject_lower"_a = found.reject.lower,
                        "reject_upper"_a = found.reject.upper, "left"_a = found.left);
      },
      "lower"_a, "upper"_a, "standard_uncertainty"_a, "alpha"_a, "bias_bound"_a,
      "A window drawn in and out by guard bands; see steadyfilm.conformity.");

  m.def(
      "guard_band_classes",
      [](Optional lower, Optional upper, double standard_uncertainty, double alpha, double bias_bound,
         const Array<double>& values) {
        const auto band = sf::guard_band({.lower = lower, .upper = upper, .target = std::nullopt},
                                         standard_uncertainty, alpha, bias_bound);
        std::vector<std::string> found;
        for (const double value : as_span(values, "values")) found.emplace_back(word_of(sf::guard_band_class(band, value)));
        return found;
      },
      "lower"_a, "upper"_a, "standard_uncertainty"_a, "alpha"_a, "bias_bound"_a, "values"_a.noconvert(),
      "Clearly in, doubtful or clearly out; see steadyfilm.conformity.");

  m.def(
      "conformance_probability",
      [](double value, double standard_uncertainty, Optional lower, Optional upper, Optional degrees_of_freedom) {
        return sf::conformance_probability(value, standard_uncertainty,
                                           {.lower = lower, .upper = upper, .target = std::nullopt},
                                           degrees_of_freedom);
      },
      "value"_a, "standard_uncertainty"_a, "lower"_a, "upper"_a, "degrees_of_freedom"_a,
      "Chance that the true value lies inside; see steadyfilm.conformity.");

  m.def(
      "acceptance_risks",
      [](const std::string& process, double first, double second, Optional lower, Optional upper,
         double standard_uncertainty, Optional accept_lower, Optional accept_upper) {
        return to_dict(sf::acceptance_risks(process_of(process, first, second),
                                            {.lower = lower, .upper = upper, .target = std::nullopt},
                                            {.lower = accept_lower, .upper = accept_upper, .target = std::nullopt},
                                            standard_uncertainty));
      },
      "process"_a, "first"_a, "second"_a, "lower"_a, "upper"_a, "standard_uncertainty"_a, "accept_lower"_a,
      "accept_upper"_a, "Consumer's and producer's risk by the joint integral; see steadyfilm.conformity.");

  m.def(
      "acceptance_limit_for_risk",
      [](const std::string& process, double first, double second, Optional lower, Optional upper,
         double standard_uncertainty, double consumer_risk) {
        const auto found = sf::acceptance_limit_for_risk(process_of(process, first, second),
                                                         {.lower = lower, .upper = upper, .target = std::nullopt},
                                                         standard_uncertainty, consumer_risk);
        return py::dict("guard"_a = found.guard, "accept_lower"_a = found.accept.lower,
                        "accept_upper"_a = found.accept.upper, "needed"_a = found.needed,
                        "risks"_a = to_dict(found.risks));
      },
      "process"_a, "first"_a, "second"_a, "lower"_a, "upper"_a, "standard_uncertainty"_a, "consumer_risk"_a,
      "Acceptance limits for a consumer's risk; see steadyfilm.conformity.");

  m.def(
      "operating_curve",
      [](const Array<double>& means, Optional accept_lower, Optional accept_upper, double sigma_average,
         Array<double> probability) {
        const auto view = as_span(means, "means");
        const auto out = as_output(probability, "probability");
        const py::gil_scoped_release unlocked;  // plain memory only from here on
        sf::operating_curve(view, {.lower = accept_lower, .upper = accept_upper, .target = std::nullopt}, sigma_average,
                            out);
      },
      "means"_a.noconvert(), "accept_lower"_a, "accept_upper"_a, "sigma_average"_a, "probability"_a.noconvert(),
      "Chance to accept at each true mean; see steadyfilm.conformity.");

  m.def(
      "operating_point",
      [](Optional accept_lower, Optional accept_upper, double sigma_average, double probability,
         const std::string& side) {
        return sf::operating_point({.lower = accept_lower, .upper = accept_upper, .target = std::nullopt},
                                   sigma_average, probability, side_of(side));
      },
      "accept_lower"_a, "accept_upper"_a, "sigma_average"_a, "probability"_a, "side"_a,
      "True mean that is accepted with a given chance; see steadyfilm.conformity.");
}
