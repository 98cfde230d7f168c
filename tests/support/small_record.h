#pragma once
#include <string>

#include "photo/photo.h"
#include "records/store.h"

namespace squaresight::test {

/// A record as gathered from a job, but made up and small. `edition` tells changed jobs apart.
inline JobRecord small_record(const std::string& job, int edition = 1,
                              const std::string& technician = "T1", int stops = 0) {
    const std::string sheet = "sheet of " + job + ", edition " + std::to_string(edition) + "\n";
    const std::string mount = "mount that all jobs share, 0.3° of tolerance\n";
    const std::string result = "result of " + sheet;
    JobRecord record;
    record.job = job;
    record.technician = technician;
    record.identity = sha256_hex(sheet);
    record.texts = {
        {sha256_hex(sheet), sheet}, {sha256_hex(mount), mount}, {sha256_hex(result), result}};
    const auto file = [](const char* role, const std::string& text) {
        return nlohmann::ordered_json{{"role", role},
                                      {"name", std::string(role) + ".yaml"},
                                      {"sha256", sha256_hex(text)},
                                      {"bytes", text.size()}};
    };
    record.content = {{"identity", record.identity},
                      {"technician", technician},
                      {"files", {file("sheet", sheet), file("mount", mount)}},
                      {"photos", nlohmann::ordered_json::array()},
                      {"result", sha256_hex(result)}};
    SightingFigures figures;
    figures.sighting = 1;
    figures.stage = "as-found";
    figures.technician = technician;
    figures.vision_yaw_left_deg = 0.1 + edition / 3.0;
    figures.vision_yaw_call = "in tolerance";
    figures.stops = stops;
    figures.headline = stops > 0 ? "stop" : "done";
    record.figures = {figures};
    return record;
}

inline StoredOutcome add_one(Store& store, const JobRecord& record) {
    return store.add({record}).front();
}

}  // namespace squaresight::test
