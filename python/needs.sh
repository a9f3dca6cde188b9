# What the commands need from the machine; sourced by python/demo and the commands under tests.
# As root on Debian the missing packages are named and installed; otherwise the line to type is printed and the command
# stops. Nothing is ever installed into the system's Python.

say() { printf '%s\n' "$*"; }

missing_packages=()

# A Python of 3.11 or later that can make virtual environments and build extensions. The first python3 on the path may lack
# one of the two (a distribution splits them off), so all of them are asked; prints the interpreter behind a shim.
find_python() {
  local candidate real
  while read -r candidate; do
    [ -x "$candidate" ] || continue
    if real=$("$candidate" -c '
import ensurepip, os, sys, sysconfig, venv
if sys.version_info >= (3, 11) and os.path.exists(os.path.join(sysconfig.get_path("include"), "Python.h")):
    print(getattr(sys, "_base_executable", sys.executable))' 2>/dev/null) && [ -n "$real" ]; then
      printf '%s\n' "$real"
      return 0
    fi
  done < <(printf '%s\n' "${STEADYFILM_PYTHON:-}"; type -aP python3 python3.11 python3.12 python3.13 python3.14 || true)
  return 1
}

# A compiler that knows C++20; CMake takes the same one from CXX.
find_compiler() {
  local candidate
  for candidate in "${CXX:-}" c++ g++ clang++; do
    [ -n "$candidate" ] || continue
    if printf '#include <span>\nstd::span<const double> view;\n' | $candidate -std=c++20 -x c++ -fsyntax-only - 2>/dev/null; then
      printf '%s\n' "$candidate"
      return 0
    fi
  done
  return 1
}

has_header() { printf '#include <%s>\n' "$1" | $CXX -x c++ -E - >/dev/null 2>&1; }

install_missing() {
  [ ${#missing_packages[@]} -gt 0 ] || return 0
  if ! command -v apt-get >/dev/null; then
    say "This machine lacks what Debian calls: ${missing_packages[*]}"
    say "Install their like, then run this again."
    exit 1
  fi
  if [ "$(id -u)" != 0 ]; then
    say "Missing: ${missing_packages[*]}. As root, type:"
    say "  apt-get update && apt-get install --yes --no-install-recommends ${missing_packages[*]}"
    exit 1
  fi
  say "installing Debian packages: ${missing_packages[*]}"
  apt-get update -qq
  DEBIAN_FRONTEND=noninteractive apt-get install --yes -qq --no-install-recommends "${missing_packages[@]}" >/dev/null
  missing_packages=()
}

# Sets CXX and python3, installing what is missing; further packages may stand in missing_packages.
need_compiler_and_python() {
  CXX=$(find_compiler) || missing_packages+=(g++)
  python3=$(find_python) || missing_packages+=(python3 python3-venv python3-dev)
  install_missing
  CXX=$(find_compiler) || { say "No compiler here knows C++20; name one in CXX."; exit 1; }
  python3=$(find_python) || { say "No Python 3.11 or later with venv and headers; name one in STEADYFILM_PYTHON."; exit 1; }
  export CXX
}

# One word for the content of the given files and folders, so that an unchanged tree is not installed twice; a name that is
# not there counts as empty.
content_hash() {
  local name present=()
  for name in "$@"; do
    if [ -e "$name" ]; then present+=("$name"); fi
  done
  find "${present[@]}" -type f -not -path '*/__pycache__/*' -not -name '*.so' -print0 | LC_ALL=C sort -z |
    xargs -0 sha256sum | sha256sum | cut -c1-64
}

# Runs a command with its output in a log; shows the end of the log when it fails.
logged() {
  local log=$1
  shift
  if ! "$@" >>"$log" 2>&1 </dev/null; then
    tail -n 40 "$log"
    say "failed: $* (all of it in $log)"
    exit 1
  fi
}
