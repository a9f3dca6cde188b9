// Runs rows of tests/reference/rows (schema in tests/reference/README.md) through one adapter per computation.
#pragma once

#include <functional>
#include <iosfwd>
#include <map>
#include <string>
#include <vector>

namespace reference {

using List = std::vector<double>;
using Matrix = std::vector<List>;

/// Arguments of one row, as text until an adapter asks for a type.
class Args {
 public:
  Args(const std::string& text, std::string folder);

  [[nodiscard]] bool has(const std::string& name) const { return texts_.contains(name); }
  /// @throws std::runtime_error  the argument is absent or not of that type
  [[nodiscard]] const std::string& word(const std::string& name) const;
  [[nodiscard]] double number(const std::string& name) const;
  [[nodiscard]] double number_or(const std::string& name, double otherwise) const;
  [[nodiscard]] std::size_t count(const std::string& name) const;
  [[nodiscard]] List list(const std::string& name) const;  ///< `[1 2 3]`, a lone number, or a column of a data file
  [[nodiscard]] std::vector<std::string> words(const std::string& name) const;
  [[nodiscard]] Matrix matrix(const std::string& name) const;

 private:
  std::map<std::string, std::string> texts_;
  std::string folder_;
};

/// What an adapter gives back: numbers, and lists (`quantity[i]` counts from 1).
struct Found {
  std::map<std::string, double> numbers;
  std::map<std::string, List> lists;
  std::map<std::string, std::string> words;
};

using Adapter = std::function<Found(const Args&)>;

/// Registers an adapter at start-up: `const reference::Register r("name", [](const reference::Args& a) {...});`
struct Register {
  Register(const std::string& calc, Adapter adapter);
};

struct Counts {
  int passed = 0;
  int failed = 0;
  int waiting = 0;    ///< rows whose computation stands in waiting.txt
  int not_built = 0;  ///< rows of topics that the project does not have
};

/// Run every row of `folder`/*.csv (or `folder`/rows/*.csv) and print one line a stem, one line a failure.
///
/// `project` is the project's own folder: a stem is built when its rows stand there; rows of other stems are counted,
/// not failed. A row of a built stem without an adapter fails, unless its computation stands in waiting.txt of the
/// project or beside the rows; a name there that has an adapter fails too.
Counts run_folder(const std::string& folder, std::ostream& out, const std::string& project);

}  // namespace reference
