#include "calibrate/calibration.h"

#include <ceres/autodiff_cost_function.h>

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <limits>

#include "adjust/corner_noise.h"
#include "adjust/least_squares.h"
#include "adjust/priors.h"
#include "calibrate/start.h"
#include "calibrate/view_cost.h"

namespace squaresight {
namespace {

/// Of the sheet's inputs, scales, bows and twist are estimated; S-bends and skew are held.
constexpr int free_shapes = 5;
constexpr int most_rounds = 8;
constexpr double usual_lens_mm = 5;  // of a phone that does not say
/// Untaped, the near photos' focal length stands for the far one to this much of the lens: 1 % at
/// 0.6 m.
constexpr double lens_u_mm = focal_share_untaped * 600;
constexpr double held_lens_u_mm = 1e-3;
constexpr double usual_distance_mm = 5000;
constexpr double tape_repeats_mm = 1;  ///< between photos of one taped distance
constexpr double stretch_checked = 0.0003;
constexpr double stretch_unchecked = 0.003;

/// Steps of the lens's terms that change a picture by about the same.
constexpr std::array<double, Lens::term_count> term_units{1,    1,   1,    1,    0.01, 0.05, 1e-3,
                                                          1e-3, 0.1, 0.01, 0.05, 0.1,  1};
constexpr double turn_unit_rad = 1e-3;
constexpr double scale_unit = 1e-3;

/// A quantity that counts in its standard uncertainties, and now stands `offset` of them off what
/// is known of it.
struct PriorCost {
    double offset;
    template <class T>
    bool operator()(const T* z, T* residual) const {
        residual[0] = *z + offset;
        return true;
    }
};

/// Two print scales that one printer made.
struct StretchCost {
    Scaled across, down;
    double nominal, standard_uncertainty;
    template <class T>
    bool operator()(const T* z_across, const T* z_down, T* residual) const {
        residual[0] =
            (across.mean + across.unit * *z_across - down.mean - down.unit * *z_down - nominal) /
            standard_uncertainty;
        return true;
    }
};

/// A photo's focal scale against what its distance asks for.
struct FocusCost {
    double distance_mm;
    Scaled scale, lens_mm;
    Eigen::Vector3d board_mm;
    template <class T>
    bool operator()(const T* z_scale, const T* z_lens, const T* dx, const T* dy, const T* dz,
                    T* residual) const {
        using std::sqrt;
        const T x = board_mm.x() + *dx, y = board_mm.y() + *dy, z = board_mm.z() + *dz;
        const T u = sqrt(x * x + y * y + z * z);
        const T lens = lens_mm.mean + lens_mm.unit * *z_lens;
        const T asked = (1.0 - lens / distance_mm) / (1.0 - lens / u);
        residual[0] = (scale.mean + scale.unit * *z_scale - asked) / focus_repeats_share;
        return true;
    }
};

struct TapeCost {
    Scaled length_mm;
    Eigen::Vector3d board_mm;
    template <class T>
    bool operator()(const T* z_length, const T* dx, const T* dy, const T* dz, T* residual) const {
        using std::sqrt;
        const T x = board_mm.x() + *dx, y = board_mm.y() + *dy, z = board_mm.z() + *dz;
        residual[0] =
            (sqrt(x * x + y * y + z * z) - (length_mm.mean + length_mm.unit * *z_length)) /
            tape_repeats_mm;
        return true;
    }
};

/// The calibration written as unknowns and observations, about a state that is brought up to date
/// between solutions.
class Adjustment {
  public:
    Adjustment(const CalibrationData& data, const CalibrationModel& model, bool lens_held)
        : data_(data), model_(model), lens_held_(lens_held) {}

    CalibrationSolution state;

    /// Solves from the state, corners and noise as they are there.
    bool improve(bool robust, bool focal_only) {
        lay_out(focal_only);
        bool converged = false;
        const Eigen::VectorXd z = minimise(terms(robust), Eigen::VectorXd::Zero(count_), converged);
        if (converged) {
            take(z);
        }
        return converged;
    }

    bool conclude() {
        lay_out(false);
        const Solution solution = linearise(terms(false), Eigen::VectorXd::Zero(count_));
        if (!solution.solved) {
            return false;
        }
        for (int a = 0; a < Lens::term_count; ++a) {
            for (int b = 0; b < Lens::term_count; ++b) {
                state.covariance(a, b) = covariance_of(solution, lens_[a], lens_[b]);
            }
        }
        state.focus.standard_uncertainty_mm =
            std::sqrt(covariance_of(solution, lens_mm_, lens_mm_));
        if (state.sag_deg) {
            state.sag_u_deg = std::sqrt(covariance_of(solution, sag_, sag_));
        }
        state.solved = true;
        return true;
    }

    void measure_misfits() {
        for (std::size_t v = 0; v < state.views.size(); ++v) {
            CalibratedView& view = state.views[v];
            const auto misfits = board_of(v, false).misfits_px(view_lens(v), view.camera_from_board,
                                                               state.sheets[board_index(v)]);
            view.misfits_px = misfits.value_or(std::vector<Eigen::Vector2d>{});
        }
    }

    void estimate_noise() {
        for (auto& view : state.views) {
            if (!view.misfits_px.empty()) {
                view.noise_factor = noise_factor(view.corners, view.misfits_px);
            }
        }
    }

    /// Drops corners that do not fit their photo; whether there were any.
    bool drop_outliers() {
        bool dropped = false;
        for (auto& view : state.views) {
            if (auto kept = without_outliers(view.corners, view.misfits_px)) {
                view.corners = std::move(*kept);
                dropped = true;
            }
        }
        return dropped;
    }

    /// Takes the mirror pose of a view where it fits better.
    void choose_poses() {
        for (std::size_t v = 0; v < state.views.size(); ++v) {
            const Pose<double> first = refined(v, state.views[v].camera_from_board);
            const Pose<double> second = refined(v, mirrored(first));
            state.views[v].camera_from_board =
                misfit(v, second) < misfit(v, first) ? second : first;
        }
    }

    bool knows_ways_up() const {
        // The sag shows where the phone was held in ways that differ by a quarter turn or more.
        for (const auto& a : data_.views) {
            for (const auto& b : data_.views) {
                if (a.down && b.down && a.down->dot(*b.down) < 0.5) {
                    return true;
                }
            }
        }
        return false;
    }

  private:
    std::size_t board_index(std::size_t v) const {
        return static_cast<std::size_t>(data_.views[v].board);
    }
    Eigen::Vector2d down_of(std::size_t v) const {
        return data_.views[v].down.value_or(Eigen::Vector2d::Zero());
    }
    const CalibrationBoard& calibrated_board(std::size_t v) const {
        return data_.boards[board_index(v)];
    }

    ViewedBoard board_of(std::size_t v, bool robust) const {
        const CalibrationBoard& board = calibrated_board(v);
        const CalibratedView& view = state.views[v];
        return {board.corners_mm, board.half_mm, view.corners, view.noise_factor, robust};
    }

    Scaled unknown(double mean, double unit) { return {mean, unit, count_++}; }
    Scaled held(double mean) const { return {mean, 1, -1}; }
    /// With a prior: z counts in standard uncertainties. The state may stand off the prior's mean.
    Scaled prior(double mean, double standard_uncertainty, double now) {
        Scaled quantity = unknown(now, standard_uncertainty);
        priors_.emplace_back(quantity.unknown, (now - mean) / standard_uncertainty);
        return quantity;
    }

    void lay_out(bool focal_only) {
        count_ = 0;
        priors_.clear();
        lay_out_lens(focal_only);
        const double mean_mm =
            data_.known ? data_.known->focus.lens_mm : data_.lens_mm.value_or(usual_lens_mm);
        const double mean_u_mm =
            data_.known ? std::max(held_lens_u_mm, data_.known->focus.standard_uncertainty_mm)
                        : lens_u_mm;
        const bool focus = model_.focus;
        lens_mm_ = !focus       ? held(0)
                   : lens_held_ ? prior(state.focus.lens_mm, held_lens_u_mm, state.focus.lens_mm)
                                : prior(mean_mm, mean_u_mm, state.focus.lens_mm);
        sag_ = state.sag_deg && !lens_held_ && !focal_only
                   ? prior(0, usual_lens_sag_deg, *state.sag_deg)
                   : held(state.sag_deg.value_or(0));
        lay_out_boards();
        tapes_.clear();
        for (std::size_t t = 0; t < data_.tapes.size(); ++t) {
            const auto& tape = data_.tapes[t];
            tapes_.push_back(prior(tape.length_mm, tape.standard_uncertainty_mm,
                                   tape.length_mm + state.tape_misfits_mm[t]));
        }
        views_.clear();
        for (const auto& view : state.views) {
            ViewInputs inputs;
            std::copy(lens_.begin(), lens_.end(), inputs.begin());
            inputs[sag_input] = sag_;
            inputs[scale_input] =
                focus ? unknown(view.focal_scale, scale_unit) : held(view.focal_scale);
            const auto& sheet = boards_[board_index(views_.size())];
            std::copy(sheet.begin(), sheet.end(), inputs.begin() + sheet_inputs_at);
            for (int axis = 0; axis < 3; ++axis) {
                inputs[turn_input + axis] = unknown(0, turn_unit_rad);
                inputs[shift_input + axis] = unknown(0, 1);
            }
            views_.push_back(inputs);
        }
    }

    bool is_estimated(int term, bool focal_only) const {
        enum { k2 = 5, p1 = 6, p2 = 7, k3 = 8, k4 = 9, skew = 12 };
        if (lens_held_) {
            return false;
        }
        if (data_.known) {
            return term < Lens::parameter_count;
        }
        if (term <= 1) {
            return true;
        }
        if (focal_only) {
            return term == 4;  // k1: without it a wide lens cannot be understood at all
        }
        return term == skew               ? model_.skew
               : term >= k4               ? model_.further_terms
               : term == k3               ? model_.radial_terms >= 3
               : term == k2               ? model_.radial_terms >= 2
               : term == p1 || term == p2 ? model_.tangential
                                          : true;
    }

    void lay_out_lens(bool focal_only) {
        const auto terms = state.lens.terms();
        for (int term = 0; term < Lens::term_count; ++term) {
            lens_[term] = is_estimated(term, focal_only) ? unknown(terms[term], term_units[term])
                                                         : held(terms[term]);
        }
    }

    void lay_out_boards() {
        boards_.clear();
        for (std::size_t b = 0; b < data_.boards.size(); ++b) {
            const CalibrationBoard& board = data_.boards[b];
            const double scale_u =
                board.print_checked ? print_scale_checked : print_scale_unchecked;
            const double bow_u = standard_from_limit(board.flatness_mm);
            const double means[sheet_input_count] = {board.printed.x(), board.printed.y()};
            std::array<Scaled, sheet_input_count> sheet;
            for (int i = 0; i < sheet_input_count; ++i) {
                const double u = i < 2 ? scale_u : i < free_shapes ? bow_u : 0;
                const bool known = !model_.board_shape || lens_held_ || u <= 0;
                sheet[i] =
                    known ? held(state.sheets[b][i]) : prior(means[i], u, state.sheets[b][i]);
            }
            boards_.push_back(sheet);
        }
    }

    std::vector<Term> terms(bool robust) const {
        std::vector<Term> all;
        for (const auto& [at, offset] : priors_) {
            all.push_back(term<PriorCost, 1>({offset}, {at}));
        }
        if (data_.known) {
            auto cost = std::make_shared<KnownLensCost>(*data_.known, lens_);
            const auto unknowns = cost->unknowns();
            all.push_back({std::move(cost), unknowns, ""});
        }
        for (std::size_t b = 0; b < boards_.size(); ++b) {
            add_stretch(data_.boards[b], boards_[b], all);
        }
        for (std::size_t v = 0; v < views_.size(); ++v) {
            add_view(v, robust, all);
        }
        return all;
    }

    /// One row that depends on `count` unknowns.
    template <class Cost, int... ones>
    static Term term(Cost cost, std::vector<int> unknowns) {
        return {std::make_shared<ceres::AutoDiffCostFunction<Cost, 1, ones...>>(
                    new Cost(std::move(cost))),
                std::move(unknowns), ""};
    }

    static void add_stretch(const CalibrationBoard& board,
                            const std::array<Scaled, sheet_input_count>& sheet,
                            std::vector<Term>& all) {
        if (sheet[0].unknown < 0) {
            return;
        }
        all.push_back(
            term<StretchCost, 1, 1>({sheet[0], sheet[1], board.printed.x() - board.printed.y(),
                                     board.print_checked ? stretch_checked : stretch_unchecked},
                                    {sheet[0].unknown, sheet[1].unknown}));
    }

    void add_view(std::size_t v, bool robust, std::vector<Term>& all) const {
        const ViewInputs& inputs = views_[v];
        const Pose<double>& pose = state.views[v].camera_from_board;
        auto cost = std::make_shared<ViewCost>(board_of(v, robust), inputs, pose, down_of(v));
        const auto unknowns = cost->unknowns();
        all.push_back({std::move(cost), unknowns, ""});
        const int x = inputs[shift_input].unknown;
        const int y = inputs[shift_input + 1].unknown;
        const int z = inputs[shift_input + 2].unknown;
        if (model_.focus) {
            all.push_back(term<FocusCost, 1, 1, 1, 1, 1>(
                {state.focus.distance_mm, inputs[scale_input], lens_mm_, pose.translation_mm},
                {inputs[scale_input].unknown, lens_mm_.unknown, x, y, z}));
        }
        if (const int tape = data_.views[v].tape; tape >= 0) {
            const Scaled& length = tapes_[static_cast<std::size_t>(tape)];
            all.push_back(term<TapeCost, 1, 1, 1, 1>({length, pose.translation_mm},
                                                     {length.unknown, x, y, z}));
        }
    }

    void take(const Eigen::VectorXd& z) {
        std::array<double, Lens::term_count> terms;
        std::transform(lens_.begin(), lens_.end(), terms.begin(),
                       [&](const Scaled& term) { return term.at(z); });
        state.lens = Lens::from_terms(terms);
        state.focus.lens_mm = lens_mm_.at(z);
        if (state.sag_deg) {
            state.sag_deg = sag_.at(z);
        }
        for (std::size_t b = 0; b < boards_.size(); ++b) {
            std::transform(boards_[b].begin(), boards_[b].end(), state.sheets[b].begin(),
                           [&](const Scaled& input) { return input.at(z); });
        }
        for (std::size_t t = 0; t < tapes_.size(); ++t) {
            state.tape_misfits_mm[t] = tapes_[t].at(z) - data_.tapes[t].length_mm;
        }
        for (std::size_t v = 0; v < views_.size(); ++v) {
            const ViewValues values = values_at(views_[v], z);
            auto& view = state.views[v];
            view.focal_scale = values[scale_input];
            view.camera_from_board = pose_of_view(values, view.camera_from_board);
        }
    }

    static double covariance_of(const Solution& solution, const Scaled& a, const Scaled& b) {
        return a.unknown < 0 || b.unknown < 0
                   ? 0
                   : a.unit * b.unit * solution.covariance(a.unknown, b.unknown);
    }

    ViewValues values_now(std::size_t v) const {
        ViewValues values{};
        const auto terms = state.lens.terms();
        std::copy(terms.begin(), terms.end(), values.begin());
        values[sag_input] = state.sag_deg.value_or(0);
        values[scale_input] = state.views[v].focal_scale;
        return values;
    }
    Lens view_lens(std::size_t v) const { return lens_of_view(values_now(v), down_of(v)); }

    double misfit(std::size_t v, const Pose<double>& pose) const {
        return board_of(v, true)
            .sum_of_squares(view_lens(v), pose, state.sheets[board_index(v)])
            .value_or(std::numeric_limits<double>::infinity());
    }

    /// The pose of one view for the lens as it stands.
    Pose<double> refined(std::size_t v, const Pose<double>& start) const {
        ViewInputs inputs;
        const ViewValues now = values_now(v);
        for (int i = 0; i < view_input_count; ++i) {
            inputs[i] = {now[i], 1, -1};
        }
        for (int i = 0; i < sheet_input_count; ++i) {
            inputs[sheet_inputs_at + i].mean = state.sheets[board_index(v)][i];
        }
        for (int i = 0; i < 6; ++i) {
            inputs[turn_input + i] = {0, i < 3 ? turn_unit_rad : 1, i};
        }
        auto cost = std::make_shared<ViewCost>(board_of(v, true), inputs, start, down_of(v));
        const auto unknowns = cost->unknowns();
        bool converged = false;
        const Eigen::VectorXd z =
            minimise({{std::move(cost), unknowns, ""}}, Eigen::VectorXd::Zero(6), converged);
        return converged ? pose_of_view(values_at(inputs, z), start) : start;
    }

    const CalibrationData& data_;
    CalibrationModel model_;
    bool lens_held_;
    int count_ = 0;
    std::vector<std::pair<int, double>> priors_;
    std::array<Scaled, Lens::term_count> lens_;
    Scaled lens_mm_, sag_;
    std::vector<std::array<Scaled, sheet_input_count>> boards_;
    std::vector<Scaled> tapes_;
    std::vector<ViewInputs> views_;
};

bool has_corners(const CalibrationData& data) {
    return !data.views.empty() &&
           std::all_of(data.views.begin(), data.views.end(),
                       [](const BoardView& view) { return view.corners.size() >= fewest_corners; });
}

double working_distance_mm(const CalibrationData& data) {
    if (data.tapes.empty()) {
        return usual_distance_mm;
    }
    double sum = 0;
    for (const auto& tape : data.tapes) {
        sum += tape.length_mm;
    }
    return sum / static_cast<double>(data.tapes.size());
}

/// Corners, noise and boards as they are given; the lens and poses are still to be found.
CalibrationSolution given(const CalibrationData& data) {
    CalibrationSolution state;
    for (const auto& view : data.views) {
        state.views.emplace_back().corners = view.corners;
    }
    for (const auto& board : data.boards) {
        state.sheets.push_back({board.printed.x(), board.printed.y(), 0, 0, 0});
    }
    state.tape_misfits_mm.assign(data.tapes.size(), 0);
    state.focus.distance_mm = working_distance_mm(data);
    return state;
}

/// Starting poses for the lens as it stands; whether every view has one.
bool place_views(const CalibrationData& data, const CalibrationModel& model,
                 CalibrationSolution& state) {
    for (std::size_t v = 0; v < data.views.size(); ++v) {
        const auto pose = starting_pose(data, v, state.lens);
        if (!pose) {
            return false;
        }
        state.views[v].camera_from_board = *pose;
        if (model.focus) {
            state.views[v].focal_scale = state.focus.scale_at(pose->translation_mm.norm());
        }
    }
    return true;
}

/// Rounds of solving, each with the noise and without the outliers that the one before showed.
bool settle_weights(Adjustment& adjustment) {
    for (int round = 0; round < most_rounds; ++round) {
        if (!adjustment.improve(true, false)) {
            return false;
        }
        adjustment.measure_misfits();
        const bool dropped = adjustment.drop_outliers();
        adjustment.measure_misfits();
        adjustment.estimate_noise();
        if (!dropped && round > 0) {
            break;
        }
    }
    return true;
}

bool settle(Adjustment& adjustment, bool weighted) {
    if ((weighted && !settle_weights(adjustment)) || !adjustment.improve(false, false)) {
        return false;
    }
    adjustment.measure_misfits();
    if (weighted) {
        adjustment.estimate_noise();
    }
    return adjustment.conclude();
}

double per_axis_rms(const std::vector<CalibratedView>& views) {
    double sum = 0;
    std::size_t count = 0;
    for (const auto& view : views) {
        for (const auto& misfit : view.misfits_px) {
            sum += misfit.squaredNorm() / 2;
            ++count;
        }
    }
    return count > 0 ? std::sqrt(sum / static_cast<double>(count)) : 0;
}

}  // namespace

CalibrationBoard calibration_board(const Target& target) {
    CalibrationBoard board;
    board.name = target.name;
    board.corners_mm = corners_in_target_mm(target.pattern);
    board.half_mm = {target.sheet_width_mm / 2, target.sheet_height_mm / 2};
    board.printed = {target.printed_across, target.printed_down};
    board.print_checked = target.print_checked;
    board.flatness_mm = target.flatness_mm;
    return board;
}

double CalibratedView::rms_px() const { return per_axis_rms({*this}); }
double CalibrationSolution::rms_px() const { return per_axis_rms(views); }

CalibrationSolution solve_calibration(const CalibrationData& data, const CalibrationModel& model) {
    Adjustment adjustment(data, model, false);
    adjustment.state = given(data);
    if (!has_corners(data)) {
        return adjustment.state;
    }
    auto& state = adjustment.state;
    state.lens = data.known ? data.known->lens : starting_lens(data);
    state.focus.lens_mm = model.focus ? data.lens_mm.value_or(usual_lens_mm) : 0;
    if (data.known) {
        state.focus = data.known->focus;
    }
    if (model.sag && adjustment.knows_ways_up()) {
        state.sag_deg = 0;
    }
    if (place_views(data, model, state) && adjustment.improve(true, true)) {
        adjustment.choose_poses();
        settle(adjustment, model.weighted);
    }
    return state;
}

CalibrationSolution solve_again(const CalibrationData& data, const CalibrationModel& model,
                                const CalibrationSolution& start) {
    Adjustment adjustment(data, model, false);
    auto& state = adjustment.state;
    state = start;
    state.solved = false;
    for (std::size_t v = 0; v < data.views.size(); ++v) {
        state.views[v].corners = data.views[v].corners;
    }
    if (!adjustment.knows_ways_up()) {
        state.sag_deg.reset();
    }
    if (has_corners(data)) {
        settle(adjustment, model.weighted);
    }
    return state;
}

CalibrationSolution solve_views(const CalibrationData& data, const CalibrationSolution& known,
                                const CalibrationModel& model) {
    Adjustment adjustment(data, model, true);
    adjustment.state = given(data);
    auto& state = adjustment.state;
    if (!has_corners(data)) {
        return state;
    }
    state.lens = known.lens;
    state.focus = known.focus;
    state.sheets = known.sheets;
    state.sag_deg = known.sag_deg;
    if (place_views(data, model, state)) {
        adjustment.choose_poses();
        settle(adjustment, model.weighted);
    }
    return state;
}

}  // namespace squaresight
