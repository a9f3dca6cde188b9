#include "reference.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <ostream>
#include <set>
#include <sstream>
#include <stdexcept>

namespace reference {
namespace {

namespace fs = std::filesystem;

std::map<std::string, Adapter>& adapters() {
  static std::map<std::string, Adapter> all;
  return all;
}

using Row = std::map<std::string, std::string>;

// RFC 4180: quoted fields may hold commas, doubled quotes and line ends.
std::vector<std::vector<std::string>> read_csv(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) throw std::runtime_error("cannot read " + file.string());
  std::vector<std::vector<std::string>> lines;
  std::vector<std::string> fields;
  std::string field;
  bool quoted = false;
  bool any = false;
  char c = 0;
  const auto end_field = [&] {
    fields.push_back(std::move(field));
    field.clear();
  };
  const auto end_line = [&] {
    end_field();
    lines.push_back(std::move(fields));
    fields.clear();
    any = false;
  };
  while (in.get(c)) {
    if (quoted) {
      if (c == '"' && in.peek() == '"') {
        field += '"';
        in.get(c);
      } else if (c == '"')
        quoted = false;
      else
        field += c;
    } else if (c == '"') {
      quoted = true;
      any = true;
    } else if (c == ',') {
      end_field();
      any = true;
    } else if (c == '\n') {
      if (any || !field.empty()) end_line();
    } else if (c != '\r') {
      field += c;
      any = true;
    }
  }
  if (any || !field.empty()) end_line();
  return lines;
}

std::vector<Row> read_rows(const fs::path& file) {
  const auto lines = read_csv(file);
  std::vector<Row> rows;
  for (std::size_t i = 1; i < lines.size(); ++i) {
    Row row;
    for (std::size_t j = 0; j < lines[0].size(); ++j) row[lines[0][j]] = j < lines[i].size() ? lines[i][j] : "";
    rows.push_back(std::move(row));
  }
  return rows;
}

double to_number(const std::string& text) {
  double value = 0.0;
  const char* first = text.data() + (text.starts_with('+') ? 1 : 0);
  const char* last = text.data() + text.size();
  const auto [end, code] = std::from_chars(first, last, value);
  if (code != std::errc{} || end != last) throw std::runtime_error("'" + text + "' is not a number");
  return value;
}

List to_list(const std::string& text) {
  List values;
  std::istringstream in(text);
  for (std::string word; in >> word;) values.push_back(to_number(word));
  return values;
}

std::string strip_brackets(const std::string& text) {
  if (text.size() >= 2 && text.front() == '[' && text.back() == ']') return text.substr(1, text.size() - 2);
  return text;
}

// Half a unit of the last honest digit, plus 1e-6 of it for exact halves.
double allowance(const std::string& printed, const std::string& mode, int digits) {
  int place = digits;
  if (mode == "significant") {
    const double size = std::abs(to_number(printed));
    if (size == 0.0) return 0.0;
    // The exponent of the printed text itself: log10 may fall on the wrong side of a power of ten.
    std::ostringstream out;
    out.precision(16);
    out << std::scientific << size;
    const std::string shown = out.str();
    place = digits - 1 - std::stoi(shown.substr(shown.find('e') + 1));
  }
  return 0.5 * std::pow(10.0, -place) * (1.0 + 1e-6);
}

bool agrees(double value, const std::string& printed, const std::string& mode, int digits) {
  const double expected = to_number(printed);
  if (mode == "exact") return value == expected;
  return std::abs(value - expected) <= allowance(printed, mode, digits);
}

std::string show(double value) {
  std::ostringstream out;
  out.precision(17);
  out << value;
  return out.str();
}

// Empty when the row passes, else what is wrong.
std::string judge(const Row& row, const Found& found) {
  const std::string quantity = row.at("quantity");
  const std::string expected = row.at("expected");
  if (row.at("mode") == "list") {
    const auto it = found.lists.find(quantity);
    if (it == found.lists.end()) return "gives no list " + quantity;
    return it->second == to_list(strip_brackets(expected)) ? "" : "list differs from " + expected;
  }
  if (const auto word = found.words.find(quantity); word != found.words.end()) {
    return word->second == expected ? "" : "gives " + word->second + ", expected " + expected;
  }
  double value = 0.0;
  if (quantity.ends_with(']')) {
    const auto open = quantity.find('[');
    const auto it = found.lists.find(quantity.substr(0, open));
    const auto i = static_cast<std::size_t>(std::stoul(quantity.substr(open + 1)));
    if (it == found.lists.end() || i == 0 || i > it->second.size()) return "gives no " + quantity;
    value = it->second[i - 1];
  } else if (const auto it = found.numbers.find(quantity); it != found.numbers.end()) {
    value = it->second;
  } else {
    return "gives no " + quantity;
  }
  const std::string mode = row.at("mode");
  const int digits = std::stoi(row.at("digits"));
  const bool misprint = row.at("print_error") == "1";
  if (misprint && agrees(value, expected, mode, digits)) return "agrees with the print that is marked as wrong";
  const std::string& wanted = misprint ? row.at("computed") : expected;
  if (!agrees(value, wanted, mode, digits)) return "gives " + show(value) + ", expected " + wanted;
  return "";
}

std::set<std::string> read_waiting(const fs::path& folder) {
  std::set<std::string> names;
  std::ifstream in(folder / "waiting.txt");
  for (std::string line; std::getline(in, line);) {
    std::istringstream words(line);
    std::string name;
    if (words >> name && !name.starts_with('#')) names.insert(name);
  }
  return names;
}

}  // namespace

Args::Args(const std::string& text, std::string folder) : folder_(std::move(folder)) {
  std::istringstream in(text);
  for (std::string pair; std::getline(in, pair, '|');) {
    const auto equals = pair.find('=');
    if (equals == std::string::npos) throw std::runtime_error("argument without '=': " + pair);
    texts_[pair.substr(0, equals)] = pair.substr(equals + 1);
  }
}

const std::string& Args::word(const std::string& name) const {
  const auto it = texts_.find(name);
  if (it == texts_.end()) throw std::runtime_error("no argument " + name);
  return it->second;
}

double Args::number(const std::string& name) const { return to_number(word(name)); }

double Args::number_or(const std::string& name, double otherwise) const { return has(name) ? number(name) : otherwise; }

std::size_t Args::count(const std::string& name) const { return static_cast<std::size_t>(number(name)); }

Matrix Args::matrix(const std::string& name) const {
  const std::string& text = word(name);
  Matrix rows;
  if (text.starts_with('@')) {
    const auto lines = read_csv(fs::path(folder_) / text.substr(1));
    std::vector<std::size_t> columns;
    for (std::size_t j = 0; j < lines.at(0).size(); ++j) {
      if (lines[0][j] == name || lines[0][j].starts_with(name + "_")) columns.push_back(j);
    }
    if (columns.empty()) throw std::runtime_error("no column " + name + " in " + text);
    for (std::size_t i = 1; i < lines.size(); ++i) {
      List row;
      for (const std::size_t j : columns) row.push_back(to_number(lines[i].at(j)));
      rows.push_back(std::move(row));
    }
    return rows;
  }
  std::istringstream in(strip_brackets(text));
  for (std::string row; std::getline(in, row, ';');) rows.push_back(to_list(row));
  return rows;
}

List Args::list(const std::string& name) const {
  const std::string& text = word(name);
  if (!text.starts_with('@')) return to_list(strip_brackets(text));
  const auto lines = read_csv(fs::path(folder_) / text.substr(1));
  const auto column = std::find(lines.at(0).begin(), lines[0].end(), name);
  if (column == lines[0].end()) throw std::runtime_error("no column " + name + " in " + text);
  const auto j = static_cast<std::size_t>(column - lines[0].begin());
  List values;
  for (std::size_t i = 1; i < lines.size(); ++i) {
    if (!lines[i].at(j).empty()) values.push_back(to_number(lines[i][j]));
  }
  return values;
}

std::vector<std::string> Args::words(const std::string& name) const {
  std::vector<std::string> all;
  std::istringstream in(strip_brackets(word(name)));
  for (std::string one; in >> one;) all.push_back(one);
  return all;
}

Register::Register(const std::string& calc, Adapter adapter) { adapters()[calc] = std::move(adapter); }

Counts run_folder(const std::string& folder, std::ostream& out, const std::string& project) {
  const fs::path top(folder);
  const fs::path rows_folder = fs::is_directory(top / "rows") ? top / "rows" : top;
  auto waiting = read_waiting(top);
  waiting.merge(read_waiting(rows_folder));
  waiting.merge(read_waiting(project));
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(rows_folder)) {
    if (entry.path().extension() == ".csv") files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());

  Counts total;
  for (const auto& name : waiting) {
    if (adapters().contains(name)) {
      out << "FAIL " << name << " stands in waiting.txt, yet has an adapter\n";
      ++total.failed;
    }
  }
  for (const auto& file : files) {
    int run = 0;
    int present = 0;
    std::string last_key;
    Found found;
    std::string trouble;
    const bool built = fs::exists(fs::path(project) / "rows" / file.filename());
    for (const auto& row : read_rows(file)) {
      ++present;
      if (!built) {
        ++total.not_built;
        continue;
      }
      const std::string& calc = row.at("calc");
      const auto adapter = adapters().find(calc);
      if (adapter == adapters().end()) {
        if (waiting.contains(calc)) {
          ++total.waiting;
          continue;
        }
        out << "FAIL " << row.at("case") << ": no adapter for " << calc << "\n";
        ++total.failed;
        continue;
      }
      ++run;
      // Rows of one call follow one another; compute it once.
      if (const std::string key = calc + "|" + row.at("args"); key != last_key) {
        last_key = key;
        found = {};
        trouble.clear();
        try {
          found = adapter->second(Args(row.at("args"), rows_folder.string()));
        } catch (const std::exception& error) {
          trouble = std::string("threw: ") + error.what();
        }
      }
      std::string wrong = trouble;
      try {
        if (wrong.empty()) wrong = judge(row, found);
      } catch (const std::exception& error) {
        wrong = std::string("row unreadable: ") + error.what();
      }
      if (wrong.empty())
        ++total.passed;
      else {
        ++total.failed;
        out << "FAIL " << row.at("case") << " " << calc << " " << row.at("quantity") << ": " << wrong << "\n";
      }
    }
    out << file.stem().string() << ": " << run << " of " << present << " rows run" << (built ? "" : ", not built")
        << "\n";
  }
  return total;
}

}  // namespace reference
