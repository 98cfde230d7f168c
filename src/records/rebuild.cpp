#include "records/rebuild.h"

#include <fmt/format.h>
#include <stdlib.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <set>

#include "adjust/reliability.h"

namespace squaresight {
namespace {

using Json = nlohmann::ordered_json;

bool is_skipped(const std::string& key) {
    static const std::set<std::string> skipped{"schema", "job",  "program", "inputs",
                                               "text",   "file", "culprit"};
    return skipped.contains(key);
}

/// Level and code of each finding that a job without its pictures, alone, shows too.
std::multiset<std::string> codes_of(const Json& findings) {
    static const std::set<std::string> of_picture{"photo-blurred", "photo-dark", "target-not-found",
                                                  "few-corners", "photo-of-other-job"};
    std::multiset<std::string> codes;
    for (const auto& finding : findings) {
        const auto code = finding.at("code").get<std::string>();
        if (!of_picture.contains(code)) {
            codes.insert(finding.at("level").get<std::string>() + " " + code);
        }
    }
    return codes;
}

/// A budget stands largest first; equal inputs may change places.
Json by_source(Json budget) {
    std::sort(budget.begin(), budget.end(), [](const Json& a, const Json& b) {
        return a.at("source").get<std::string>() < b.at("source").get<std::string>();
    });
    return budget;
}

class Comparison {
  public:
    std::vector<ResultChange> changes;

    void compare(const Json& before, const Json& after, const std::string& where) {
        if (before.is_object() && after.is_object()) {
            compare_objects(before, after, where);
        } else if (before.is_array() && after.is_array() && before.size() == after.size()) {
            for (std::size_t i = 0; i < before.size(); ++i) {
                compare(before[i], after[i], fmt::format("{}[{}]", where, i + 1));
            }
        } else if (before.is_number() && after.is_number()) {
            const double was = before.get<double>();
            const double by = after.get<double>() - was;
            if (std::abs(by) > rounding * std::max(1.0, std::abs(was))) {
                changes.push_back({where, before.dump(), after.dump(), by});
            }
        } else if (before != after) {
            changes.push_back({where, brief(before), brief(after), std::nullopt});
        }
    }

  private:
    static std::string brief(const Json& json) {
        return json.is_array()    ? fmt::format("{} of them", json.size())
               : json.is_object() ? "given"
                                  : json.dump();
    }

    /// A reading's smallest findable error goes as 1 / sqrt(redundancy): where that is too small to
    /// test by, it repeats the rounding of the redundancy, a thousandfold.
    static bool is_untestable(const std::string& key, const Json& reading) {
        return key == "findable" && reading.value("redundancy", 1.0) <= least_redundancy;
    }

    void compare_objects(const Json& before, const Json& after, const std::string& where) {
        for (const auto& [key, value] : before.items()) {
            if (is_skipped(key) || is_untestable(key, before)) {
                continue;
            }
            const std::string inside =
                where.empty() || where.ends_with(": ") ? where + key : where + "." + key;
            if (key == "findings") {
                compare_findings(value, after.value(key, Json::array()), inside);
            } else if (key == "budget") {
                compare(by_source(value), by_source(after.value(key, Json::array())), inside);
            } else {
                compare(value, after.value(key, Json()), inside);
            }
        }
    }

    void compare_findings(const Json& before, const Json& after, const std::string& where) {
        const auto was = codes_of(before);
        const auto is = codes_of(after);
        if (was != is) {
            changes.push_back({where, fmt::format("{}", fmt::join(was, ", ")),
                               fmt::format("{}", fmt::join(is, ", ")), std::nullopt});
        }
    }
};

/// A folder of its own, gone with its owner.
class TemporaryFolder {
  public:
    TemporaryFolder() {
        std::string name = (std::filesystem::temp_directory_path() / "squaresight-XXXXXX").string();
        if (::mkdtemp(name.data()) == nullptr) {
            throw InputError(name, "cannot be made", "check the folder for temporary files");
        }
        path_ = name;
    }
    ~TemporaryFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;
    const std::filesystem::path& path() const { return path_; }

  private:
    std::filesystem::path path_;
};

}  // namespace

std::vector<ResultChange> result_changes(const Json& before, const Json& after) {
    Comparison comparison;
    const Json& stages = before.at("sightings");
    if (stages.size() != after.at("sightings").size()) {
        return {{"sightings", fmt::format("{}", stages.size()),
                 fmt::format("{}", after.at("sightings").size()), std::nullopt}};
    }
    for (std::size_t i = 0; i < stages.size(); ++i) {
        comparison.compare(stages[i], after.at("sightings")[i],
                           fmt::format("{} {}: ", i + 1, stages[i].at("stage").get<std::string>()));
    }
    comparison.compare(Json{{"findings", before.at("findings")}},
                       Json{{"findings", after.at("findings")}}, "job: ");
    return comparison.changes;
}

JobResult measure_stored(Store& store, const RecordEntry& entry) {
    const TemporaryFolder folder;
    const auto text_of = [&](const std::string& sha256) { return store.stored_text(sha256); };
    const auto alone = folder.path() / "job";  // beside no other job
    return measure_sheet(write_job_files(entry.content, text_of, alone));
}

RebuiltJob rebuild_job(Store& store, const RecordEntry& entry) {
    RebuiltJob rebuilt;
    rebuilt.job = entry.job;
    rebuilt.revision = entry.revision;
    rebuilt.seq = entry.seq;
    try {
        const Json before = Json::parse(store.stored_text(entry.content.at("result")));
        rebuilt.measured_by = before.at("program").get<std::string>();
        const JobResult again = measure_stored(store, entry);
        rebuilt.changes = result_changes(before, Json::parse(result_json(again)));
    } catch (const InputError& error) {
        rebuilt.failure = error.what();
    } catch (const Json::exception&) {
        rebuilt.failure = "what is stored of it cannot be read: run squaresight records verify";
    }
    return rebuilt;
}

}  // namespace squaresight
