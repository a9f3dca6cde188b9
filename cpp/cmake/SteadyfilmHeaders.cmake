# Eigen and Boost.Math, headers only and private to the core: users of the installed package need neither.
#
# Python builds use pinned header wheels, so that a compiler is all that a machine needs; they are looked for where the
# building interpreter finds its packages (an isolated build keeps them in a folder that no prefix names), or in
# STEADYFILM_HEADER_WHEELS. Plain CMake builds, and those with STEADYFILM_SYSTEM_HEADERS=1 in the environment, use the system's.
set(STEADYFILM_HEADER_WHEELS "" CACHE PATH "site-packages folder that holds the header wheels")

set(wheel_folders "")
if(NOT "$ENV{STEADYFILM_SYSTEM_HEADERS}" STREQUAL "1")
  list(APPEND wheel_folders ${STEADYFILM_HEADER_WHEELS})
  if(SKBUILD)
    execute_process(COMMAND "${Python_EXECUTABLE}" -c "import sys; print(';'.join(sys.path), end='')"
                    OUTPUT_VARIABLE search_path COMMAND_ERROR_IS_FATAL ANY)
    list(APPEND wheel_folders ${search_path})
  endif()
endif()

set(wheel_boost "wheel_boost-NOTFOUND")
set(wheel_eigen "wheel_eigen-NOTFOUND")
foreach(folder IN LISTS wheel_folders)
  if(EXISTS "${folder}/libboost_headers/include/boost/math/distributions/normal.hpp")
    set(wheel_boost "${folder}/libboost_headers/include")
  endif()
  if(EXISTS "${folder}/cmeel.prefix/include/eigen3/Eigen/Core")
    set(wheel_eigen "${folder}/cmeel.prefix/include/eigen3")
  endif()
endforeach()

add_library(steadyfilm_boost INTERFACE)
target_compile_definitions(steadyfilm_boost INTERFACE BOOST_MATH_NO_LONG_DOUBLE_MATH_FUNCTIONS)
if(wheel_boost)
  target_include_directories(steadyfilm_boost SYSTEM INTERFACE "${wheel_boost}")
else()
  find_path(STEADYFILM_BOOST_INCLUDE boost/math/distributions/normal.hpp)
  if(NOT STEADYFILM_BOOST_INCLUDE)
    message(FATAL_ERROR "Boost.Math headers not found. Install one of:\n"
      "  apt-get install libboost-dev | brew install boost | vcpkg install boost-math | conda install libboost-headers\n"
      "or name a site-packages folder that holds the wheel libboost-headers in STEADYFILM_HEADER_WHEELS.")
  endif()
  target_include_directories(steadyfilm_boost SYSTEM INTERFACE "${STEADYFILM_BOOST_INCLUDE}")
endif()


# Only the files named here see Eigen, so that no other one pays for it. No version is asked for: no single request finds both
# Eigen 3.4 and 5.
function(steadyfilm_eigen_sources)
  set(folder "${wheel_eigen}")
  if(NOT folder)
    find_path(STEADYFILM_EIGEN_INCLUDE Eigen/Core PATH_SUFFIXES eigen3)
    set(folder "${STEADYFILM_EIGEN_INCLUDE}")
  endif()
  if(NOT folder)
    message(FATAL_ERROR "Eigen headers not found. Install one of:\n"
      "  apt-get install libeigen3-dev | brew install eigen | vcpkg install eigen3 | conda install eigen\n"
      "or name a site-packages folder that holds the wheel cmeel-eigen in STEADYFILM_HEADER_WHEELS.")
  endif()
  set_property(SOURCE ${ARGN} APPEND PROPERTY COMPILE_OPTIONS "-isystem${folder}")
  set_property(SOURCE ${ARGN} APPEND PROPERTY COMPILE_DEFINITIONS EIGEN_MPL2_ONLY EIGEN_DONT_PARALLELIZE)
endfunction()
