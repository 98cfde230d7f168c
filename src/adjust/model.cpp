#include "adjust/model.h"

#include <fmt/format.h>

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <map>

#include "adjust/priors.h"

namespace squaresight {

const std::array<SetupReadingName, 11> setup_reading_names{{
    {"line", &Setup::line_left_deg, line_left_deg, "deg"},
    {"distance", &Setup::distance_mm, distance_mm, "mm"},
    {"target_left", &Setup::target_left_mm, target_left_mm, "mm"},
    {"mount_left", &Setup::mount_left_mm, mount_left_mm, "mm"},
    {"target_height", &Setup::target_height_mm, target_height_mm, "mm"},
    {"mount_height", &Setup::mount_height_mm, mount_height_mm, "mm"},
    {"floor_rise", &Setup::floor_rise_deg, floor_rise_deg, "deg"},
    {"target_lean_back", &Setup::target_lean_back_deg, target_lean_back_deg, "deg"},
    {"target_turned_left", &Setup::target_turned_left_deg, target_turned_left_deg, "deg"},
    {"target_roll_clockwise", &Setup::target_roll_clockwise_deg, target_roll_clockwise_deg, "deg"},
    {"rail_zero", &Setup::rail_zero_deg, rail_zero_deg, "deg"},
}};

double label_roll_deg(CradleLabel label) {
    switch (label) {
        case CradleLabel::quarter_counter:
            return 90;
        case CradleLabel::inverted:
            return 180;
        case CradleLabel::quarter_clockwise:
            return 270;
        case CradleLabel::upright:
            break;
    }
    return 0;
}

std::vector<CradleLabel> ways_up_of(int upright, int inverted, int quarters) {
    std::vector<CradleLabel> ways;
    for (int taken = 0; upright + inverted > 0; ++taken) {
        const bool wants_inverted = ways_up_in_turn(taken) == CradleLabel::inverted;
        const bool is_inverted = inverted > 0 && (wants_inverted || upright == 0);
        ways.push_back(is_inverted ? CradleLabel::inverted : CradleLabel::upright);
        (is_inverted ? inverted : upright) -= 1;
    }
    for (int i = 0; i < quarters; ++i) {
        ways.push_back(i % 2 == 0 ? CradleLabel::quarter_clockwise : CradleLabel::quarter_counter);
    }
    return ways;
}

const char* cradle_label_text(CradleLabel label) {
    switch (label) {
        case CradleLabel::inverted:
            return "inverted";
        case CradleLabel::quarter_clockwise:
            return "quarter-clockwise";
        case CradleLabel::quarter_counter:
            return "quarter-counter-clockwise";
        case CradleLabel::upright:
            break;
    }
    return "upright";
}

std::optional<CradleLabel> cradle_label_of(std::string_view text) {
    for (const CradleLabel label : all_cradle_labels) {
        if (text == cradle_label_text(label)) {
            return label;
        }
    }
    return std::nullopt;
}

double PhotoTerm::spread_factor() const {
    double stated_px2 = 0;
    for (const auto& corner : corners) {
        stated_px2 += corner.covariance_px2.trace() / 2;
    }
    stated_px2 /= static_cast<double>(corners.size());
    return std::hypot(noise_factor, field_px / std::sqrt(stated_px2));
}

double Dependent::at(const Eigen::VectorXd& z) const {
    double value = mean;
    for (const auto& [index, coefficient] : parts) {
        value += coefficient * z[index];
    }
    return value;
}

bool has_stored_offset(const Cradle& cradle) {
    return cradle.offset_deg && cradle.lens_mm && cradle.covariance;
}

std::string reading_key(int setup, const std::string& name) {
    return std::to_string(setup) + "/" + name;
}

double corner_correlation(const Eigen::Vector2d& a_mm, const Eigen::Vector2d& b_mm) {
    return std::exp(-(a_mm - b_mm).squaredNorm() / (2 * corner_field_mm * corner_field_mm));
}

std::string reading_name(const std::string& key) { return key.substr(key.find('/') + 1); }

namespace {

/// How many corners an error reaches that they share: each by its correlation, meant over the
/// board.
double corners_in_reach(const std::vector<Eigen::Vector2d>& corners_mm) {
    double sum = 0;
    for (const auto& one : corners_mm) {
        for (const auto& other : corners_mm) {
            sum += corner_correlation(one, other);
        }
    }
    return sum / static_cast<double>(corners_mm.size());
}

/// How far into a stage a photo was taken, from -1/2 (first) to 1/2 (last).
double time_in_stage(int index, std::size_t count) {
    return count < 2 ? 0 : index / static_cast<double>(count - 1) - 0.5;
}

/// How the cradle sits in one placement.
struct PlacedCradle {
    std::size_t index = 0;  ///< into Model::placements
    Dependent roll, seating_left, seating_up;
};

class ModelBuilder {
  public:
    ModelBuilder(const MeasuredJob& job, const ModelOptions& options)
        : job_(job), options_(options) {
        model_.corners_mm = corners_in_target_mm(job.target.pattern);
        model_.sheet_half_mm = {job.target.sheet_width_mm / 2, job.target.sheet_height_mm / 2};
        model_.corner_field_px = job.camera.corner_field_px;
        field_px_ = model_.corner_field_px * std::sqrt(corners_in_reach(model_.corners_mm));
    }

    Model build(const std::vector<std::vector<PhotoStand>>& stands, double image_turn_deg) {
        add_lens();
        add_cradle();
        add_sheet();
        for (std::size_t setup = 0; setup < job_.setups.size(); ++setup) {
            add_setup(static_cast<int>(setup));
        }
        for (std::size_t sighting = 0; sighting < job_.sightings.size(); ++sighting) {
            add_sighting(static_cast<int>(sighting), stands[sighting], image_turn_deg);
        }
        for (std::size_t sighting = 0; sighting < job_.sightings.size(); ++sighting) {
            add_witness(static_cast<int>(sighting));
        }
        return std::move(model_);
    }

  private:
    int add(Unknown unknown) {
        model_.unknowns.push_back(std::move(unknown));
        return static_cast<int>(model_.unknowns.size()) - 1;
    }

    Dependent prior(const std::string& source, double mean, double standard_uncertainty) {
        const int index = add({source, source, Role::prior, -1, "", mean, standard_uncertainty});
        return {mean, {{index, standard_uncertainty}}};
    }

    /// Left and up.
    std::array<Dependent, 2> pair(const std::string& source, double standard_uncertainty) {
        return {prior(source, 0, standard_uncertainty), prior(source, 0, standard_uncertainty)};
    }

    static void add_part(Dependent& quantity, const Dependent& cause, double share = 1) {
        for (const auto& [index, coefficient] : cause.parts) {
            quantity.parts.emplace_back(index, share * coefficient);
        }
    }

    Dependent free_deg(const std::string& name, double start_deg) {
        return {start_deg, {{add({name, name, Role::free, -1, "deg", 0, 0}), 1.0}}};
    }

    Dependent reading(const SetupReadingName& entry, const Reading& read, int setup) {
        const bool aside = options_.set_aside.contains(reading_key(setup, entry.name)) ||
                           (options_.vision_distance && entry.input == distance_mm);
        const double u = read.standard_uncertainty * (aside ? set_aside_factor : 1);
        const int index = add({entry.name, entry.name, read.measured ? Role::reading : Role::prior,
                               setup, entry.unit, read.value, u, read.measured});
        return {read.value, {{index, u}}};
    }

    Dependent rail_bow(double u_deg, int setup) {
        const int index = add({"rail bow", "rail bow", Role::prior, setup, "deg", 0, u_deg, true});
        return {0, {{index, u_deg}}};
    }

    /// Several quantities with a joint covariance: mean + square root of it times one z each.
    template <class Vector, class Matrix>
    std::vector<Dependent> joint_prior(const std::string& source, const Vector& mean,
                                       const Matrix& covariance) {
        const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> parts(covariance);
        std::vector<Dependent> values(static_cast<std::size_t>(covariance.rows()));
        for (std::size_t row = 0; row < values.size(); ++row) {
            values[row].mean = mean[static_cast<int>(row)];
        }
        const double largest = parts.eigenvalues().maxCoeff();
        for (int k = 0; k < covariance.rows(); ++k) {
            const double variance = parts.eigenvalues()[k];
            if (variance <= largest * 1e-18) {
                continue;
            }
            const int index = add({source, source, Role::prior, -1, "", 0, 1});
            for (std::size_t row = 0; row < values.size(); ++row) {
                values[row].parts.emplace_back(
                    index, std::sqrt(variance) * parts.eigenvectors()(static_cast<int>(row), k));
            }
        }
        return values;
    }

    bool uses_stored_cradle() const {
        return options_.stored_cradle && has_stored_offset(job_.cradle);
    }

    void add_lens() {
        model_.further_terms = job_.camera.lens;
        const auto mean = job_.camera.lens.parameters();
        Eigen::Matrix<double, 9, 9> covariance = job_.camera.covariance;
        if (uses_stored_cradle() || options_.principal_point_held) {
            // The stored offset was found with this principal point and holds its error already.
            covariance.middleRows<2>(2).setZero();
            covariance.middleCols<2>(2).setZero();
        }
        const auto values = joint_prior("lens", mean, covariance);
        std::copy(values.begin(), values.end(), model_.lens.begin());
    }

    void add_cradle() {
        auto& cradle = model_.cradle;
        const Cradle& stored = job_.cradle;
        cradle[lens_sag_deg] = prior("lens sag", 0, job_.camera.lens_sag_deg);
        add_part(cradle[lens_sag_deg], prior("cradle sag", 0, stored.sag_deg));
        if (uses_stored_cradle()) {
            Eigen::Matrix<double, 5, 1> mean;
            mean << *stored.offset_deg, *stored.lens_mm;
            const auto values = joint_prior("stored cradle offset", mean, *stored.covariance);
            std::copy(values.begin(), values.end(), cradle.begin() + offset_left_deg);
            return;
        }
        cradle[offset_left_deg] = prior("cradle offset", 0, cradle_offset_prior_deg);
        cradle[offset_up_deg] = prior("cradle offset", 0, cradle_offset_prior_deg);
        const Eigen::Vector3d lens =
            stored.lens_mm.value_or(Eigen::Vector3d(lens_ahead_prior_mm, 0, 0));
        const double side_u = standard_from_limit(lens_side_limit_mm);
        cradle[lens_ahead_mm] =
            prior("lens place in the cradle", lens.x(), standard_from_limit(lens_ahead_limit_mm));
        cradle[lens_left_mm] = prior("lens place in the cradle", lens.y(), side_u);
        cradle[lens_up_mm] = prior("lens place in the cradle", lens.z(), side_u);
    }

    void add_sheet() {
        const Target& target = job_.target;
        double scale_u = target.print_checked ? print_scale_checked : print_scale_unchecked;
        if (options_.vision_distance) {
            scale_u = 0;
        }
        const double bow_u = standard_from_limit(target.flatness_mm);
        const double skew_u = target.skew_checked ? print_skew_checked : print_skew_unchecked;
        model_.sheet = {prior("print scale", target.printed_across, scale_u),
                        prior("print scale", target.printed_down, scale_u),
                        prior("board flatness", 0, bow_u),
                        prior("board flatness", 0, bow_u),
                        prior("board flatness", 0, bow_u),
                        prior("board flatness", 0, bow_u),
                        prior("board flatness", 0, bow_u),
                        prior("print skew", target.printed_skew, skew_u)};
    }

    void add_setup(int setup) {
        const Setup& readings = job_.setups[static_cast<std::size_t>(setup)];
        auto pose = model_.cradle;
        const auto place =
            pair("cradle's place on the face", standard_from_limit(job_.cradle.place_limit_mm));
        pose[place_left_mm] = place[0];
        pose[place_up_mm] = place[1];
        face_form_.push_back(pair("face form", job_.face_form_deg));
        for (const auto& entry : setup_reading_names) {
            pose[entry.input] = reading(entry, readings.*entry.reading, setup);
        }
        add_part(pose[line_left_deg], rail_bow(readings.rail_bow_deg, setup));
        if (!readings.mount_height_mm.measured && !readings.tapes.empty()) {
            lift_to_unknown_height(pose, setup);
        }
        model_.setups.push_back(pose);
        if (options_.vision_distance) {
            return;
        }
        std::map<std::string, std::array<Dependent, 3>> points;
        for (const auto& tape : readings.tapes) {
            add_tape(tape, setup, points);
        }
    }

    /// Heights left out stand for a difference; points of tapes are above the floor.
    void lift_to_unknown_height(std::array<Dependent, pose_input_count>& pose, int setup) {
        const double u_mm = standard_from_limit(unknown_height_mm);
        const int index = add({"mount_height", "mount_height", Role::prior, setup, "mm",
                               unknown_height_mm, u_mm, false});
        for (const PoseInput height : {target_height_mm, mount_height_mm}) {
            pose[height].mean += unknown_height_mm;
            pose[height].parts.emplace_back(index, u_mm);
        }
    }

    void add_tape(const TapeReading& tape, int setup,
                  std::map<std::string, std::array<Dependent, 3>>& points) {
        if (!points.contains(tape.from.name)) {
            std::array<Dependent, 3> point;
            for (int axis = 0; axis < 3; ++axis) {
                point[axis] =
                    prior("point " + tape.from.name, tape.from.position_in_vehicle_mm[axis],
                          tape.from.standard_uncertainty_mm);
            }
            points[tape.from.name] = point;
        }
        const std::string name = "tape " + tape.from.name + " to " + tape.to_name;
        const bool aside = options_.set_aside.contains(reading_key(setup, name));
        model_.tapes.push_back(
            {setup, name, tape.length_mm.value,
             tape.length_mm.standard_uncertainty * (aside ? set_aside_factor : 1),
             tape.length_mm.measured, tape.to_in_target_mm, points[tape.from.name],
             model_.setups[static_cast<std::size_t>(setup)]});
    }

    void add_sighting(int index, const std::vector<PhotoStand>& stands, double image_turn_deg) {
        const Sighting& sighting = job_.sightings[static_cast<std::size_t>(index)];
        model_.stages.emplace_back();
        if (sighting.photos.empty()) {
            return;  // its setup may not even be given
        }
        auto pose = model_.setups[static_cast<std::size_t>(sighting.setup)];
        const bool first_of_setup = first_setup_.insert(sighting.setup).second;
        std::map<int, PlacedCradle> placements;
        const auto warming = pair("phone warming", job_.camera.warming_deg);
        const auto usable = static_cast<std::size_t>(std::count_if(
            sighting.photos.begin(), sighting.photos.end(),
            [](const auto& photo) { return photo.corners.size() >= fewest_corners; }));
        int taken = 0;
        for (std::size_t i = 0; i < sighting.photos.size(); ++i) {
            const PhotoSight& photo = sighting.photos[i];
            if (photo.corners.size() < fewest_corners) {
                continue;
            }
            if (model_.stages.back().yaw < 0) {
                pose[yaw_left_deg] = free_deg("yaw", 0);
                pose[pitch_up_deg] = free_deg("pitch", 0);
                pose[face_ahead_mm] =
                    prior("face moved ahead", 0,
                          first_of_setup ? 0 : standard_from_limit(face_ahead_limit_mm));
                model_.stages.back() = {pose[yaw_left_deg].parts[0].first,
                                        pose[pitch_up_deg].parts[0].first, sighting.setup,
                                        first_of_setup ? -1 : pose[face_ahead_mm].parts[0].first};
                const auto& form = face_form_[static_cast<std::size_t>(sighting.setup)];
                add_part(pose[yaw_left_deg], form[0]);
                add_part(pose[pitch_up_deg], form[1]);
            }
            const double time = time_in_stage(taken++, usable);
            pose[jitter_left_deg] = {};
            pose[jitter_up_deg] = {};
            add_part(pose[jitter_left_deg], warming[0], time);
            add_part(pose[jitter_up_deg], warming[1], time);
            add_photo(index, static_cast<int>(i), photo, stands[i], image_turn_deg, pose,
                      placements);
        }
    }

    void add_photo(int sighting, int index, const PhotoSight& photo, const PhotoStand& stand,
                   double image_turn_deg, std::array<Dependent, pose_input_count> pose,
                   std::map<int, PlacedCradle>& placements) {
        const int own = -1 - index;
        const int placement = photo.placement >= 0 ? photo.placement : own;
        if (!placements.contains(placement)) {
            placements[placement] = place_cradle({sighting, placement}, stand);
        }
        const PlacedCradle& placed = placements[placement];
        model_.placements[placed.index].photos.push_back(index);
        pose[cradle_roll_deg] = placed.roll;
        pose[seating_left_deg] = placed.seating_left;
        pose[seating_up_deg] = placed.seating_up;
        const auto jitter = pair("pointing jitter", job_.camera.pointing_jitter_deg);
        add_part(pose[jitter_left_deg], jitter[0]);
        add_part(pose[jitter_up_deg], jitter[1]);
        model_.photos.push_back(
            {sighting, index, photo.corners, 1, field_px_, image_turn_deg, pose});
    }

    PlacedCradle place_cradle(const PlacementKey& key, const PhotoStand& stand) {
        const auto loose = options_.loose_placements.find(key);
        const double seating_deg =
            loose == options_.loose_placements.end() ? job_.cradle.seating_deg : loose->second;
        PlacedCradle placed{
            model_.placements.size(), free_deg("cradle roll", stand.cradle_roll_deg),
            prior("cradle seating", 0, seating_deg), prior("cradle seating", 0, seating_deg)};
        model_.placements.push_back({key,
                                     key.first,
                                     {},
                                     placed.seating_left.parts[0].first,
                                     placed.seating_up.parts[0].first});
        const int quarter = static_cast<int>(std::lround(stand.cradle_roll_deg / 90)) & 3;
        const std::pair way_up(job_.sightings[static_cast<std::size_t>(key.first)].setup, quarter);
        if (!way_up_.contains(way_up)) {
            way_up_[way_up] = pair("seating of one way up", job_.cradle.way_up_deg);
        }
        add_part(placed.seating_left, way_up_[way_up][0]);
        add_part(placed.seating_up, way_up_[way_up][1]);
        for (const int before : options_.knocked_before) {
            if (key.first >= before) {
                add_knock(before, placed);
            }
        }
        return placed;
    }

    /// Names tell witnesses of several adjusted stages apart.
    std::string witness_name(const char* key, int sighting) const {
        const std::string& stage = job_.sightings[static_cast<std::size_t>(sighting)].stage;
        return stage == "adjusted" ? fmt::format("{}, {} {}", key, stage, sighting)
                                   : fmt::format("{}, {}", key, stage);
    }

    void add_witness(int index) {
        const StageUnknowns& stage = model_.stages[static_cast<std::size_t>(index)];
        const Witness& witness = job_.sightings[static_cast<std::size_t>(index)].witness;
        if (stage.yaw < 0 || options_.vision_distance) {
            return;
        }
        if (witness.yaw_left) {
            add_witness(index, witness_name("passes", index), stage.yaw, line_left_deg,
                        *witness.yaw_left, bumper_and_laser_);
        }
        if (witness.pitch_up) {
            add_witness(index, witness_name("face_level", index), stage.pitch, rail_zero_deg,
                        *witness.pitch_up, inclinometer_);
        }
    }

    /// Counted from a reading of the setup, an angle lacks that reading's error.
    void add_witness(int sighting, const std::string& name, int angle, PoseInput from,
                     const WitnessAngle& read, std::optional<Dependent>& common) {
        const int setup = model_.stages[static_cast<std::size_t>(sighting)].setup;
        Dependent predicted{0, {{angle, 1.0}}};
        if (read.from_line || read.from_rail_zero) {
            add_part(predicted, model_.setups[static_cast<std::size_t>(setup)][from], -1);
        }
        if (!common) {
            common = prior("tape-and-level", 0, read.common_deg);
        }
        add_part(predicted, *common);
        const bool aside = options_.set_aside.contains(reading_key(setup, name));
        model_.witnesses.push_back({sighting, setup, name, read.value_deg,
                                    read.own_deg * (aside ? set_aside_factor : 1), predicted});
    }

    /// A knock turns the phone in its cradle, as seating does, for all placements after it.
    void add_knock(int before, PlacedCradle& placed) {
        auto& knock = knocks_[before];
        if (knock.empty()) {
            knock = {prior("cradle knocked", 0, cradle_offset_prior_deg),
                     prior("cradle knocked", 0, cradle_offset_prior_deg)};
        }
        placed.seating_left.parts.push_back(knock[0].parts[0]);
        placed.seating_up.parts.push_back(knock[1].parts[0]);
    }

    const MeasuredJob& job_;
    const ModelOptions& options_;
    Model model_;
    std::set<int> first_setup_;
    std::map<int, std::vector<Dependent>> knocks_;
    double field_px_ = 0;
    std::vector<std::array<Dependent, 2>> face_form_;                 ///< by setup
    std::map<std::pair<int, int>, std::array<Dependent, 2>> way_up_;  ///< by setup, quarter turns
    std::optional<Dependent> bumper_and_laser_, inclinometer_;
};

}  // namespace

Model build_model(const MeasuredJob& job, const std::vector<std::vector<PhotoStand>>& stands,
                  double image_turn_deg, const ModelOptions& options) {
    return ModelBuilder(job, options).build(stands, image_turn_deg);
}

}  // namespace squaresight
