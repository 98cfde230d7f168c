#pragma once
#include <filesystem>
#include <functional>
#include <vector>

#include "calibrate/calibration.h"
#include "photo/photo.h"
#include "units/finding.h"

/// Photos of boards, read and searched.
namespace squaresight {

/// A photo to calibrate from. `tape` as in BoardView.
struct BoardPhotoFile {
    std::filesystem::path file;
    int tape = -1;
};

/// One photo, whether it can be used or not.
struct BoardPhoto {
    std::string file;
    PhotoFacts facts;
    std::string digest;
    int width_px = 0;
    int height_px = 0;
    BoardView view;       ///< corners are empty where no board was found
    std::string problem;  ///< why it cannot be used, and what to do; empty where it can
};

/// Says which photo is being read: its number from 1, and how many there are.
using PhotoProgress = std::function<void(std::size_t, std::size_t)>;

/// Reads every photo and finds one of the boards in it; of a photo with several the one with the
/// most corners. A photo that cannot be read, shows no board, or repeats another one has a
/// `problem`. InputError where photos are of different phones, lenses, zooms or sizes: none can be
/// told to be the wrong one.
std::vector<BoardPhoto> read_board_photos(const std::vector<BoardPhotoFile>& files,
                                          const std::vector<Target>& boards,
                                          const PhotoProgress& begin);

/// The phone that took these photos; what any of them tells.
CameraIdentity identity_of(const std::vector<BoardPhoto>& photos);

}  // namespace squaresight
