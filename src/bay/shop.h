#pragma once
#include <filesystem>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "job/bay_file.h"
#include "units/quantity.h"

namespace squaresight::bay {

/// Something that the shop has set up, to be chosen by the name inside its file.
struct ShopItem {
    std::string name;
    std::filesystem::path file;
    std::string date;                        ///< of its last check; empty where the file has none
    std::optional<std::string> source = {};  ///< of a mount: the document that it is from, or empty
};

/// What a shop has set up (schema squaresight/shop/1; docs/bay-page.md). Names are unique in each
/// list. What a bay names is in the lists, too.
struct Shop {
    std::string name;
    std::vector<Bay> bays;  ///< a job takes from its bay what it does not choose
    std::vector<ShopItem> mounts, cameras, targets, cradles;
};

/// Reads the shop's file and every file that it names; InputError as their own readers. A list may
/// be empty or left out. A missing file's error says how to make one.
Shop load_shop(const std::filesystem::path& file);

/// What the shop has set up, read again as soon as its file or one that it names was changed. For
/// any number of threads.
class LiveShop {
  public:
    /// InputError as load_shop.
    explicit LiveShop(std::filesystem::path file);

    /// As the files stand now; as they stood before where they cannot be read now. What was
    /// returned stays as long as this does: whoever holds it sees one state.
    const Shop& now();
    /// Why the files as they stand now cannot be read; empty where they can.
    std::string problem();

  private:
    /// Which files were read, and what they looked like from outside.
    struct Stamp {
        std::filesystem::path file;
        std::filesystem::file_time_type changed;
        std::uintmax_t bytes = 0;
        bool operator==(const Stamp&) const = default;
    };
    static Stamp stamp_of(const std::filesystem::path& file);
    void look();
    void read();

    std::filesystem::path file_;
    std::mutex mutex_;
    std::vector<Stamp> seen_;
    std::vector<std::unique_ptr<const Shop>> states_;  ///< the newest last
    std::string problem_;
};

/// Unit of the first bay's tapes; mm where there is none.
LengthUnit first_unit(const Shop& shop);
const Bay* find_bay(const Shop& shop, const std::string& name);
/// The item that a file is, however its path is written.
const ShopItem* item_of_file(const std::vector<ShopItem>& items, const std::filesystem::path& file);
const ShopItem* find_item(const std::vector<ShopItem>& items, const std::string& name);

}  // namespace squaresight::bay
