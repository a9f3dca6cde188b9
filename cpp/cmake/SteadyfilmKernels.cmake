# Leaf loops, compiled once per instruction set; the caller gets the table of the set chosen at load (support/dispatch.hpp).
#
# FOLDER/STEM.hpp declares, in namespace steadyfilm::kernels::STEM, a struct Table of function pointers and `const Table& table();`.
# FOLDER/STEM.inc opens namespace steadyfilm::kernels::STEM::STEADYFILM_KERNEL_NAMESPACE and defines `extern const Table table`.
# A kernel whose source says MAY_CONTRACT lets the compiler fuse products and sums: its last bits may then differ between sets.
# Written here: one source per instruction set that includes STEM.inc, and one that defines table() by choosing among them.
function(steadyfilm_kernel_sources target folder)
  set(sets baseline)
  if(CMAKE_SYSTEM_PROCESSOR MATCHES "x86_64|AMD64")
    list(APPEND sets v3 v4)
  endif()
  set(flags_baseline "")
  set(flags_v3 -march=x86-64-v3)
  if(CMAKE_CXX_COMPILER_ID STREQUAL "GNU" AND CMAKE_CXX_COMPILER_VERSION VERSION_GREATER_EQUAL 12)
    # Else g++ copies vectors in pieces of 16 bytes, which the processor cannot hand on as one of 32: averages of subgroups
    # take twice as long.
    list(APPEND flags_v3 -mmove-max=256 -mstore-max=256)
  endif()
  set(flags_v4 -march=x86-64-v4 -mprefer-vector-width=512)
  cmake_path(GET folder FILENAME folder_name)
  file(GLOB kernels CONFIGURE_DEPENDS "${folder}/*.inc")
  foreach(kernel IN LISTS kernels)
    cmake_path(GET kernel STEM stem)
    set(declarations "")
    set(choices "")
    file(STRINGS "${kernel}" fused REGEX "MAY_CONTRACT" LIMIT_COUNT 1)
    set(contract "")
    if(fused)
      set(contract -ffp-contract=fast)
    endif()
    foreach(isa IN LISTS sets)
      set(unit "${CMAKE_CURRENT_BINARY_DIR}/${folder_name}/${stem}_${isa}.cpp")
      file(CONFIGURE OUTPUT "${unit}" CONTENT
"#define STEADYFILM_KERNEL_NAMESPACE isa_${isa}
#include \"${kernel}\"
")
      target_sources(${target} PRIVATE "${unit}")
      set_property(SOURCE "${unit}" TARGET_DIRECTORY ${target} APPEND PROPERTY OBJECT_DEPENDS "${kernel}")
      set_property(SOURCE "${unit}" TARGET_DIRECTORY ${target} APPEND PROPERTY COMPILE_OPTIONS ${flags_${isa}} ${contract})
      string(APPEND declarations "namespace isa_${isa} { extern const Table table; }\n")
      if(NOT isa STREQUAL "baseline")
        string(APPEND choices "    case support::InstructionSet::${isa}: return isa_${isa}::table;\n")
      endif()
    endforeach()
    set(chooser "${CMAKE_CURRENT_BINARY_DIR}/${folder_name}/${stem}_table.cpp")
    cmake_path(REPLACE_EXTENSION kernel LAST_ONLY hpp OUTPUT_VARIABLE header)
    file(CONFIGURE OUTPUT "${chooser}" CONTENT
"#include \"${header}\"
#include \"support/dispatch.hpp\"
namespace steadyfilm::kernels::${stem} {
${declarations}
const Table& table() {
  switch (support::instruction_set()) {
${choices}    default: return isa_baseline::table;
  }
}
}
")
    target_sources(${target} PRIVATE "${chooser}")
  endforeach()
endfunction()
