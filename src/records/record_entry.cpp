#include "records/record_entry.h"

#include "units/error.h"

namespace squaresight {
namespace {

using Json = nlohmann::ordered_json;
constexpr const char* schema = "squaresight/entry/1";

}  // namespace

const char* kind_text(EntryKind kind) { return kind == EntryKind::job ? "job" : "signature"; }

std::string entry_text(const RecordEntry& entry) {
    const Json json{{"schema", schema},
                    {"shop", entry.shop},
                    {"seq", entry.seq},
                    {"previous", entry.previous},
                    {"at", entry.at},
                    {"program", entry.program},
                    {"kind", kind_text(entry.kind)},
                    {"job", entry.job},
                    {"revision", entry.revision},
                    {"content", entry.content}};
    return json.dump();
}

RecordEntry parse_entry(const std::string& text) {
    try {
        const Json json = Json::parse(text);
        RecordEntry entry;
        if (json.at("schema") != schema) {
            throw InputError("records: an entry has the schema " + json.at("schema").dump() +
                             ", which this program does not know; update this program");
        }
        json.at("shop").get_to(entry.shop);
        json.at("seq").get_to(entry.seq);
        json.at("previous").get_to(entry.previous);
        json.at("at").get_to(entry.at);
        json.at("program").get_to(entry.program);
        entry.kind = json.at("kind") == "job" ? EntryKind::job : EntryKind::signature;
        json.at("job").get_to(entry.job);
        json.at("revision").get_to(entry.revision);
        entry.content = json.at("content");
        return entry;
    } catch (const Json::exception&) {
        throw InputError("records", "an entry cannot be read", "run squaresight records verify");
    }
}

}  // namespace squaresight
