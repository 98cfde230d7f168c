#pragma once
#include <Eigen/Core>
#include <functional>
#include <optional>
#include <vector>

#include "sight/printed_pattern.h"
#include "sight/pyramid.h"

namespace squaresight {

/// The marker that was read in a white square.
struct MarkerReading {
    int id = 0;             ///< in the whole dictionary, also ids that the pattern does not use
    int quarter_turns = 0;  ///< from the axes of the sampled square to those of the marker: 1 means
                            ///< that the marker's right is the square's down
    bool sure = true;       ///< it fits well, and no other fits nearly as well
};

/// A point in the photo (level 0) for a point of a square, (0, 0) to (1, 1) from its corner (i, j)
/// to (i + 1, j + 1); nothing where the lens does not see it.
using SquareToPixel = std::function<std::optional<Eigen::Vector2d>(const Eigen::Vector2d&)>;

/// Reads the markers of one pattern by comparing grey values with what each marker of the
/// dictionary, in each of four turns and blurred more or less along each side, would show. Not to
/// be shared between threads: it keeps what it has drawn.
class MarkerReader {
  public:
    explicit MarkerReader(const PrintedPattern& print);

    /// The marker that fits best, sure or not; nothing where the square has no contrast, or no
    /// white rim about a black one.
    std::optional<MarkerReading> read(const Pyramid& photo, const SquareToPixel& pixel_of) const;

  private:
    /// Which of the blurs that are tried lies along the rows of the samples, and along the columns.
    struct BlurChoice {
        std::size_t along_rows = 0;
        std::size_t along_columns = 0;
    };
    struct Samples {
        Eigen::VectorXf values;  ///< mean zero, norm one
        double squeeze = 1;      ///< pixels of a cell along the rows over those along the columns
    };
    /// The reading of one blur, and what it leaves unexplained.
    struct Fit {
        MarkerReading reading;
        float unexplained = 2;
    };

    std::optional<Samples> samples(const Pyramid& photo, const SquareToPixel& pixel_of) const;
    const Eigen::MatrixXf& templates(const BlurChoice& blur) const;
    Fit best_fit(const Eigen::VectorXf& seen, const BlurChoice& blur) const;

    const Dictionary& dictionary_;
    double cell_ = 0;            ///< side of a cell in squares
    std::vector<double> at_;     ///< sample places along a side of the square
    Eigen::MatrixX3d shares_;    ///< of the side's start, middle and end in a quadratic at these
    std::vector<double> edges_;  ///< of what is printed along it, the next squares included
    Eigen::VectorXf rims_;       ///< a white rim about a black one, with mean zero and norm one
    /// By blur, empty where not yet needed: in column 4 id + turns what that marker shows, with
    /// mean zero and norm one.
    mutable std::vector<Eigen::MatrixXf> drawn_;
};

}  // namespace squaresight
