#include <steadyfilm/cure_kinetics.hpp>

#include <array>
#include <optional>

#include "common.hpp"

namespace {

using steadyfilm::CureKinetics;

CureKinetics kinetics(const std::string& model, double pre_exponential_per_min, double activation_energy_kj,
                      double second_pre_exponential_per_min, double second_activation_energy_kj, double m, double n,
                      double initial_conversion, const std::optional<std::array<double, 3>>& diffusion,
                      double gas_constant_j) {
  CureKinetics out{.rate = {pre_exponential_per_min, activation_energy_kj},
                   .second = {second_pre_exponential_per_min, second_activation_energy_kj},
                   .m = m,
                   .n = n,
                   .initial_conversion = initial_conversion,
                   .gas_constant_j = gas_constant_j};
  if (model == "autocatalytic") out.model = steadyfilm::CureModel::autocatalytic;
  if (model == "kamal") out.model = steadyfilm::CureModel::kamal;
  if (diffusion)
    out.diffusion = {.sharpness = (*diffusion)[0], .offset = (*diffusion)[1], .slope_per_k = (*diffusion)[2]};
  return out;
}

}  // namespace

void bind_cure_kinetics(py::module_& m) {
  m.def("nth_order_conversion", &steadyfilm::nth_order_conversion, "rate_per_min"_a, "time_min"_a, "order"_a,
        "Conversion of nth order; see steadyfilm.cure_kinetics.");
  m.def("second_order_time_ratio", &steadyfilm::second_order_time_ratio, "from_conversion"_a, "to_conversion"_a,
        "Time to one conversion over another; see steadyfilm.cure_kinetics.");
  m.def(
      "kamal_conversion",
      [](double k1_per_min, double k2_per_min, double m_order, double n_order, double initial_conversion,
         const std::vector<double>& time_min) {
        return to_array(
            steadyfilm::kamal_conversion(k1_per_min, k2_per_min, m_order, n_order, initial_conversion, time_min));
      },
      "k1_per_min"_a, "k2_per_min"_a, "m"_a, "n"_a, "initial_conversion"_a, "time_min"_a,
      "Conversion at one temperature; see steadyfilm.cure_kinetics.");
  m.def(
      "kamal_peak",
      [](double k1_per_min, double k2_per_min) {
        const auto found = steadyfilm::kamal_peak(k1_per_min, k2_per_min);
        return py::dict("time_min"_a = found.time_min, "conversion"_a = found.conversion);
      },
      "k1_per_min"_a, "k2_per_min"_a, "When the rate is largest; see steadyfilm.cure_kinetics.");
  m.def(
      "degree_of_cure",
      [](const Array<double>& time_min, const Array<double>& temperature_c, const std::string& model,
         double pre_exponential_per_min, double activation_energy_kj, double second_pre_exponential_per_min,
         double second_activation_energy_kj, double m_order, double n_order, double initial_conversion,
         const std::optional<std::array<double, 3>>& diffusion, double gas_constant_j, Array<double> conversion) {
        const auto time = as_span(time_min, "time_min");
        const auto temperature = as_span(temperature_c, "temperature_c");
        const auto out = as_output(conversion, "conversion");
        const auto chosen =
            kinetics(model, pre_exponential_per_min, activation_energy_kj, second_pre_exponential_per_min,
                     second_activation_energy_kj, m_order, n_order, initial_conversion, diffusion, gas_constant_j);
        const py::gil_scoped_release unlocked;  // plain memory only from here on
        steadyfilm::degree_of_cure(time, temperature, chosen, out);
      },
      "time_min"_a.noconvert(), "temperature_c"_a.noconvert(), "model"_a, "pre_exponential_per_min"_a,
      "activation_energy_kj"_a, "second_pre_exponential_per_min"_a, "second_activation_energy_kj"_a, "m"_a, "n"_a,
      "initial_conversion"_a, "diffusion"_a, "gas_constant_j"_a, "conversion"_a.noconvert(),
      "Conversion at each reading of a trace; see steadyfilm.cure_kinetics.");
  m.def(
      "cure_equivalence",
      [](const std::string& model, double pre_exponential_per_min, double activation_energy_kj,
         double second_pre_exponential_per_min, double second_activation_energy_kj, double m_order, double n_order,
         bool diffusion) {
        const auto chosen =
            kinetics(model, pre_exponential_per_min, activation_energy_kj, second_pre_exponential_per_min,
                     second_activation_energy_kj, m_order, n_order, 0.0,
                     diffusion ? std::optional<std::array<double, 3>>(std::array<double, 3>{}) : std::nullopt, 1.0);
        const char* words[] = {"exact", "approximate", "none"};
        return py::dict("equivalence"_a = words[static_cast<int>(steadyfilm::equivalence(chosen))],
                        "closed_form"_a = steadyfilm::has_closed_form(chosen));
      },
      "model"_a, "pre_exponential_per_min"_a, "activation_energy_kj"_a, "second_pre_exponential_per_min"_a,
      "second_activation_energy_kj"_a, "m"_a, "n"_a, "diffusion"_a,
      "What equivalent time is worth for a model; see steadyfilm.cure_kinetics.");
}
