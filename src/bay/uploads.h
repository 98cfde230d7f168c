#pragma once
#include <cstdint>
#include <filesystem>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>

#include "bay/job_store.h"

namespace squaresight::bay {

constexpr std::uint64_t largest_photo_bytes = 40u << 20;
constexpr std::size_t most_photos_of_job = 60;
constexpr std::size_t most_uploads = 200;  ///< kept at once

/// A photo that is not taken; `what()` is a key of the catalogue (bay/messages.h).
struct PhotoRefused : std::runtime_error {
    using std::runtime_error::runtime_error;
};

/// A photo on its way in: its bytes so far in a file of their own, its name chosen here. What
/// `append` returned is on disk, so that a sender goes on there after a break of either side.
class Uploads {
  public:
    explicit Uploads(std::filesystem::path folder);

    /// What is being sent, and how much of it there is.
    struct Part {
        std::string job;
        std::string cradle;  ///< "upright", "inverted" or empty
        std::uint64_t size = 0;
        std::uint64_t received = 0;
        bool ended = false;  ///< the bytes are no longer here
    };

    /// Begins a photo of `size` bytes; returns its id. PhotoRefused for a size that is none, and
    /// where the disk is nearly full or takes nothing. Of more than `most_uploads` those are
    /// forgotten that nothing was added to for longest, and after a day any.
    std::string begin(const std::string& job, const std::string& cradle, std::uint64_t size);

    /// Nothing where there is no such upload.
    std::optional<Part> find(const std::string& id) const;

    /// Adds bytes at the end; PhotoRefused where they would make the photo larger than announced.
    void append(const std::string& id, std::string_view bytes);
    /// Makes what was appended safe; returns how much there is.
    std::uint64_t keep(const std::string& id);

    /// Where the bytes are.
    std::filesystem::path file(const std::string& id) const;
    /// Ends a photo: its bytes go; it stays known as received whole, for a sender who did not hear.
    void end(const std::string& id);

  private:
    void forget_old();
    std::filesystem::path note(const std::string& id) const;
    std::filesystem::path folder_;
};

/// In place of how the phone stood: a picture of bracket or damage, which nothing is measured with.
inline constexpr const char* picture_of_damage = "picture";

/// Moves a photo that arrived whole into its job, under a name of the program's own choosing, and
/// into the last stage of its sheet, or among its pictures. PhotoRefused for what is no photo by
/// its content, a picture that the stage holds already, and too many.
StoredJob take_photo(JobStore& store, const std::string& job, const std::filesystem::path& arrived,
                     const std::string& cradle, LengthUnit unit);

}  // namespace squaresight::bay
