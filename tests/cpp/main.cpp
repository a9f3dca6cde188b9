// Runs the doctest cases; `steadyfilm_tests --reference FOLDER` runs a folder of reference rows instead.
#define DOCTEST_CONFIG_IMPLEMENT
#include <doctest/doctest.h>

#include <iostream>
#include <string_view>

#include "reference.hpp"

int main(int argc, char** argv) {
  if (argc == 3 && std::string_view(argv[1]) == "--reference") {
    const auto counts = reference::run_folder(argv[2], std::cout, STEADYFILM_REFERENCE);
    std::cout << counts.passed << " passed, " << counts.failed << " failed, " << counts.waiting + counts.not_built
              << " skipped\n";
    return counts.failed == 0 && counts.passed > 0 ? 0 : 1;
  }
  doctest::Context context(argc, argv);
  return context.run();
}
