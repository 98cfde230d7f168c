#include "sight/consistency.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <iterator>
#include <vector>

#include "sight/median.h"

namespace squaresight {
namespace {

constexpr double limit_sigmas = 5;
constexpr double least_sigma_px = 0.02;    // unevenness of the board and the lens between corners
constexpr double noise_limit = 1.7;        // over the median noise
constexpr double noise_spread = 1.25;      // of corners on one board, over the lower quartile
constexpr double patch_px2 = 8;            // that a misfit beyond noise shares
constexpr double usual_drag_blurs = 0.03;  // by rims of spots, were they all about a corner
constexpr double unseen_drag_blurs = 0.15;
constexpr double usual_unevenness = 1;   // of noise alone
constexpr double unevenness_limit = 18;  // a soft shadow's edge stays below, a cover does not
constexpr double usual_uneven = 3;  // over those around: cameras that sharpen are uneven everywhere
constexpr std::size_t around = 8;   // corners
constexpr double blur_limit = 3;    // over the median blur
constexpr double contrast_limit = 0.25;     // of the median contrast
constexpr std::size_t fewest_for_bow = 18;  // corners for a curved misfit surface
constexpr std::size_t fewest_for_cubic = 40;
constexpr double usual_leftover = 1.18;  // median of Rayleigh's law: where noise is all there is
constexpr std::size_t fewest_for_scatter = 30;
constexpr double as_good_as_unspoilt = 1.2;
constexpr std::size_t few_unspoilt = 4;  // one in so many
constexpr double usual_farthest = 2.5;  // sigmas off the surface: of noise alone 1 in 23 is further
constexpr double least_scatter = 0.5;   // over what is stated: the surface hides what all share
constexpr double bowed_unknowns = 14;   // of a view and a bowed surface
constexpr double cubic_unknowns = 22;
constexpr double settled_weight = 0.01;  // of a corner, from one round to the next
constexpr double cubic_gain = 0.85;      // leftover with a cubic surface over that without

/// Misfits of corners from the view of a flat board, and how sure each is.
struct Misfits {
    std::vector<int> indices;
    std::vector<Eigen::Vector2d> places;  ///< on the board, about -1..1
    std::vector<Eigen::Vector2d> misfit_px;
    std::vector<double> sigma_px;
};

enum class Surface : Eigen::Index { level = 1, bowed = 6, cubic = 10 };  // numbers of terms

Eigen::Index terms_of(Surface surface) { return static_cast<Eigen::Index>(surface); }

constexpr int most_terms = static_cast<int>(Surface::cubic);
using Terms = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, most_terms, 1>;
using Normal = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, most_terms, most_terms>;
using Offsets = Eigen::Matrix<double, Eigen::Dynamic, 2, 0, most_terms, 2>;

Terms surface_terms(const Eigen::Vector2d& p, Surface surface) {
    const double x = p.x();
    const double y = p.y();
    Terms terms(most_terms);
    terms << 1, x, y, x * x, x * y, y * y, x * x * x, x * x * y, x * y * y, y * y * y;
    return terms.head(terms_of(surface));
}

double huber_weight(double sigmas) { return sigmas > 1.5 ? 1.5 / sigmas : 1; }

/// What is left of the misfits beside a surface through them, in units of their sigma; one fit with
/// Huber's weights, so that a few wrong corners do not bend it.
std::vector<double> leftovers_of(const Misfits& m, Surface kind) {
    const std::size_t count = m.indices.size();
    const Eigen::Index terms = terms_of(kind);
    std::vector<double> leftover(count, 0);
    bool settled = false;
    for (int round = 0; round < 10 && !settled; ++round) {
        Normal normal = Normal::Zero(terms, terms);
        Offsets right = Offsets::Zero(terms, 2);
        for (std::size_t n = 0; n < count; ++n) {
            const double weight = huber_weight(leftover[n]) / (m.sigma_px[n] * m.sigma_px[n]);
            const Terms a = surface_terms(m.places[n], kind);
            normal += weight * a.lazyProduct(a.transpose());
            right += weight * a.lazyProduct(m.misfit_px[n].transpose());
        }
        const Offsets surface = normal.ldlt().solve(right);
        settled = true;
        for (std::size_t n = 0; n < count; ++n) {
            const Eigen::Vector2d expected = surface.transpose() * surface_terms(m.places[n], kind);
            const double before = huber_weight(leftover[n]);
            leftover[n] = (m.misfit_px[n] - expected).norm() / m.sigma_px[n];
            settled = settled && std::abs(huber_weight(leftover[n]) - before) < settled_weight;
        }
    }
    return leftover;
}

struct Leftovers {
    std::vector<double> sigmas;
    double unknowns = bowed_unknowns;  ///< of the view and the surface, which hide some of it
};

/// The same beside the plainest surface that will do: a bowed board seen from near needs a cubic.
Leftovers leftovers_of(const Misfits& m) {
    const std::size_t count = m.indices.size();
    auto plain = leftovers_of(m, count >= fewest_for_bow ? Surface::bowed : Surface::level);
    if (count < fewest_for_cubic || median(plain) < usual_leftover) {
        return {std::move(plain)};
    }
    auto curved = leftovers_of(m, Surface::cubic);
    return median(curved) < cubic_gain * median(plain)
               ? Leftovers{std::move(curved), cubic_unknowns}
               : Leftovers{std::move(plain)};
}

std::optional<BoardView> view_of(const FittedCorners& corners, const Lens& lens,
                                 const Pattern& pattern) {
    std::vector<BoardPoint> points;
    for (const auto& [index, corner] : corners) {
        points.push_back({corner_in_target_mm(pattern, index), corner.pixel});
    }
    std::vector<bool> kept;
    return fit_board_robustly(lens, points, {0.3, least_sigma_px / 4}, kept);
}

Misfits misfits_from(const BoardView& view, const FittedCorners& corners, const Pattern& pattern) {
    Misfits m;
    const double half_mm = pattern.square_mm * std::max(pattern.across, pattern.down) / 2;
    const double usual_sigma2 =
        median_of(corners, [](const auto& c) { return c.covariance_px2.trace() / 2; });
    for (const auto& [index, corner] : corners) {
        const Eigen::Vector2d on_board = corner_in_target_mm(pattern, index);
        const auto pixel = view.pixel(on_board);
        if (!pixel) {
            continue;
        }
        m.indices.push_back(index);
        m.places.push_back(on_board / half_mm);
        m.misfit_px.push_back(corner.pixel - *pixel);
        const double sigma2 = std::max(corner.covariance_px2.trace() / 2, usual_sigma2);
        m.sigma_px.push_back(std::sqrt(sigma2 + least_sigma_px * least_sigma_px));
    }
    return m;
}

/// What is usual of the corners about a place, its own among them.
struct Surroundings {
    double unevenness = 0;  ///< the middle one
    double noise = 0;       ///< the lower quartile
};

Surroundings surroundings_of(const FittedCorners& corners, const Eigen::Vector2d& at_px) {
    std::vector<std::pair<double, const FittedCorner*>> near;  // by distance
    near.reserve(corners.size());
    for (const auto& [index, corner] : corners) {
        near.emplace_back((corner.pixel - at_px).squaredNorm(), &corner);
    }
    const std::size_t count = std::min(around + 1, near.size());
    std::partial_sort(near.begin(), near.begin() + static_cast<std::ptrdiff_t>(count), near.end());
    std::vector<double> uneven, noise;
    for (std::size_t n = 0; n < count; ++n) {
        uneven.push_back(near[n].second->unevenness);
        noise.push_back(near[n].second->noise);
    }
    std::sort(noise.begin(), noise.end());
    return {median(uneven), noise[count / 4]};
}

/// By what the variance of a place is more than noise alone makes it. A misfit beyond noise (dirt,
/// a shadow) comes in patches, each of which counts once, however many pixels it has.
double more_than_by_noise(const FittedCorner& corner, double usual_noise) {
    const double noise = std::min(corner.noise, noise_spread * usual_noise);
    const double share = noise * noise / (corner.noise * corner.noise);
    return share + (1 - share) * patch_px2;
}

/// The same of spots that were left out: what remains of their rims drags a corner. Where there are
/// too few corners for a surface, nothing else tells.
double more_than_beside_spots(const FittedCorner& corner, std::size_t corners) {
    const double blurs = corners < fewest_for_bow ? unseen_drag_blurs : usual_drag_blurs;
    const double dragged_px = blurs * corner.blur_px;
    return 1 + corner.spotted * dragged_px * dragged_px / (corner.covariance_px2.trace() / 2);
}

FittedCorners alike_in_grey(const FittedCorners& corners) {
    FittedCorners alike;
    if (corners.empty()) {
        return alike;
    }
    const double noise = median_of(corners, [](const auto& c) { return c.noise; });
    const double contrast = median_of(corners, [](const auto& c) { return c.white - c.black; });
    const double blur_px = median_of(corners, [](const auto& c) { return c.blur_px; });
    for (const auto& [index, corner] : corners) {
        const Surroundings usual = surroundings_of(corners, corner.pixel);
        if (corner.noise <= noise_limit * noise + 0.5 &&
            corner.white - corner.black >= contrast_limit * contrast &&
            corner.blur_px <= blur_limit * blur_px &&
            corner.unevenness <= std::max(unevenness_limit, usual_uneven * usual.unevenness)) {
            FittedCorner kept = corner;
            kept.spoilt = std::max(1.0, corner.unevenness - usual_unevenness) *
                          more_than_by_noise(corner, usual.noise) *
                          more_than_beside_spots(corner, corners.size());
            kept.covariance_px2 *= kept.spoilt;
            alike.emplace(index, kept);
        }
    }
    return alike;
}

FittedCorners alike_in_place(const FittedCorners& corners, const BoardView& view,
                             const Pattern& pattern) {
    const Misfits misfits = misfits_from(view, corners, pattern);
    const std::vector<double> leftover = leftovers_of(misfits).sigmas;
    const double usual = std::max(1.0, median(leftover) / usual_leftover);
    FittedCorners alike;
    for (std::size_t n = 0; n < leftover.size(); ++n) {
        if (leftover[n] <= limit_sigmas * usual) {
            alike.emplace(misfits.indices[n], corners.at(misfits.indices[n]));
        }
    }
    return alike;
}

/// How far each corner stands off the smooth surface through all of them, in units of its own
/// sigma; nothing where there are too few to tell.
std::optional<std::map<int, double>> off_the_surface(const FittedCorners& corners,
                                                     const BoardView& view,
                                                     const Pattern& pattern) {
    if (corners.size() < fewest_for_bow) {
        return std::nullopt;
    }
    Misfits misfits = misfits_from(view, corners, pattern);
    for (std::size_t n = 0; n < misfits.indices.size(); ++n) {
        misfits.sigma_px[n] = std::sqrt(corners.at(misfits.indices[n]).covariance_px2.trace() / 2);
    }
    const double rows = 2 * static_cast<double>(misfits.indices.size());
    const Leftovers leftover = leftovers_of(misfits);
    const double as_unknowns_hide = std::sqrt(rows / (rows - leftover.unknowns));
    std::map<int, double> off;
    for (std::size_t n = 0; n < leftover.sigmas.size(); ++n) {
        off[misfits.indices[n]] = leftover.sigmas[n] * as_unknowns_hide;
    }
    return off;
}

std::optional<double> scatter_of(const FittedCorners& corners, const BoardView& view,
                                 const Pattern& pattern) {
    const auto off = corners.size() < fewest_for_scatter ? std::nullopt
                                                         : off_the_surface(corners, view, pattern);
    return off ? std::optional(median_of(*off, [](double sigmas) { return sigmas; }) /
                               usual_leftover)
               : std::nullopt;
}

/// What the grey values cannot show of the corners' scatter (blocks of a JPEG, a smear that the fit
/// takes for noise) shows between corners: beside the smooth surface through all of them they
/// should scatter as they say. Unspoilt ones tell. Where there are few of them all do: of a photo
/// that is spoilt all over, and else only that they say too little.
FittedCorners as_sure_as_they_scatter(FittedCorners corners, const BoardView& view,
                                      const Pattern& pattern) {
    FittedCorners unspoilt;
    std::copy_if(corners.begin(), corners.end(), std::inserter(unspoilt, unspoilt.end()),
                 [](const auto& corner) { return corner.second.spoilt < as_good_as_unspoilt; });
    double factor = 1;
    if (const auto scatter = scatter_of(unspoilt, view, pattern)) {
        factor = std::max(*scatter, least_scatter);
    } else if (const auto scatter_of_all = scatter_of(corners, view, pattern)) {
        const bool all_over = unspoilt.size() * few_unspoilt < corners.size();
        factor = std::max(*scatter_of_all, all_over ? least_scatter : 1.0);
    }
    for (auto& [index, corner] : corners) {
        corner.covariance_px2 *= factor * factor;
    }
    return corners;
}

/// A corner that stands off by more than chance allows was dragged by what its grey values do not
/// show: it is no surer than that.
FittedCorners as_sure_as_they_stand(FittedCorners corners, const BoardView& view,
                                    const Pattern& pattern) {
    if (const auto off = off_the_surface(corners, view, pattern)) {
        for (const auto& [index, sigmas] : *off) {
            const double beyond = std::max(1.0, sigmas / usual_farthest);
            corners.at(index).covariance_px2 *= beyond * beyond;
        }
    }
    return corners;
}

}  // namespace

FittedCorners consistent_corners(const FittedCorners& corners, const Lens& lens,
                                 const Pattern& pattern) {
    FittedCorners good = alike_in_grey(corners);
    std::optional<BoardView> view;
    for (std::size_t before = 0; good.size() >= 4 && good.size() != before;) {
        before = good.size();
        view = view_of(good, lens, pattern);
        good = view ? alike_in_place(good, *view, pattern) : FittedCorners{};
    }
    if (!view) {
        return good;
    }
    good = as_sure_as_they_scatter(std::move(good), *view, pattern);
    good = as_sure_as_they_stand(std::move(good), *view, pattern);
    return good.size() >= 4 ? alike_in_place(good, *view, pattern) : good;
}

}  // namespace squaresight
