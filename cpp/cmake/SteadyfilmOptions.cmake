# Warnings and sanitizers that every target of the project shares.
add_library(steadyfilm_options INTERFACE)
target_compile_options(steadyfilm_options INTERFACE
  -Wall -Wextra -Wpedantic -Wconversion -Wshadow
  # Same bits everywhere: a fused multiply-add would round differently from one processor to the next.
  -ffp-contract=off)
if(STEADYFILM_WARNINGS_AS_ERRORS)
  target_compile_options(steadyfilm_options INTERFACE -Werror)
endif()
if(STEADYFILM_FUZZ)
  set(STEADYFILM_SANITIZE ON)
  target_compile_options(steadyfilm_options INTERFACE -fsanitize=fuzzer-no-link)
endif()
if(STEADYFILM_SANITIZE)
  target_compile_options(steadyfilm_options INTERFACE
    -fsanitize=address,undefined -fno-sanitize-recover=undefined -fno-omit-frame-pointer)
  target_link_options(steadyfilm_options INTERFACE -fsanitize=address,undefined)
endif()
