#pragma once
#include <Eigen/Core>
#include <functional>
#include <optional>
#include <vector>

#include "sight/printed_pattern.h"
#include "sight/pyramid.h"

namespace squaresight {

/// A marker that was read without doubt in a white square.
struct Reading {
    int id = 0;             ///< in the whole dictionary, also ids that the pattern does not use
    int quarter_turns = 0;  ///< from the axes of the sampled square to those of the marker: 1 means
                            ///< that the marker's right is the square's down
};

/// A point in the photo (level 0) for a point of a square, (0, 0) to (1, 1) from its corner (i, j)
/// to (i + 1, j + 1); nothing where the lens does not see it.
using SquareToPixel = std::function<std::optional<Eigen::Vector2d>(const Eigen::Vector2d&)>;

/// Reads the markers of one pattern by comparing grey values with what each marker of the
/// dictionary, in each of four turns and blurred more or less, would show.
class MarkerReader {
  public:
    explicit MarkerReader(const PrintedPattern& print);

    /// Nothing when no marker fits well or a second fits nearly as well.
    std::optional<Reading> read(const Pyramid& photo, const SquareToPixel& pixel_of) const;

  private:
    struct Template {
        Reading reading;
        Eigen::VectorXf values;  ///< mean zero, norm one
    };
    std::optional<Eigen::VectorXf> samples(const Pyramid& photo,
                                           const SquareToPixel& pixel_of) const;
    std::optional<Reading> best_fit(const Eigen::VectorXf& seen,
                                    const std::vector<Template>& templates,
                                    float& unexplained) const;

    int cells_ = 0;           ///< a side, black border included
    double cell_ = 0;         ///< side of a cell in squares
    std::vector<double> at_;  ///< sample places along a side of the square
    std::vector<std::vector<Template>> by_blur_;
};

}  // namespace squaresight
