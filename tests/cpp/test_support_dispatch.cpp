#include <doctest/doctest.h>

#include <cstdlib>
#include <string>

#include <steadyfilm/core.hpp>

#include "support/dispatch.hpp"

namespace support = steadyfilm::support;
using support::InstructionSet;

TEST_CASE("dispatch: the best usable set is taken unless one is forced") {
  const auto usable = support::usable_instruction_sets();
  REQUIRE(!usable.empty());
  CHECK(usable.front() == InstructionSet::baseline);
  CHECK(support::choose_instruction_set("") == usable.back());
  for (const InstructionSet set : usable) CHECK(support::choose_instruction_set(support::to_text(set)) == set);
}

TEST_CASE("dispatch: a set that is unknown or that the processor lacks is refused with the way out") {
  std::string names;
  for (const InstructionSet set : support::usable_instruction_sets()) names.append(" ").append(support::to_text(set));
  const std::string unknown =
      "instruction_set: STEADYFILM_ISA is 'v5', which is no instruction set; unset it, or give one of:" + names;
  CHECK_THROWS_WITH_AS((void)support::choose_instruction_set("v5"), unknown.c_str(), steadyfilm::InvalidInput);
  for (const char* name : {"v3", "v4"}) {
    if (names.find(name) != std::string::npos) continue;
    CHECK_THROWS_AS((void)support::choose_instruction_set(name), steadyfilm::InvalidInput);
  }
}

TEST_CASE("dispatch: the environment decides for the whole run, a test only for a while") {
  const char* asked = std::getenv("STEADYFILM_ISA");
  const InstructionSet chosen = support::choose_instruction_set(asked == nullptr ? "" : asked);
  {
    const support::ForcedInstructionSet outer(support::usable_instruction_sets().back());
    const support::ForcedInstructionSet inner(InstructionSet::baseline);
    CHECK(support::instruction_set() == InstructionSet::baseline);
  }
  CHECK(support::instruction_set() == chosen);
}
