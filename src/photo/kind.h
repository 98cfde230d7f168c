#pragma once
#include <filesystem>
#include <string_view>

/// What kind of file a photo is, and the sentences that refuse one. Internal to `photo`.
namespace squaresight {

enum class PhotoKind { jpeg, png, heif };

/// Memory that reading a photo may take, its file's bytes included.
constexpr double largest_working_bytes = 940e6;

/// The kind by the file's first bytes; its name is not believed. InputError names any other kind
/// and says what to do.
PhotoKind kind_of(std::string_view bytes, const std::filesystem::path& file);

[[noreturn]] void refuse_kind(const std::filesystem::path& file, std::string_view what);
[[noreturn]] void refuse_broken(const std::filesystem::path& file, std::string_view reason);

/// Refuses more than 200 megapixels.
void refuse_giant(const std::filesystem::path& file, double width_px, double height_px);

/// Refuses a photo whose decoding would take more than `largest_working_bytes`.
void refuse_hungry(const std::filesystem::path& file, double working_bytes);

}  // namespace squaresight
