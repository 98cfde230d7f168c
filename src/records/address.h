#pragma once
#include <string>

namespace squaresight {

/// The store that commands use unless another is named: a file in the current folder.
inline constexpr const char* usual_store = "squaresight-records.sqlite";
inline constexpr const char* usual_shop = "main";

/// Where records are kept: an SQLite file, or a PostgreSQL database.
struct StoreAddress {
    bool postgresql = false;
    std::string name;     ///< what messages call it
    std::string file;     ///< SQLite
    std::string connect;  ///< PostgreSQL: the driver's own form; never shown
    int wait_s = 10;      ///< for other writers, before giving up
};

/// A file name, or `postgresql://[user@]host[:port]/database`, as libpq has it. InputError for
/// another kind of address, or for one that holds a password; the text of an address is then not
/// repeated. A password comes from PGPASSWORD or the pass file.
StoreAddress parse_store_address(const std::string& text);

}  // namespace squaresight
