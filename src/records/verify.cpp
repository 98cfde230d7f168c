#include "records/verify.h"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <map>
#include <set>

#include "photo/photo.h"

namespace squaresight {
namespace {

constexpr int page_entries = 200;

/// What the chain needs to know of an entry.
struct Link {
    int place = 0;    ///< where it stands
    int written = 0;  ///< where it was written to stand, by its own text
    std::string job, hash, previous;
    bool altered = false;
};

class Verifier {
  public:
    Verifier(Store& store, const std::string& noted_head) : store_(store), noted_(noted_head) {}

    Verification run() {
        read_entries();
        std::optional<ChainHead> head;
        StoredCounts counts;
        store_.at_rest([&] {  // others may have written meanwhile
            read_entries();
            head = store_.head();
            counts = store_.counts();
        });
        check_places(head);
        check_links();
        check_head(head);
        if (links_.empty() || found_.problems.empty()) {
            check_beside(counts);
        }
        check_noted();
        found_.entries = static_cast<int>(links_.size());
        std::stable_sort(found_.problems.begin(), found_.problems.end(),
                         [](const auto& a, const auto& b) { return a.seq < b.seq; });
        return std::move(found_);
    }

  private:
    void tell(ChainFault fault, int seq, const std::string& text) {
        found_.problems.push_back({fault, seq, text});
    }

    static std::string named(const Link& link) {
        return fmt::format("entry {} (job {})", link.written, link.job);
    }

    /// Those that were not read yet.
    void read_entries() {
        for (;;) {
            const auto page = store_.entries(read_to_, page_entries);
            if (page.empty()) {
                return;
            }
            for (const auto& row : page) {
                take(row);
            }
            read_to_ = page.back().seq;
        }
    }

    void take(const StoredEntry& row) {
        Link link{row.seq, row.seq, row.job, row.hash, "", sha256_hex(row.text) != row.hash};
        try {
            const RecordEntry entry = parse_entry(row.text);
            link.previous = entry.previous;
            link.written = link.altered ? row.seq : entry.seq;
            check_columns(row, entry, link);
            if (entry.kind == EntryKind::job) {
                check_texts(entry, link);
                check_figures(row.seq, entry, link);
            }
        } catch (const std::exception&) {  // no entry's text, whatever it is
            link.altered = true;
        }
        if (link.altered) {
            tell(ChainFault::altered, link.written,
                 fmt::format("{} was altered: it is not what its hash was made of", named(link)));
        }
        links_.push_back(link);
    }

    void check_columns(const StoredEntry& row, const RecordEntry& entry, Link& link) {
        const bool same = row.kind == kind_text(entry.kind) && row.job == entry.job &&
                          row.revision == entry.revision && entry.shop == store_.shop() &&
                          row.identity == (entry.kind == EntryKind::job
                                               ? entry.content.at("identity").get<std::string>()
                                               : "");
        if (!same && !link.altered) {
            tell(ChainFault::altered, link.written,
                 fmt::format("{} was altered: a column beside it says something else than it",
                             named(link)));
        }
    }

    void check_text(const std::string& digest, const std::string& what, const Link& link) {
        if (!checked_texts_.insert(digest).second) {
            return;
        }
        const auto text = store_.text(digest);
        if (!text) {
            ++missing_texts_;
            tell(ChainFault::removed, link.written,
                 fmt::format("{}: its {} was removed", named(link), what));
        } else if (sha256_hex(*text) != digest) {
            tell(ChainFault::altered, link.written,
                 fmt::format("{}: its {} was altered", named(link), what));
        }
    }

    void check_texts(const RecordEntry& entry, const Link& link) {
        for (const auto& file : entry.content.at("files")) {
            check_text(file.at("sha256"), file.at("role"), link);
        }
        for (const auto& photo : entry.content.at("photos")) {
            if (!photo.at("corners").is_null()) {
                check_text(photo.at("corners"), "corners of " + photo.at("name").get<std::string>(),
                           link);
            }
        }
        check_text(entry.content.at("result"), "result", link);
    }

    void check_figures(int place, const RecordEntry& entry, const Link& link) {
        const auto tabled = store_.sightings(place - 1, place);
        sightings_ += static_cast<long long>(tabled.size());
        const auto written = entry_figures(entry);
        const auto same = [](const SightingFigures& a, const SightingFigures& b) {
            return std::all_of(
                figure_columns().begin(), figure_columns().end(),
                [&](const FigureColumn& column) { return column.text(a) == column.text(b); });
        };
        const bool moved = link.written != place;
        if (!moved && !link.altered &&
            !std::equal(tabled.begin(), tabled.end(), written.begin(), written.end(), same)) {
            const auto [fault, words] =
                tabled.size() < written.size()   ? std::pair(ChainFault::removed, "removed from")
                : tabled.size() > written.size() ? std::pair(ChainFault::inserted, "put into")
                                                 : std::pair(ChainFault::altered, "altered in");
            tell(fault, link.written,
                 fmt::format("{}: figures of it were {} the table of stages", named(link), words));
        }
    }

    /// Removed, inserted and reordered: by the places that the entries themselves were written to.
    void check_places(const std::optional<ChainHead>& head) {
        std::map<int, const Link*> standing;
        for (const auto& link : links_) {
            const Link*& best = standing[link.written];
            best = best == nullptr || claim(link, head) > claim(*best, head) ? &link : best;
        }
        const int last = head ? head->seq : links_.empty() ? 0 : standing.rbegin()->first;
        for (const auto& link : links_) {
            if (standing[link.written] == &link && link.written >= 1 && link.written <= last) {
                chain_.push_back(&link);
            } else {
                tell(ChainFault::inserted, link.written,
                     fmt::format("{} at place {} was inserted: the chain does not lead over it",
                                 named(link), link.place));
            }
        }
        for (int seq = 1; seq <= last; ++seq) {
            if (!standing.contains(seq)) {
                tell(ChainFault::removed, seq, fmt::format("entry {} was removed", seq));
            }
        }
        check_order();
    }

    /// How well an entry's claim to its place is borne out, where several claim one: by the entry
    /// or head that was written upon it, then by where it stands.
    int claim(const Link& link, const std::optional<ChainHead>& head) const {
        const bool followed =
            (head && head->hash == link.hash) ||
            std::any_of(links_.begin(), links_.end(), [&](const Link& other) {
                return other.written == link.written + 1 && other.previous == link.hash;
            });
        return (followed ? 2 : 0) + (link.place == link.written ? 1 : 0);
    }

    void check_order() {
        auto sorted = chain_;
        std::stable_sort(sorted.begin(), sorted.end(),
                         [](const Link* a, const Link* b) { return a->written < b->written; });
        for (std::size_t i = 0; i < chain_.size(); ++i) {
            if (chain_[i]->written != sorted[i]->written) {
                tell(ChainFault::reordered, chain_[i]->written,
                     fmt::format("{} was reordered: it stands at place {}", named(*chain_[i]),
                                 chain_[i]->place));
            }
        }
        chain_ = sorted;
    }

    void check_links() {
        for (std::size_t i = 0; i < chain_.size(); ++i) {
            const Link& link = *chain_[i];
            const bool first = link.written == 1;
            const Link* before = i == 0 ? nullptr : chain_[i - 1];
            if (link.altered || (!first && (!before || before->written != link.written - 1))) {
                continue;
            }
            const std::string& expected = first ? no_hash : before->hash;
            if (link.previous != expected) {
                const Link& changed = first ? link : *before;
                tell(ChainFault::altered, changed.written,
                     fmt::format("{} was altered and hashed anew: entry {} was written after "
                                 "another text",
                                 named(changed), link.written));
            }
        }
    }

    void check_head(const std::optional<ChainHead>& head) {
        found_.head = head.value_or(ChainHead{});
        if (!head) {
            tell(ChainFault::head, 0,
                 links_.empty() ? "the head record and all entries were removed"
                                : "the head record was removed: entries behind the last may be "
                                  "gone too");
            return;
        }
        if (chain_.empty() || chain_.back()->written != head->seq) {
            return;  // told as removed
        }
        if (chain_.back()->hash != head->hash) {
            tell(ChainFault::altered, head->seq,
                 fmt::format("{} was altered and hashed anew: the head record was written after "
                             "another text",
                             named(*chain_.back())));
        }
    }

    void check_noted() {
        if (noted_.empty()) {
            return;
        }
        for (const auto* link : chain_) {
            if (link->hash == noted_) {
                found_.noted_at = link->written;
                return;
            }
        }
        tell(ChainFault::head, found_.head.seq,
             "the head that was written down is not in this chain: it was copied wrongly, or "
             "entries "
             "up to it were removed, or altered and all hashed anew");
    }

    /// Rows of the other tables that no entry speaks of.
    void check_beside(const StoredCounts& counts) {
        const auto tell_of = [&](long long more, const char* what) {
            if (more > 0) {
                tell(links_.empty() ? ChainFault::removed : ChainFault::inserted, found_.head.seq,
                     fmt::format("{} {} in the store and no entry speaks of {}: {}", more,
                                 more == 1 ? "row of " + std::string(what) + " lies"
                                           : "rows of " + std::string(what) + " lie",
                                 more == 1 ? "it" : "them",
                                 links_.empty() ? "their entries were removed"
                                                : "inserted, or their entries were removed"));
            }
        };
        tell_of(counts.sightings - sightings_, "figures");
        tell_of(counts.texts - static_cast<long long>(checked_texts_.size()) + missing_texts_,
                "texts");
    }

    Store& store_;
    std::string noted_;
    Verification found_;
    int read_to_ = std::numeric_limits<int>::min();  ///< also what was put before place 1
    std::vector<Link> links_;
    std::vector<const Link*> chain_;  ///< without what was inserted, by its own order
    std::set<std::string> checked_texts_;
    long long missing_texts_ = 0;  ///< of these
    long long sightings_ = 0;      ///< rows of figures that were held against their entries
};

}  // namespace

const char* fault_text(ChainFault fault) {
    switch (fault) {
        case ChainFault::altered:
            return "altered";
        case ChainFault::removed:
            return "removed";
        case ChainFault::inserted:
            return "inserted";
        case ChainFault::reordered:
            return "reordered";
        case ChainFault::head:
            break;
    }
    return "head";
}

Verification verify_store(Store& store, const std::string& noted_head) {
    return Verifier(store, noted_head).run();
}

}  // namespace squaresight
