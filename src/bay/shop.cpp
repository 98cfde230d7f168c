#include "bay/shop.h"

#include <algorithm>

#include "adjust/cradle_file.h"
#include "camera/camera.h"
#include "mount/mount.h"
#include "target/target.h"
#include "units/entry.h"
#include "units/error.h"

namespace squaresight::bay {
namespace {

ShopItem mount_item(const std::filesystem::path& file) {
    const Mount mount = load_mount(file);
    return {mount.name, file, "", mount.source};
}

ShopItem camera_item(const std::filesystem::path& file) {
    const Camera camera = load_camera(file);
    return {camera.name, file, camera.date};
}

ShopItem target_item(const std::filesystem::path& file) {
    const Target target = load_target(file);
    return {target.name, file, target.checked_on};
}

ShopItem cradle_item(const std::filesystem::path& file) {
    const Cradle cradle = load_cradle(file);
    return {cradle.name, file, cradle.date};
}

/// Adds what a bay names and the list lacks, so that it can be chosen by its name.
template <class Load>
void add_of_bay(const std::filesystem::path& file, const Load& load, const Bay& bay,
                std::vector<ShopItem>& items) {
    if (item_of_file(items, file) != nullptr) {
        return;
    }
    ShopItem item = load(file);
    if (find_item(items, item.name) != nullptr) {
        throw InputError(bay.file.string(),
                         "names a file that holds the name '" + item.name +
                             "', as another file of the shop does",
                         "give each a name of its own: they are chosen by it");
    }
    items.push_back(std::move(item));
}

template <class Item, class Load>
std::vector<Item> items(const Entry& root, std::string_view key, const Load& load) {
    std::vector<Item> found;
    const auto list = root.find(key);
    if (!list) {
        return found;
    }
    for (const auto& entry : list->list()) {
        Item item = load(existing_path(entry));
        if (std::any_of(found.begin(), found.end(),
                        [&](const Item& other) { return other.name == item.name; })) {
            entry.fail("holds the name '" + item.name + "', as a file before it does",
                       "give each a name of its own: they are chosen by it");
        }
        found.push_back(std::move(item));
    }
    return found;
}

template <class Item>
const Item* by_name(const std::vector<Item>& items, const std::string& name) {
    const auto found = std::find_if(items.begin(), items.end(),
                                    [&](const Item& item) { return item.name == name; });
    return found == items.end() ? nullptr : &*found;
}

}  // namespace

Shop load_shop(const std::filesystem::path& file) {
    const Entry root = Entry::load(file, "squaresight/shop/1");
    root.expect_keys({"schema", "name", "bays", "mounts", "cameras", "targets", "cradles"});
    Shop shop;
    shop.name = root.at("name").text();
    root.at("bays");
    shop.bays = items<Bay>(root, "bays", load_bay);
    shop.mounts = items<ShopItem>(root, "mounts", mount_item);
    shop.cameras = items<ShopItem>(root, "cameras", camera_item);
    shop.targets = items<ShopItem>(root, "targets", target_item);
    shop.cradles = items<ShopItem>(root, "cradles", cradle_item);
    for (const auto& bay : shop.bays) {
        add_of_bay(bay.mount_file, mount_item, bay, shop.mounts);
        add_of_bay(bay.camera_file, camera_item, bay, shop.cameras);
        add_of_bay(bay.target_file, target_item, bay, shop.targets);
        if (bay.cradle_file) {
            add_of_bay(*bay.cradle_file, cradle_item, bay, shop.cradles);
        }
    }
    return shop;
}

const ShopItem* item_of_file(const std::vector<ShopItem>& items,
                             const std::filesystem::path& file) {
    const auto found = std::find_if(items.begin(), items.end(), [&](const ShopItem& item) {
        std::error_code missing;
        return item.file == file || std::filesystem::equivalent(item.file, file, missing);
    });
    return found == items.end() ? nullptr : &*found;
}

const Bay* find_bay(const Shop& shop, const std::string& name) { return by_name(shop.bays, name); }

const ShopItem* find_item(const std::vector<ShopItem>& items, const std::string& name) {
    return by_name(items, name);
}

}  // namespace squaresight::bay
