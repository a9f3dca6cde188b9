// The one include of pybind11: the same casters everywhere, and Python's header first.
#pragma once

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include <steadyfilm/core.hpp>
#include <steadyfilm/run_rules.hpp>

namespace py = pybind11;
using namespace pybind11::literals;

/// C-order arrays of exactly this type. Bind them with .noconvert(): converting is the work of _input.py, so that no
/// copy happens unseen.
template <typename T>
using Array = py::array_t<T, py::array::c_style>;

/// Refuse what no span can be: more dimensions than one, or numbers that do not lie at a multiple of their size, as a
/// view into a file's bytes may have them. The wrappers copy such views.
template <typename T>
void require_plain(const Array<T>& array, const char* name) {
  if (array.ndim() != 1) {
    throw steadyfilm::InvalidInput("binding", name, "must have one dimension, got " + std::to_string(array.ndim()));
  }
  if (reinterpret_cast<std::uintptr_t>(array.data()) % alignof(T) != 0) {
    throw steadyfilm::InvalidInput("binding", name, "must be aligned in memory; copy it first");
  }
}

/// View a one-dimensional array without copying; the caller keeps the array alive.
template <typename T>
std::span<const T> as_span(const Array<T>& array, const char* name) {
  require_plain(array, name);
  return {array.data(), static_cast<std::size_t>(array.size())};
}

/// Writable view of an array that the wrapper allocated.
template <typename T>
std::span<T> as_output(Array<T>& array, const char* name) {
  require_plain(array, name);
  return {array.mutable_data(), static_cast<std::size_t>(array.size())};
}

/// Hand a vector's memory to NumPy without a copy.
template <typename T>
py::array_t<T> to_array(std::vector<T>&& values) {
  auto* owned = new std::vector<T>(std::move(values));
  const py::capsule owner(owned, [](void* p) { delete static_cast<std::vector<T>*>(p); });
  return py::array_t<T>(static_cast<py::ssize_t>(owned->size()), owned->data(), owner);
}

/// The three numbers of a chart's lines, as the wrapper's dataclass expects them.
inline py::dict to_dict(const steadyfilm::ControlLimits& limits) {
  return py::dict("lower"_a = limits.lower, "center"_a = limits.center, "upper"_a = limits.upper);
}

/// Signals as one array a field.
inline py::dict to_dict(const std::vector<steadyfilm::RuleSignal>& signals) {
  const auto size = static_cast<py::ssize_t>(signals.size());
  py::array_t<std::int64_t> point(size), rule(size), side(size), length(size);
  std::int64_t* out[] = {point.mutable_data(), rule.mutable_data(), side.mutable_data(), length.mutable_data()};
  {
    const py::gil_scoped_release unlocked;
    for (std::size_t i = 0; i < signals.size(); ++i) {
      out[0][i] = static_cast<std::int64_t>(signals[i].point);
      out[1][i] = static_cast<std::int64_t>(signals[i].rule);
      out[2][i] = signals[i].side;
      out[3][i] = static_cast<std::int64_t>(signals[i].length);
    }
  }
  return py::dict("point"_a = point, "rule"_a = rule, "side"_a = side, "length"_a = length);
}

/// Translate the core's exceptions into the classes of steadyfilm.errors.
inline void register_errors() {
  // pybind11 asks for exactly this signature, by value.
  py::register_exception_translator([](std::exception_ptr raised) {  // NOLINT(performance-unnecessary-value-param)
    try {
      if (raised) std::rethrow_exception(raised);
    } catch (const steadyfilm::InvalidInput& error) {
      const py::object kind = py::module_::import("steadyfilm.errors").attr("InvalidInputError");
      const py::object made = kind(error.what(), "function"_a = error.function(), "argument"_a = error.argument(),
                                   "position"_a = error.position());
      PyErr_SetObject(kind.ptr(), made.ptr());
    }
  });
}
