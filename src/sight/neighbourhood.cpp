#include "sight/neighbourhood.h"

#include <numeric>

namespace squaresight {
namespace {

constexpr float most_across = 0.5F;  // cosine between the bright lines of two along an edge
constexpr float least_along = 0.9F;  // the same across a square

}  // namespace

Neighbourhood::Neighbourhood(const cv::Mat& image, const std::vector<Saddle>& saddles)
    : across_(image.cols / bin_px + 1), down_(image.rows / bin_px + 1) {
    std::vector<std::size_t> bins;
    first_.assign(bin(0, down_) + 1, 0);
    for (const auto& saddle : saddles) {
        const Seen one = seen(saddle);
        bins.push_back(bin(column(one.at_px.x()), row(one.at_px.y())));
        ++first_[bins.back() + 1];
    }
    std::partial_sum(first_.begin(), first_.end(), first_.begin());
    std::vector<std::size_t> next = first_;
    index_.resize(saddles.size());
    for (auto* sorted : {&x_px_, &y_px_, &bright_x_, &bright_y_, &strength_}) {
        sorted->resize(saddles.size());
    }
    for (std::size_t n = 0; n < saddles.size(); ++n) {
        put(seen(saddles[n]), static_cast<int>(n), next[bins[n]]++);
    }
}

void Neighbourhood::put(const Seen& one, int index, std::size_t place) {
    x_px_[place] = one.at_px.x();
    y_px_[place] = one.at_px.y();
    bright_x_[place] = one.bright.x();
    bright_y_[place] = one.bright.y();
    strength_[place] = one.strength;
    index_[place] = index;
}

/// Marks those of a row that are to be visited; how many of it lie in the ring. Without a branch,
/// so that a processor does several at once.
std::size_t Neighbourhood::mark(const Wanted& wanted, std::size_t first, std::size_t end) {
    if (end - first > marked_.size()) {
        marked_.resize(end - first);
        away2_.resize(end - first);
    }
    const Seen& with = wanted.with;
    const float within2 = wanted.within_px * wanted.within_px;
    const float nearest2 = wanted.least_off_line * wanted.least_off_line;
    const float farthest2 = wanted.most_off_line * wanted.most_off_line;
    const bool along_edge = wanted.kin == Kin::along_edge;
    const float least_alike = along_edge ? 0 : least_along;
    const float most_alike = along_edge ? most_across : 2;
    int others = 0;
    for (std::size_t k = first; k < end; ++k) {
        const float dx = x_px_[k] - wanted.centre_px.x();
        const float dy = y_px_[k] - wanted.centre_px.y();
        const float away2 = dx * dx + dy * dy;
        const float alike =
            std::abs(bright_x_[k] * with.bright.x() + bright_y_[k] * with.bright.y());
        const int inside =
            static_cast<int>(away2 > wanted.beyond2) & static_cast<int>(away2 <= within2);
        const float along = wanted.ahead.x() * dx + wanted.ahead.y() * dy;
        const float aside = wanted.ahead.x() * dy - wanted.ahead.y() * dx;
        const float off_line2 = aside * aside;
        others += inside;
        away2_[k - first] = away2;
        marked_[k - first] = inside & static_cast<int>(along >= 0) &
                             static_cast<int>(off_line2 >= nearest2 * away2) &
                             static_cast<int>(off_line2 <= farthest2 * away2) &
                             static_cast<int>(alike >= least_alike) &
                             static_cast<int>(alike < most_alike) &
                             static_cast<int>(strength_[k] < 4 * with.strength) &
                             static_cast<int>(with.strength < 4 * strength_[k]);
    }
    return static_cast<std::size_t>(others);
}

}  // namespace squaresight
