#pragma once
#include <filesystem>
#include <string>

#include "job/measure.h"

namespace squaresight::bay {

/// Photos that were searched before, kept in a folder by the bytes of photo, camera and target file
/// and by the program that searched them: what comes back is what a new search would give.
class SeenPhotos {
  public:
    /// InputError where the sheet's camera or target file cannot be read.
    SeenPhotos(std::filesystem::path folder, const JobSheet& sheet);

    /// A PhotoReader (job/measure.h). Photos that cannot be read are not kept.
    PhotoResult read(const SheetPhoto& photo, const Camera& camera, const Target& target) const;

    /// What is kept of a photo; nothing where it was not searched yet.
    std::optional<PhotoResult> kept(const SheetPhoto& photo) const;

    /// The name under which this photo is kept: 64 hexadecimal digits.
    std::string key(const SheetPhoto& photo) const;

  private:
    std::filesystem::path file(const SheetPhoto& photo) const;
    std::filesystem::path folder_;
    std::string searched_by_;
};

}  // namespace squaresight::bay
