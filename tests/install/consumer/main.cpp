#include <cstdio>
#include <vector>

#include <steadyfilm/chart_individuals.hpp>

int main() {
  // Mean film of ten bodies in mil, in production order.
  const std::vector<double> film = {2.11, 2.07, 2.14, 2.09, 2.10, 2.12, 2.08, 2.11, 2.13, 2.31};
  const auto chart = steadyfilm::individuals_chart(film, {}, {});
  for (std::size_t body = 0; body < film.size(); ++body) {
    const bool inside = film[body] >= chart.limits.lower && film[body] <= chart.limits.upper;
    std::printf("body %zu: %.2f mil%s\n", body + 1, film[body], inside ? "" : "  outside the limits");
  }
  return chart.limits.lower < chart.limits.center && chart.limits.center < chart.limits.upper ? 0 : 1;
}
