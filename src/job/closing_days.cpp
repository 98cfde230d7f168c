#include "job/closing_days.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdio>

#include "units/entry.h"
#include "units/error.h"

namespace squaresight {
namespace {

using std::chrono::days;
using std::chrono::sys_days;

constexpr std::size_t day_letters = 10;

sys_days parsed(const std::string& day) {
    int year = 0;
    unsigned month = 0, number = 0;
    std::sscanf(day.c_str(), "%4d-%2u-%2u", &year, &month, &number);
    return std::chrono::year_month_day(std::chrono::year(year), std::chrono::month(month),
                                       std::chrono::day(number));
}

}  // namespace

std::string day_in(const std::string& text) {
    for (std::size_t i = 0; i + day_letters <= text.size(); ++i) {
        if (is_date(text.substr(i, day_letters))) {
            return text.substr(i, day_letters);
        }
    }
    return "";
}

ClosingDay closing_day(const std::string& answer, const std::string& begun,
                       const std::string& today) {
    const std::string day = day_in(answer);
    if (day.empty()) {
        return ClosingDay::possible;
    }
    if (parsed(day) > parsed(today) + days(1)) {
        return ClosingDay::to_come;
    }
    return !begun.empty() && parsed(day) < parsed(begun) - days(1) ? ClosingDay::before_job
                                                                   : ClosingDay::possible;
}

std::string taken_day(const PhotoFacts& facts) {
    std::string day = facts.taken_at.substr(0, day_letters);
    std::replace(day.begin(), day.end(), ':', '-');
    return is_date(day) ? day : "";
}

std::string begun_on(const JobSheet& sheet, const std::vector<SightingResult>& sightings) {
    std::string begun = sheet.date;
    for (const auto& sighting : sightings) {
        for (const auto& photo : sighting.photos) {
            const std::string day = taken_day(photo.facts);
            if (!day.empty() && (begun.empty() || day < begun)) {
                begun = day;
            }
        }
    }
    return begun;
}

void check_closing_days(const JobResult& result, const std::string& today) {
    const std::string begun = begun_on(result.sheet, result.sightings);
    for (const auto& [key, answer] : result.sheet.closing) {
        switch (closing_day(answer, begun, today)) {
            case ClosingDay::possible:
                break;
            case ClosingDay::before_job:
                throw InputError(
                    result.sheet.file.string() + ": closing." + key,
                    fmt::format("{} lies before this job was begun ({})", day_in(answer), begun),
                    "write the day on which it was done");
            case ClosingDay::to_come:
                throw InputError(result.sheet.file.string() + ": closing." + key,
                                 fmt::format("{} is still to come", day_in(answer)),
                                 "write the day on which it was done, once it was");
        }
    }
}

}  // namespace squaresight
