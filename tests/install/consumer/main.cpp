#include <cstdio>
#include <vector>

#include <steadyfilm/summary.hpp>

int main() {
  const std::vector<double> film_mil = {2.11, 2.07, 2.14, 2.09, 2.10, 2.12};
  const auto found = steadyfilm::summarize(film_mil);
  std::printf("%zu readings average %.3f mil, standard deviation %.3f mil\n", found.count, found.mean, found.sd);
  return found.mean > 2.0 && found.sd > 0.0 ? 0 : 1;
}
