#pragma once
#include <filesystem>
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
    std::vector<Bay> bays;  ///< at least one; a job takes from its bay what it does not choose
    std::vector<ShopItem> mounts, cameras, targets, cradles;
};

/// Reads the shop's file and every file that it names; InputError as their own readers.
Shop load_shop(const std::filesystem::path& file);

const Bay* find_bay(const Shop& shop, const std::string& name);
/// The item that a file is, however its path is written.
const ShopItem* item_of_file(const std::vector<ShopItem>& items, const std::filesystem::path& file);
const ShopItem* find_item(const std::vector<ShopItem>& items, const std::string& name);

}  // namespace squaresight::bay
