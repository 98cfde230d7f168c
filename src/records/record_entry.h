#pragma once
#include <nlohmann/json.hpp>
#include <string>

namespace squaresight {

/// A measured job, or a reviewer's signature under one.
enum class EntryKind { job, signature };

/// Stands for the hash of the entry before the first.
inline const std::string no_hash(64, '0');

/// One entry of a shop's chain (schema squaresight/entry/1; docs/records.md). Its hash is the
/// SHA-256 of its text, and its text holds the hash of the entry before it.
struct RecordEntry {
    std::string shop;
    int seq = 0;           ///< from 1, without gaps
    std::string previous;  ///< hash of entry seq - 1
    std::string at;        ///< UTC, as 2026-03-05T10:12:40Z
    std::string program;   ///< that wrote it
    EntryKind kind = EntryKind::job;
    std::string job;
    int revision = 0;  ///< of the job, from 1
    nlohmann::ordered_json content;
};

const char* kind_text(EntryKind kind);

/// The bytes that are stored and hashed: one line of JSON, keys in a fixed order.
std::string entry_text(const RecordEntry& entry);

/// Reads that text again. InputError where it is none.
RecordEntry parse_entry(const std::string& text);

}  // namespace squaresight
