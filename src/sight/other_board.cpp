#include "sight/other_board.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <vector>

#include "sight/lattice_block.h"
#include "sight/plain_squares.h"

namespace squaresight {
namespace {

constexpr std::size_t fewest_read = 6;  // markers that tell what board they stand on
constexpr double most_by_chance = 0.4;  // of a board's white squares, read with a wrong dictionary
constexpr int most_across = 60;         // squares
constexpr int ample = 6;  // corners, across and down, to tell markers of another family

constexpr const char* remedy =
    "; correct the board file, or take the photo of the board that it describes";

/// How many markers stand where the pattern has them; 0 where too many do not.
int agreeing(const std::vector<ReadSquare>& squares, const Pattern& pattern) {
    const auto won = elected(squares, marker_places(pattern));
    return won ? won->agreeing : 0;
}

std::string colour_name(SquareColour colour) {
    return colour == SquareColour::black ? "black" : "white";
}

SquareColour other(SquareColour colour) {
    return colour == SquareColour::black ? SquareColour::white : SquareColour::black;
}

/// Of several patterns the one that most markers agree with.
class Best {
  public:
    explicit Best(const std::vector<ReadSquare>& squares) : squares_(squares) {}

    void try_with(const Pattern& pattern) {
        const int now = agreeing(squares_, pattern);
        if (now > most_) {
            most_ = now;
            best_ = pattern;
        }
    }
    const std::optional<Pattern>& pattern() const { return best_; }

  private:
    const std::vector<ReadSquare>& squares_;
    std::optional<Pattern> best_;
    int most_ = 0;
};

std::optional<Pattern> other_size(const std::vector<ReadSquare>& squares, const Pattern& pattern) {
    Best best(squares);
    for (int across = 3; across <= most_across; ++across) {
        for (const auto first : {pattern.first_square, other(pattern.first_square)}) {
            Pattern tried = pattern;
            tried.across = across;
            tried.down = most_across;  // the last rows need not be there
            tried.first_square = first;
            best.try_with(tried);
        }
    }
    return best.pattern();
}

std::optional<Pattern> other_first_id(const std::vector<ReadSquare>& squares,
                                      const Pattern& pattern, int known_markers) {
    Best best(squares);
    for (int first = 0; first < known_markers; ++first) {
        Pattern tried = pattern;
        tried.first_id = first;
        best.try_with(tried);
    }
    return best.pattern();
}

/// What is wrong where the dictionary is the right one.
std::string wrong_order(const std::vector<ReadSquare>& squares, const PrintedPattern& print) {
    const Pattern& pattern = print.pattern;
    if (agreeing(squares, pattern) > 0) {
        return "";
    }
    Pattern recoloured = pattern;
    recoloured.first_square = other(pattern.first_square);
    if (agreeing(squares, recoloured) > 0) {
        return other_colours_advice(pattern.first_square);
    }
    const auto size = other_size(squares, pattern);
    if (size && size->across == pattern.across) {
        return fmt::format("the board in the photo has more than {} rows of squares{}",
                           pattern.down, remedy);
    }
    if (size) {
        return fmt::format(
            "the markers in the photo stand on a board of {} squares across, the board file says "
            "{}{}",
            size->across, pattern.across, remedy);
    }
    const int known = static_cast<int>(print.dictionary.bits.size());
    if (const auto numbered = other_first_id(squares, pattern, known)) {
        return fmt::format(
            "the markers in the photo are numbered from {}, the board file says first_id {}{}",
            numbered->first_id, pattern.first_id, remedy);
    }
    return std::string("the markers in the photo do not stand where the board file says") + remedy;
}

/// The largest dictionary of each family: the smaller ones are the beginnings of it.
constexpr std::array families{"DICT_4X4_1000",      "DICT_5X5_1000",       "DICT_6X6_1000",
                              "DICT_7X7_1000",      "DICT_ARUCO_ORIGINAL", "DICT_APRILTAG_16h5",
                              "DICT_APRILTAG_25h9", "DICT_APRILTAG_36h10", "DICT_APRILTAG_36h11"};

class Diagnosis {
  public:
    Diagnosis(const Lattice& lattice, int level, const Pyramid& photo, const PrintedPattern& print,
              const BoardView& view)
        : lattice_(lattice), level_(level), photo_(photo), print_(print), view_(view) {}

    std::string told() const {
        const auto squares = read(print_);
        const std::size_t mirrored = read(print_, Print::mirrored).size();
        if (mirrored >= fewest_read && mirrored > 2 * squares.size()) {
            return "the board in the photo is a mirror image; photograph the board itself, printed "
                   "without mirroring";
        }
        if (squares.size() >= fewest_read) {
            return wrong_order(squares, print_);
        }
        const Block block = seen_block(lattice_);
        const Pattern pattern = pattern_of(block);
        const auto board =
            placed_board(lattice_, level_, {0, block.left, block.top}, pattern, view_.lens);
        if (board && squares_seen(board->view, photo_, pattern) == SquaresSeen::plain) {
            return fmt::format(
                "the checkerboard in the photo has no markers, the board file says "
                "{}{}",
                print_.pattern.dictionary, remedy);
        }
        return other_dictionary(block);
    }

  private:
    std::vector<ReadSquare> read(const PrintedPattern& print, Print side = Print::true_side) const {
        return read(lattice_, print, side);
    }

    std::vector<ReadSquare> read(const Lattice& lattice, const PrintedPattern& print,
                                 Print side = Print::true_side) const {
        auto squares = read_squares(lattice, view_, photo_, MarkerReader(print), side);
        std::erase_if(squares, [](const ReadSquare& square) { return !square.reading.sure; });
        return squares;
    }

    /// By the markers in the middle of the block.
    std::string other_dictionary(const Block& block) const {
        const Block middle = middle_of(block);
        const Lattice lattice = part_in(middle, lattice_);
        const double white_squares = 0.5 * middle.across * middle.down;
        const char* best = nullptr;
        std::size_t most = fewest_read - 1;
        for (const char* const family : families) {
            PrintedPattern tried = print_;
            tried.dictionary = marker_dictionary(family, "markers");
            const std::size_t count = read(lattice, tried).size();
            if (count > most && static_cast<double>(count) > most_by_chance * white_squares) {
                most = count;
                best = family;
            }
        }
        return best == nullptr
                   ? ""
                   : fmt::format(
                         "the markers in the photo are of the family {}, the board file "
                         "says {}{}",
                         best, print_.pattern.dictionary, remedy);
    }

    static Block middle_of(const Block& block) {
        const int across = std::min(block.across, ample);
        const int down = std::min(block.down, ample);
        return {block.left + (block.across - across) / 2, block.top + (block.down - down) / 2,
                across, down};
    }

    const Lattice& lattice_;
    int level_;
    const Pyramid& photo_;
    const PrintedPattern& print_;
    const BoardView& view_;
};

}  // namespace

std::string other_colours_advice(SquareColour in_file) {
    return fmt::format("the board in the photo begins with a {} square, the board file says {}{}",
                       colour_name(other(in_file)), colour_name(in_file), remedy);
}

std::string difference_from_target(const Lattice& lattice, int level, const Pyramid& photo,
                                   const PrintedPattern& print, const Lens& lens) {
    const auto view = lattice_view(lattice, level, lens);
    return view ? Diagnosis(lattice, level, photo, print, *view).told() : "";
}

}  // namespace squaresight
