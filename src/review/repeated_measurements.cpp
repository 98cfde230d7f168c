#include "review/repeated_measurements.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "units/error.h"

namespace squaresight {
namespace {

struct Quantity {
    const char* name;
    const char* words;
    AxisMeasurement Measurement::*axis;
    double AxisMeasurement::*value;
};

constexpr Quantity quantities[] = {
    {"photos-yaw", "side-to-side aim by photos", &Measurement::yaw, &AxisMeasurement::vision_deg},
    {"photos-pitch", "up-down aim by photos", &Measurement::pitch, &AxisMeasurement::vision_deg},
    {"tape-yaw", "side-to-side aim by tape", &Measurement::yaw, &AxisMeasurement::tape_deg},
    {"tape-pitch", "up-down aim by level", &Measurement::pitch, &AxisMeasurement::tape_deg}};

const Quantity& quantity_of(const std::string& name) {
    for (const auto& one : quantities) {
        if (name == one.name) {
            return one;
        }
    }
    throw InputError("--repeated", fmt::format("'{}' is no quantity of a study", name),
                     fmt::format("give one of: {}", fmt::join(repeated_quantities(), ", ")));
}

struct Value {
    double deg, tolerance_deg;
};

/// By vehicle and technician, by day.
using Cells = std::map<int, std::map<int, std::vector<Value>>>;

InputError no_study(const std::string& why) {
    return InputError(
        "review --repeated", why,
        "have every technician measure every vehicle as found at least twice, in jobs "
        "of their own, nothing turned between; --from and --to choose their days");
}

class Study {
  public:
    Study(const Measurements& all, const ReviewSelection& selection, const Quantity& quantity)
        : all_(all), quantity_(quantity) {
        for (const auto row : newest_rows(all, selection)) {
            take(all.list[row]);
        }
    }

    GaugeStudyFile crossed() {
        choose();
        GaugeStudyFile file;
        file.name = "repeated measurements of stored jobs";
        file.quantity = quantity_.words;
        std::size_t trials = static_cast<std::size_t>(-1);
        for (const int vehicle : vehicles_) {
            for (const int technician : technicians_) {
                trials = std::min(trials, cells_[vehicle][technician].size());
            }
        }
        std::size_t beyond = 0;
        for (const int vehicle : vehicles_) {
            for (const int technician : technicians_) {
                const auto& values = cells_[vehicle][technician];
                beyond += values.size() - trials;
                for (std::size_t i = 0; i < trials; ++i) {
                    file.readings.push_back(
                        {all_.names[vehicle], all_.names[technician], values[i].deg});
                    take_tolerance(values[i].tolerance_deg, file);
                }
            }
        }
        tell_left_out(beyond, file.left_out);
        return file;
    }

  private:
    void take(const Measurement& one) {
        const AxisMeasurement& axis = one.*quantity_.axis;
        const double value = axis.*quantity_.value;
        if (one.stage != Stage::as_found || one.stops > 0 || one.vehicle == 0 ||
            one.technician == 0 || !std::isfinite(value)) {
            return;
        }
        cells_[one.vehicle][one.technician].push_back({value, axis.tolerance_deg});
    }

    static void take_tolerance(double tolerance_deg, GaugeStudyFile& file) {
        const double width_deg = 2 * tolerance_deg;
        if (file.tolerance_width_deg && *file.tolerance_width_deg != width_deg) {
            throw no_study(fmt::format("the mounts have different tolerances, {} and {} deg",
                                       *file.tolerance_width_deg / 2, tolerance_deg));
        }
        if (std::isfinite(width_deg)) {
            file.tolerance_width_deg = width_deg;
        }
    }

    bool repeated(int vehicle, int technician) const {
        const auto& of = cells_.at(vehicle);
        const auto found = of.find(technician);
        return found != of.end() && found->second.size() >= 2;
    }

    /// Vehicles that all chosen technicians measured repeatedly.
    std::vector<int> complete() const {
        std::vector<int> found;
        for (const auto& [vehicle, of] : cells_) {
            if (std::all_of(technicians_.begin(), technicians_.end(),
                            [&, v = vehicle](int technician) { return repeated(v, technician); })) {
                found.push_back(vehicle);
            }
        }
        return found;
    }

    void choose() {
        std::map<int, int> repeated_vehicles;  // of each technician
        for (const auto& [vehicle, of] : cells_) {
            for (const auto& [technician, values] : of) {
                repeated_vehicles[technician] += values.size() >= 2 ? 1 : 0;
            }
        }
        for (const auto& [technician, count] : repeated_vehicles) {
            (count > 0 ? technicians_ : others_).insert(technician);
        }
        while (technicians_.size() >= 2) {
            vehicles_ = complete();
            if (vehicles_.size() >= 2) {
                return;
            }
            const int fewest = *std::min_element(
                technicians_.begin(), technicians_.end(),
                [&](int a, int b) { return repeated_vehicles[a] < repeated_vehicles[b]; });
            technicians_.erase(fewest);
            others_.insert(fewest);
        }
        throw no_study(
            "no two vehicles were each measured as found at least twice by the same two "
            "technicians");
    }

    void tell_left_out(std::size_t beyond, std::vector<std::string>& sentences) const {
        const std::size_t vehicles = cells_.size() - vehicles_.size();
        if (vehicles > 0) {
            sentences.push_back(fmt::format(
                "Left out: {} {} that not every technician of the study measured at least twice.",
                vehicles, vehicles == 1 ? "vehicle" : "vehicles"));
        }
        if (!others_.empty()) {
            std::string names;
            for (const int technician : others_) {
                names += (names.empty() ? "" : ", ") + all_.names[technician];
            }
            sentences.push_back("Left out: technicians who measured fewer vehicles so: " + names +
                                ".");
        }
        if (beyond > 0) {
            sentences.push_back(
                fmt::format("Left out: {} later {}, so that each vehicle has equally many by each.",
                            beyond, beyond == 1 ? "measurement" : "measurements"));
        }
        sentences.push_back(
            "Each part is a vehicle, measured as found in jobs of their own: whether nothing was "
            "turned between them is not in the records.");
    }

    const Measurements& all_;
    const Quantity& quantity_;
    Cells cells_;
    std::set<int> technicians_, others_;
    std::vector<int> vehicles_;
};

}  // namespace

const std::vector<std::string>& repeated_quantities() {
    static const std::vector<std::string> names = [] {
        std::vector<std::string> all;
        for (const auto& one : quantities) {
            all.emplace_back(one.name);
        }
        return all;
    }();
    return names;
}

GaugeStudyFile repeated_measurements(const Measurements& all, const ReviewSelection& selection,
                                     const std::string& quantity) {
    return Study(all, selection, quantity_of(quantity)).crossed();
}

}  // namespace squaresight
