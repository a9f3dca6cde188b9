// Published acceptance rules as data, each with how its parts are known. No rule text was at hand whole: excerpts of
// public pages, or memory, as the facts say. What a contract names is the document itself, not these figures.
#include <string>
#include <vector>

#include <steadyfilm/core.hpp>
#include <steadyfilm/film_thickness.hpp>

namespace steadyfilm {

namespace {

constexpr auto seen = "seen in excerpt";
constexpr auto memory = "from memory";

constexpr auto pa2_text = "excerpts of the rule's text (1996 to 2018) and public lecture slides";
constexpr auto steel_text = "catalogue entry, inspection guides and an applicator's rule sheet";

/// Spot limits of levels 1 to 5; the area mean keeps the window's ends, but for level 5 above.
struct Level {
  double spot_lower;
  std::optional<double> spot_upper;
  std::optional<double> area_upper;
  const char* how;
};

const std::vector<Level>& levels() {
  static const std::vector<Level> all = {
      {1.0, 1.0, 1.0, "seen in excerpt: the strictest, admits no deviation"},
      {1.0, 1.2, 1.0, memory},
      {0.8, 1.2, 1.0, seen},
      {0.8, 1.5, 1.0, memory},
      {0.8, std::nullopt, std::nullopt, memory},
  };
  return all;
}

}  // namespace

AcceptanceRule area_rule(int level) {
  if (level < 1 || level > 5) {
    throw InvalidInput("area_rule", "level", "must be 1 (strictest) to 5, got " + std::to_string(level));
  }
  const Level& found = levels()[static_cast<std::size_t>(level) - 1];
  AcceptanceRule rule;
  rule.name = "SSPC-PA 2, level " + std::to_string(level);
  rule.edition = "2015 with the editorial changes of 2017/2018";
  rule.spot = {.lower = found.spot_lower, .upper = found.spot_upper};
  rule.area = {.lower = 1.0, .upper = found.area_upper};
  rule.readings_per_spot = 3;
  rule.spots_per_area = 5;
  rule.areas_ft2 = {.steps = {{100.0, 1}, {200.0, 2}, {1000.0, 3}}, .further = 1000.0, .more = 1};
  rule.areas_m2 = {.steps = {{10.0, 1}, {20.0, 2}, {100.0, 3}}, .further = 100.0, .more = 1};
  rule.one_unit_system = true;
  rule.single_value_share = 0.2;
  rule.facts = {
      {"limits of level " + std::to_string(level), found.how, pa2_text},
      {"three readings a spot, five spots an area, readings free", seen, pa2_text},
      {"number of areas by surface, in each unit system by itself", seen, pa2_text},
      {"level 3 where the contract names none", memory, "one contractor's specification asks for it"},
      {"a single value stands for value -+ 20 %", seen, "comparison of the texts of 2004 and 2012"},
  };
  return rule;
}

AcceptanceRule rough_steel_rule(bool share_allowed) {
  AcceptanceRule rule;
  rule.name = share_allowed ? "ISO 19840, 80 % rule, at most 20 % of readings thin"
                            : "ISO 19840, 80 % rule, less than 20 % of readings thin";
  rule.edition = "2012";
  rule.reading = {.lower = 0.8, .upper = 1.0};
  rule.area = {.lower = 1.0, .upper = std::nullopt};
  rule.thin_share = 0.2;
  rule.thin_share_allowed = share_allowed;
  rule.readings_m2 = {
      .steps = {{1.0, 5}, {3.0, 10}, {10.0, 15}, {30.0, 20}, {100.0, 30}}, .further = 100.0, .more = 10};
  rule.lowest_nominal_um = 40.0;
  rule.facts = {
      {"mean at least nominal, every reading at least 80 % of it", seen, steel_text},
      {share_allowed ? "at most 20 % of readings below nominal" : "less than 20 % of readings below nominal",
       share_allowed ? "seen in excerpt, as the trade words it" : memory, steel_text},
      {"blasted steel, nominal at least 40 um", seen, "catalogue entry"},
      {"20 readings to 30 m2, 30 to 100 m2, then 10 for each 100 m2 or part", seen,
       "Francis, JPCL, December 2009, table in excerpt"},
      {"5, 10, 15 readings to 1, 3, 10 m2", memory, ""},
      {"a largest reading only as agreed, often 3 times nominal", memory, ""},
  };
  return rule;
}

AcceptanceRule ninety_ten_rule() {
  AcceptanceRule rule;
  rule.name = "90/10 rule of IMO MSC.215(82)";
  rule.edition = "2006";
  rule.reading = {.lower = 0.9, .upper = 1.0};
  rule.thin_share = 0.1;
  rule.facts = {
      {"at least 90 % of readings at nominal, none below 90 % of it", seen, "a page that cites the resolution"},
      {"year of the resolution", memory, ""},
  };
  return rule;
}

const std::vector<RoughnessCorrection>& roughness_corrections() {
  static const std::vector<RoughnessCorrection> all = {
      {"fine", 10.0, seen},
      {"medium", 25.0, seen},
      {"coarse", 40.0, seen},
      {"unknown", 25.0, memory},
  };
  return all;
}

}  // namespace steadyfilm
