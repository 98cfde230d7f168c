#pragma once
#include <Eigen/Core>
#include <functional>
#include <map>
#include <optional>
#include <vector>

#include "sight/lattice.h"

namespace squaresight {

/// Indices of saddles by the place each has in a lattice.
using Places = std::map<Lattice::Place, int>;

/// A step from a saddle to where the next is expected.
struct Step {
    Lattice::Place from;
    int di = 0;  ///< one of the two is 1 or -1
    int dj = 0;
    int n = 0;  ///< the saddle it starts from
    Eigen::Vector2d to_px{0, 0};
    double reach_px = 0;  ///< how far from there it may lie
};

/// The saddle that a step leads to, if there is one that belongs to the lattice.
using NextSaddle = std::function<std::optional<int>(const Step&)>;

/// Lets a lattice grow from its first saddles, at least three about one cell, by steps that are
/// predicted from those before and beside. Marks the saddles that it takes.
Places grown(Places places, const std::vector<Saddle>& saddles, std::vector<bool>& taken,
             const NextSaddle& next_saddle);

/// The saddles themselves, each in its place.
Lattice lattice_of(const Places& places, const std::vector<Saddle>& saddles);

/// How far from a predicted place a saddle may lie where two sides of a cell are as given.
double reach_px(const Eigen::Vector2d& side, const Eigen::Vector2d& other);

}  // namespace squaresight
