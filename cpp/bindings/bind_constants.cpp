#include <steadyfilm/constants.hpp>

#include "common.hpp"

void bind_constants(py::module_& m) {
  namespace sf = steadyfilm;
  m.def("d2", &sf::d2, "subgroup_size"_a);
  m.def("d3", &sf::d3, "subgroup_size"_a);
  m.def("c4", &sf::c4, "n"_a);
  m.def("c5", &sf::c5, "n"_a);
  m.def("chi_match_degrees_of_freedom", &sf::chi_match_degrees_of_freedom, "relative_variance"_a);
  m.def("moving_range_degrees_of_freedom", &sf::moving_range_degrees_of_freedom, "ranges"_a, "adjacent_ranges"_a);
  m.def(
      "chart_factors",
      [](std::size_t subgroup_size) {
        const auto f = sf::chart_factors(subgroup_size);
        return py::dict("subgroup_size"_a = f.subgroup_size, "d2"_a = f.d2, "d3"_a = f.d3, "c4"_a = f.c4, "c5"_a = f.c5,
                        "A"_a = f.A, "A2"_a = f.A2, "A3"_a = f.A3, "B3"_a = f.B3, "B4"_a = f.B4, "B5"_a = f.B5,
                        "B6"_a = f.B6, "D1"_a = f.D1, "D2"_a = f.D2, "D3"_a = f.D3, "D4"_a = f.D4, "E2"_a = f.E2,
                        "E3"_a = f.E3);
      },
      "subgroup_size"_a);
  m.def(
      "d2_star",
      [](std::size_t groups, std::size_t subgroup_size) {
        const auto found = sf::d2_star(groups, subgroup_size);
        return py::dict("groups"_a = groups, "subgroup_size"_a = subgroup_size, "d2"_a = sf::d2(subgroup_size),
                        "d3"_a = sf::d3(subgroup_size), "d2_star"_a = found.d2_star,
                        "degrees_of_freedom"_a = found.degrees_of_freedom);
      },
      "groups"_a, "subgroup_size"_a);
}
