# One leaf-loop file, compiled once per instruction set; the caller picks at load (support/dispatch.hpp).
#
# src/kernels/STEM.inc is included by a generated source that defines STEADYFILM_KERNEL_NAMESPACE; the file opens that namespace itself.
function(steadyfilm_kernel_sources target)
  set(sets baseline)
  if(CMAKE_SYSTEM_PROCESSOR MATCHES "x86_64|AMD64")
    list(APPEND sets v3 v4)
  endif()
  file(GLOB kernels CONFIGURE_DEPENDS "${PROJECT_SOURCE_DIR}/cpp/src/kernels/*.inc")
  foreach(kernel IN LISTS kernels)
    cmake_path(GET kernel STEM stem)
    foreach(isa IN LISTS sets)
      set(unit "${PROJECT_BINARY_DIR}/kernels/${stem}_${isa}.cpp")
      file(CONFIGURE OUTPUT "${unit}" CONTENT
"#define STEADYFILM_KERNEL_NAMESPACE isa_${isa}
#include \"kernels/${stem}.inc\"
")
      target_sources(${target} PRIVATE "${unit}")
      set_property(SOURCE "${unit}" TARGET_DIRECTORY ${target} APPEND PROPERTY OBJECT_DEPENDS "${kernel}")
      if(isa STREQUAL "v3")
        set_property(SOURCE "${unit}" TARGET_DIRECTORY ${target} APPEND PROPERTY COMPILE_OPTIONS -march=x86-64-v3)
      elseif(isa STREQUAL "v4")
        set_property(SOURCE "${unit}" TARGET_DIRECTORY ${target} APPEND PROPERTY COMPILE_OPTIONS -march=x86-64-v4 -mprefer-vector-width=512)
      endif()
    endforeach()
  endforeach()
endfunction()
