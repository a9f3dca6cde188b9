#include <doctest/doctest.h>

#include <atomic>
#include <numeric>
#include <stdexcept>
#include <string>
#include <vector>

#include "support/parallel.hpp"

namespace support = steadyfilm::support;

TEST_CASE("parallel: each block runs once, for any number of threads") {
  CHECK(support::thread_count(3) == 3);
  CHECK(support::thread_count(0) >= 1);
  for (const std::size_t threads : {0U, 1U, 2U, 5U, 64U}) {
    for (const std::size_t blocks : {0U, 1U, 2U, 7U, 300U}) {
      std::vector<std::atomic<int>> runs(blocks);
      support::for_blocks(blocks, threads, [&](std::size_t block) { ++runs[block]; });
      for (const auto& count : runs) CHECK(count == 1);
    }
  }
}

TEST_CASE("parallel: of several failures the one of the lowest block is thrown") {
  for (int round = 0; round < 50; ++round) {
    std::string text;
    try {
      support::for_blocks(40, 4, [](std::size_t block) {
        if (block % 7 == 5) throw std::runtime_error("block " + std::to_string(block));
      });
    } catch (const std::runtime_error& error) {
      text = error.what();
    }
    CHECK(text == "block 5");
  }
}
