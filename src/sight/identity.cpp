#include "sight/identity.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

namespace squaresight {
namespace {

struct InOrder {
    bool operator()(const Placement& a, const Placement& b) const {
        return std::tie(a.quarter_turns, a.i, a.j) < std::tie(b.quarter_turns, b.i, b.j);
    }
};

using Votes = std::map<Placement, MarkerCount, InOrder>;

int most_for_another(const Votes& votes, const Placement& placement) {
    int most = 0;
    for (const auto& [other, count] : votes) {
        const bool same = !InOrder{}(other, placement) && !InOrder{}(placement, other);
        most = same ? most : std::max(most, count.agreeing);
    }
    return most;
}

Eigen::Vector2d turned(Eigen::Vector2d v, int quarter_turns) {
    for (int n = 0; n < quarter_turns; ++n) {
        v = Eigen::Vector2d(-v.y(), v.x());
    }
    return v;
}

Eigen::Vector2d pattern_from_lattice(const Placement& placement, const Eigen::Vector2d& place) {
    return turned(place - Eigen::Vector2d(placement.i, placement.j),
                  (4 - placement.quarter_turns) % 4);
}

/// Middle of a square of the pattern, counted in squares from inner corner 0.
Eigen::Vector2d middle_of(const MarkerPlace& marker) {
    return {marker.column - 0.5, marker.row - 0.5};
}

/// The lattice's white squares, and those one step outside it.
std::set<Lattice::Place> white_squares(const Lattice& lattice) {
    std::set<Lattice::Place> squares;
    for (const auto& [place, corner] : lattice.corners) {
        for (const int di : {-1, 0}) {
            for (const int dj : {-1, 0}) {
                if (Lattice::is_white(place.first + di, place.second + dj)) {
                    squares.insert({place.first + di, place.second + dj});
                }
            }
        }
    }
    return squares;
}

std::optional<Placement> placement_of(const ReadSquare& square,
                                      const std::vector<MarkerPlace>& markers) {
    const int n = square.reading.id - markers.front().id;
    if (n < 0 || n >= static_cast<int>(markers.size())) {
        return std::nullopt;
    }
    const Eigen::Vector2d in_lattice(square.i + 0.5, square.j + 0.5);
    const Eigen::Vector2d shift =
        in_lattice -
        turned(middle_of(markers[static_cast<std::size_t>(n)]), square.reading.quarter_turns);
    return Placement{square.reading.quarter_turns, static_cast<int>(std::lround(shift.x())),
                     static_cast<int>(std::lround(shift.y()))};
}

std::vector<BoardPoint> lattice_points(const Lattice& lattice, int level) {
    std::vector<BoardPoint> points;
    for (const auto& [place, corner] : lattice.corners) {
        points.push_back(
            {Eigen::Vector2d(place.first, place.second), from_level(corner.at_px, level)});
    }
    return points;
}

UsualMisfit usual_misfit(int level) { return {level_px(level), 0.3 * level_px(level)}; }

/// Index of the inner corner at a place of the pattern; nothing outside it.
std::optional<int> corner_at(const Pattern& pattern, const Eigen::Vector2d& place) {
    const int column = static_cast<int>(std::lround(place.x()));
    const int row = static_cast<int>(std::lround(place.y()));
    if (column < 0 || row < 0 || column >= pattern.corners_across() ||
        row >= pattern.corners_down()) {
        return std::nullopt;
    }
    return row * pattern.corners_across() + column;
}

}  // namespace

std::optional<BoardView> lattice_view(const Lattice& lattice, int level, const Lens& lens) {
    std::vector<bool> kept;
    return fit_board_robustly(lens, lattice_points(lattice, level), usual_misfit(level), kept);
}

std::vector<ReadSquare> read_squares(const Lattice& lattice, const BoardView& view,
                                     const Pyramid& photo, const MarkerReader& reader,
                                     Print print) {
    std::vector<ReadSquare> read;
    for (const auto& [i, j] : white_squares(lattice)) {
        const Eigen::Vector2d corner(i, j);
        const auto reading = reader.read(photo, [&](const Eigen::Vector2d& inside) {
            const double across = print == Print::mirrored ? 1 - inside.x() : inside.x();
            return view.pixel(corner + Eigen::Vector2d(across, inside.y()));
        });
        if (reading) {
            read.push_back({i, j, *reading});
        }
    }
    return read;
}

std::optional<Election> elected(const std::vector<ReadSquare>& squares,
                                const std::vector<MarkerPlace>& markers) {
    Votes votes;
    int sure = 0;
    for (const auto& square : squares) {
        sure += square.reading.sure;
        if (const auto placement = placement_of(square, markers)) {
            votes[*placement].sure += square.reading.sure;
            ++votes[*placement].agreeing;
        }
    }
    std::optional<Election> won;
    for (auto& [placement, count] : votes) {
        count.contradicting = sure - count.sure;
        count.rivals = most_for_another(votes, placement);
        if (count.convincing() && (!won || count.agreeing > won->agreeing)) {
            won = Election{placement, count.agreeing};
        }
    }
    return won;
}

Eigen::Vector2d lattice_from_pattern(const Placement& placement, const Eigen::Vector2d& place) {
    return turned(place, placement.quarter_turns) + Eigen::Vector2d(placement.i, placement.j);
}

std::optional<FoundBoard> placed_board(const Lattice& lattice, int level,
                                       const Placement& placement, const Pattern& pattern,
                                       const Lens& lens) {
    FoundBoard found;
    std::vector<BoardPoint> in_target;
    for (const auto& point : lattice_points(lattice, level)) {
        const auto index = corner_at(pattern, pattern_from_lattice(placement, point.on_board));
        if (index) {
            in_target.push_back({corner_in_target_mm(pattern, *index), point.pixel});
            found.corners_px.emplace(*index, point.pixel);
        }
    }
    std::vector<bool> kept;
    const auto view = fit_board_robustly(lens, in_target, usual_misfit(level), kept);
    if (!view) {
        return std::nullopt;
    }
    found.view = *view;
    return found;
}

std::optional<FoundBoard> identify(const Lattice& lattice, int level, const Pyramid& photo,
                                   const MarkerReader& reader, const Pattern& pattern,
                                   const Lens& lens) {
    const auto view = lattice_view(lattice, level, lens);
    if (!view) {
        return std::nullopt;
    }
    const auto squares = read_squares(lattice, *view, photo, reader, Print::true_side);
    const auto won = elected(squares, marker_places(pattern));
    return won ? placed_board(lattice, level, won->placement, pattern, lens) : std::nullopt;
}

MarkerCount count_markers(const BoardView& view, const Pyramid& photo, const MarkerReader& reader,
                          const Pattern& pattern) {
    MarkerCount count;
    for (const auto& marker : marker_places(pattern)) {
        const Eigen::Vector2d corner_mm((marker.column - pattern.across / 2.0) * pattern.square_mm,
                                        (marker.row - pattern.down / 2.0) * pattern.square_mm);
        const auto reading = reader.read(photo, [&](const Eigen::Vector2d& inside) {
            return view.pixel(corner_mm + pattern.square_mm * inside);
        });
        if (reading) {
            const bool expected = reading->id == marker.id && reading->quarter_turns == 0;
            count.agreeing += expected;
            count.sure += expected && reading->sure;
            count.contradicting += !expected && reading->sure;
        }
    }
    return count;
}

}  // namespace squaresight
