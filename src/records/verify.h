#pragma once
#include <string>
#include <vector>

#include "records/store.h"

namespace squaresight {

/// What is wrong at one place of a chain.
enum class ChainFault { altered, removed, inserted, reordered, head };

struct ChainProblem {
    ChainFault fault = ChainFault::altered;
    int seq = 0;       ///< of the entry
    std::string text;  ///< one sentence that names the entry
};

const char* fault_text(ChainFault fault);

struct Verification {
    ChainHead head;                      ///< as the store records it
    int entries = 0;                     ///< that were read
    std::vector<ChainProblem> problems;  ///< by place; none: every byte is as it was written
    /// Place of the entry whose hash was written down; absent where none was asked for or found.
    std::optional<int> noted_at;
};

/// Reads a whole shop: every entry against its hash, its place and the entry before it, the head
/// record, every text against its digest, and the tables against the entries, also for rows that no
/// entry speaks of. Others may write meanwhile. `noted_head` is a
/// head that was written down earlier (empty: none): only that tells of a chain whose end was cut
/// off or rewritten together with the head record. It must still be in the chain.
Verification verify_store(Store& store, const std::string& noted_head = "");

}  // namespace squaresight
