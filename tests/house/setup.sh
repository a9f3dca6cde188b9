# Makes build/venv with the pinned tools and installs the package there, compiled once together with the C++ tests.
# Sourced by tests/run and tests/selfcheck, after which $venv and $tree are ready.

source "$top/python/needs.sh"

venv=$top/build/venv
tree=$top/build/tests
log=$top/build/setup.log

# Tools from the pins, anew whenever the pins, the interpreter or the folder changed.
make_venv() {
  local wanted
  wanted="$top $python3 $("$python3" --version) $(content_hash tests/constraints.txt)"
  [ "$(cat "$venv/pinned" 2>/dev/null)" = "$wanted" ] && return 0
  say "making build/venv with the pinned tools"
  logged "$log" "$python3" -m venv --clear "$venv"
  logged "$log" "$venv/bin/python" -m pip install -r tests/constraints.txt
  logged "$log" "$venv/bin/python" -m pip check
  printf '%s\n' "$wanted" >"$venv/pinned"
}

# The core's objects serve the extension module and the C++ tests alike; an unchanged tree is left as it is.
install_package() {
  local wanted
  wanted="$CXX $(content_hash CMakeLists.txt pyproject.toml README.md LICENSE cpp python datasets tests/cpp tests/fuzz)"
  [ "$(cat "$venv/package" 2>/dev/null)" = "$wanted" ] && [ -x "$tree/tests/cpp/steadyfilm_tests" ] && return 0
  say "compiling the package and the C++ tests in build/tests"
  rm -f "$venv/package"
  # A dropped file must not live on in the installed package.
  logged "$log" "$venv/bin/python" -m pip install --no-build-isolation --no-deps --force-reinstall \
    -C build-dir="$tree" \
    -C build.targets="_core;steadyfilm_tests;replays" \
    -C cmake.define.STEADYFILM_TESTS=ON \
    -C cmake.define.STEADYFILM_WARNINGS_AS_ERRORS=ON \
    .
  printf '%s\n' "$wanted" >"$venv/package"
}

# What tests/run --full needs besides.
full_packages() {
  command -v clang++ >/dev/null || missing_packages+=(clang)
  command -v clang-tidy >/dev/null || missing_packages+=(clang-tidy)
  command -v debootstrap >/dev/null || missing_packages+=(debootstrap)
  install_missing
  if ! printf 'int main() {}' | clang++ -fsanitize=address,undefined -x c++ - -o "$top/build/sanitizer_probe" 2>/dev/null; then
    missing_packages+=("libclang-rt-$(clang++ -dumpversion | cut -d. -f1)-dev")
    install_missing
  fi
}

set_up_tests() {
  mkdir -p "$top/build"
  : >"$log"
  command -v pkg-config >/dev/null || missing_packages+=(pkg-config)
  CXX=$(find_compiler) && has_header doctest/doctest.h || missing_packages+=(doctest-dev)
  need_compiler_and_python
  if command -v ccache >/dev/null; then
    export CMAKE_CXX_COMPILER_LAUNCHER=${CMAKE_CXX_COMPILER_LAUNCHER:-ccache}
  fi
  make_venv
  export PATH="$venv/bin:$PATH"
  unset PYTHONPATH PYTHONHOME
  install_package
}
