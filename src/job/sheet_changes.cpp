#include "job/sheet_changes.h"

#include <fmt/format.h>
#include <yaml-cpp/yaml.h>

#include <algorithm>
#include <utility>

namespace squaresight {
namespace {

using Values = std::vector<std::pair<std::string, std::string>>;  ///< keys and what stands there

void flatten(const YAML::Node& node, const std::string& key, Values& values) {
    if (node.IsMap()) {
        for (const auto& entry : node) {
            const auto name = entry.first.as<std::string>("?");
            flatten(entry.second, key.empty() ? name : key + "." + name, values);
        }
    } else if (node.IsSequence()) {
        for (std::size_t i = 0; i < node.size(); ++i) {
            flatten(node[i], fmt::format("{} {}", key, i + 1), values);
        }
    } else {
        values.emplace_back(key, node.as<std::string>(""));
    }
}

Values values_of(const std::string& text) {
    Values values;
    try {
        flatten(YAML::Load(text), "", values);
    } catch (const YAML::Exception&) {
        values.assign({{"the whole sheet", text}});
    }
    return values;
}

const std::string* value_at(const Values& values, const std::string& key) {
    const auto found = std::find_if(values.begin(), values.end(),
                                    [&](const auto& value) { return value.first == key; });
    return found == values.end() ? nullptr : &found->second;
}

}  // namespace

std::vector<SheetChange> sheet_changes(const std::string& before, const std::string& after) {
    const Values old_values = values_of(before);
    const Values new_values = values_of(after);
    std::vector<SheetChange> changes;
    for (const auto& [key, value] : new_values) {
        const std::string* was = value_at(old_values, key);
        if (was == nullptr || *was != value) {
            changes.push_back({key, was == nullptr ? "" : *was, value});
        }
    }
    for (const auto& [key, value] : old_values) {
        if (value_at(new_values, key) == nullptr) {
            changes.push_back({key, value, ""});
        }
    }
    return changes;
}

}  // namespace squaresight
