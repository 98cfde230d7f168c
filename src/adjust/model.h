#pragma once
#include <Eigen/Core>
#include <array>
#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "adjust/corner_noise.h"
#include "adjust/corner_rows.h"
#include "adjust/measurement.h"
#include "adjust/pose_chain.h"

/// The job written as unknowns and observations. Internal to `adjust`.
///
/// Every unknown z is a plain number. Where a quantity has a prior or a reading, z counts in its
/// standard uncertainties and the observation is "z = 0 with standard deviation 1"; where it is
/// free, z counts in degrees. A quantity of zero uncertainty simply does not depend on its z.
namespace squaresight {

enum class Role { reading, prior, free };

struct Unknown {
    std::string name;    ///< of a reading: the key of the job sheet
    std::string source;  ///< its line in the budget
    Role role = Role::prior;
    int setup = -1;                   ///< setup that it belongs to, or -1
    std::string unit;                 ///< mm or deg, for readings
    double read = 0;                  ///< the value that was read
    double standard_uncertainty = 0;  ///< of the reading or prior, in its unit
    bool measured = true;             ///< false: an entry left out, standing with wide limits
};

/// A quantity as a linear function of unknowns: mean + sum of coefficient * z.
struct Dependent {
    double mean = 0;
    std::vector<std::pair<int, double>> parts;
    double at(const Eigen::VectorXd& z) const;
};

struct PhotoTerm {
    int sighting = 0;
    int photo = 0;                ///< index within its sighting
    std::vector<Corner> corners;  ///< those in use
    double noise_factor = 1;      ///< multiplies the corners' stated standard deviations
    double field_px = 0;          ///< noise that the weights allow for an error which corners share
    double spread_factor() const;  ///< of both, on the stated standard deviations
    double image_turn_deg = 0;
    std::array<Dependent, pose_input_count> pose;
};

/// A tape-and-level angle of a stage against the photos': linear in the unknowns.
struct WitnessTerm {
    int sighting = 0;
    int setup = 0;
    std::string name;
    double value_deg = 0;
    double own_deg = 0;
    Dependent predicted_deg;  ///< what it should read
};

struct TapeTerm {
    int setup = 0;
    std::string name;
    double length_mm = 0;
    double standard_uncertainty_mm = 0;
    bool measured = true;
    Eigen::Vector2d to_in_target_mm{0, 0};
    std::array<Dependent, 3> from_mm;  ///< the point in V
    std::array<Dependent, pose_input_count> pose;
};

/// Of the error that two corners of a board share, by their places on it.
double corner_correlation(const Eigen::Vector2d& a_mm, const Eigen::Vector2d& b_mm);

struct StageUnknowns {
    int yaw = -1;
    int pitch = -1;
    int setup = -1;
    int face_ahead = -1;  ///< -1 in the first stage of its setup, where it is zero
};

/// One time that the cradle was set on the face: its photos and its seating.
using PlacementKey = std::pair<int, int>;  ///< sighting, and the sheet's placement or own number
struct Placement {
    PlacementKey key;
    int sighting = 0;
    std::vector<int> photos;  ///< within the sighting
    int seating_left = -1, seating_up = -1;
};

/// Where a photo's camera stood, as far as it is known before the solution.
struct PhotoStand {
    double cradle_roll_deg = 0;
};

struct Model {
    std::vector<Unknown> unknowns;
    std::array<Dependent, Lens::parameter_count> lens;
    Lens further_terms;  ///< those that are held as the camera file has them
    std::array<Dependent, sheet_input_count> sheet;
    std::array<Dependent, pose_input_count> cradle;  ///< what all photos of the job share
    std::vector<PhotoTerm> photos;
    double corner_field_px = 0;  ///< as Camera::corner_field_px
    std::vector<TapeTerm> tapes;
    std::vector<WitnessTerm> witnesses;
    std::vector<StageUnknowns> stages;  ///< by sighting; -1 where it has no photo in use
    std::vector<Placement> placements;
    std::vector<std::array<Dependent, pose_input_count>> setups;
    Eigen::Vector2d sheet_half_mm{1, 1};
    std::vector<Eigen::Vector2d> corners_mm;  ///< of the pattern, by index
};

/// A reading that was set aside keeps its place with an uncertainty this much larger.
inline constexpr double set_aside_factor = 1000;

struct ModelOptions {
    bool stored_cradle = true;  ///< use what is stored of the cradle's offset and lens
    /// Hold the principal point as the camera file has it: the cradle's offset then holds its
    /// error, as what is stored of a cradle does.
    bool principal_point_held = false;
    bool vision_distance = false;     ///< leave distance and tapes unread and hold the print scale
    std::set<std::string> set_aside;  ///< readings by `reading_key`
    /// Placements that were found not to sit: standard uncertainty of their seating, deg.
    std::map<PlacementKey, double> loose_placements;
    std::set<int> knocked_before;  ///< sightings before which the cradle was knocked
};

/// Whether the cradle file tells enough to do without inverted photos: offset, lens position and
/// their covariance, found with the camera file's principal point.
bool has_stored_offset(const Cradle& cradle);

/// Identifies a reading within a job.
std::string reading_key(int setup, const std::string& name);
/// The reading's name of such a key.
std::string reading_name(const std::string& key);

/// `stands[sighting][photo]`; photos with fewer than `fewest_corners` are left out.
Model build_model(const MeasuredJob& job, const std::vector<std::vector<PhotoStand>>& stands,
                  double image_turn_deg, const ModelOptions& options);

/// Names of a setup's readings, in the order of Setup's members, with their PoseInput.
struct SetupReadingName {
    const char* name;
    Reading Setup::*reading;
    PoseInput input;
    const char* unit;
};
extern const std::array<SetupReadingName, 11> setup_reading_names;

}  // namespace squaresight
