#include "bay/shop.h"

#include <algorithm>
#include <chrono>
#include <system_error>
#include <utility>

#include "adjust/cradle_file.h"
#include "camera/camera.h"
#include "mount/mount.h"
#include "target/target.h"
#include "units/entry.h"
#include "units/error.h"

namespace squaresight::bay {
namespace {

/// The coarsest steps in which a file system tells when a file was changed.
constexpr std::chrono::seconds clock_step{2};

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
    if (!list || list->is_empty_list()) {
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

std::vector<std::filesystem::path> files_of(const Shop& shop, const std::filesystem::path& file) {
    std::vector<std::filesystem::path> files{file};
    for (const auto& bay : shop.bays) {
        files.push_back(bay.file);
    }
    for (const auto* items : {&shop.mounts, &shop.cameras, &shop.targets, &shop.cradles}) {
        for (const auto& item : *items) {
            files.push_back(item.file);
        }
    }
    return files;
}

template <class Item>
const Item* by_name(const std::vector<Item>& items, const std::string& name) {
    const auto found = std::find_if(items.begin(), items.end(),
                                    [&](const Item& item) { return item.name == name; });
    return found == items.end() ? nullptr : &*found;
}

}  // namespace

Shop load_shop(const std::filesystem::path& file) {
    std::error_code unknown;
    if (!std::filesystem::exists(file, unknown)) {
        throw InputError(file.string(), "there is no file of what the shop has set up",
                         "write a file of two lines, 'schema: squaresight/shop/1' and 'name: Our "
                         "shop', or copy samples/shop.yaml (docs/bay-page.md says what goes in)");
    }
    const Entry root = Entry::load(file, "squaresight/shop/1");
    root.expect_keys({"schema", "name", "bays", "mounts", "cameras", "targets", "cradles"});
    Shop shop;
    shop.name = root.at("name").text();
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

LiveShop::LiveShop(std::filesystem::path file) : file_(std::move(file)) {
    read();
    if (states_.empty()) {
        throw InputError(problem_);
    }
}

const Shop& LiveShop::now() {
    const std::lock_guard lock(mutex_);
    look();
    return *states_.back();
}

std::string LiveShop::problem() {
    const std::lock_guard lock(mutex_);
    look();
    return problem_;
}

LiveShop::Stamp LiveShop::stamp_of(const std::filesystem::path& file) {
    std::error_code missing;
    Stamp stamp{file, std::filesystem::last_write_time(file, missing), 0};
    stamp.bytes = std::filesystem::file_size(file, missing);
    return stamp;
}

void LiveShop::look() {
    const bool same = std::all_of(seen_.begin(), seen_.end(),
                                  [](const Stamp& stamp) { return stamp == stamp_of(stamp.file); });
    if (!same || !problem_.empty()) {
        read();
    }
}

void LiveShop::read() {
    const auto begun = std::filesystem::file_time_type::clock::now();
    try {
        states_.push_back(std::make_unique<const Shop>(load_shop(file_)));
        problem_.clear();
    } catch (const InputError& error) {
        problem_ = error.what();
        return;
    }
    seen_.clear();
    for (const auto& file : files_of(*states_.back(), file_)) {
        Stamp stamp = stamp_of(file);
        if (stamp.changed >= begun - clock_step) {  // perhaps after it was read: read it once more
            stamp.changed = {};
        }
        seen_.push_back(stamp);
    }
}

LengthUnit first_unit(const Shop& shop) {
    return shop.bays.empty() ? LengthUnit::mm : shop.bays.front().unit;
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
