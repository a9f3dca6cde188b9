/// @file
/// Which instruction set the kernels run with: the best that this processor has, or the one that STEADYFILM_ISA forces.
///
/// Every set gives the same bits (kernels/vectors.hpp says how), so that the choice is a matter of time alone.
#pragma once

#include <cstdint>
#include <span>
#include <string_view>

namespace steadyfilm::support {

/// Levels of the x86-64 architecture; `baseline` is what the compiler takes without being told, on any processor.
enum class InstructionSet : std::uint8_t { baseline, v3, v4 };

/// "baseline", "v3" or "v4".
[[nodiscard]] std::string_view to_text(InstructionSet set) noexcept;

/// The sets that were built and that this processor can run, slowest first; never empty.
[[nodiscard]] std::span<const InstructionSet> usable_instruction_sets() noexcept;

/// The set that a text asks for; the best usable one for an empty text.
/// @throws InvalidInput  an unknown name, or a set that this processor or this build lacks
[[nodiscard]] InstructionSet choose_instruction_set(std::string_view asked);

/// The set that the kernels run with. The first call reads STEADYFILM_ISA; later changes of it have no effect.
/// @throws InvalidInput  as choose_instruction_set
[[nodiscard]] InstructionSet instruction_set();

/// Another set for as long as this object lives, so that one test run sees them all. Not for use while kernels run.
class ForcedInstructionSet {
 public:
  explicit ForcedInstructionSet(InstructionSet set);
  ~ForcedInstructionSet();
  ForcedInstructionSet(const ForcedInstructionSet&) = delete;
  ForcedInstructionSet& operator=(const ForcedInstructionSet&) = delete;

 private:
  int before_;
};

}  // namespace steadyfilm::support
