#include "records/address.h"

#include <fmt/format.h>
#include <libpq-fe.h>

#include <algorithm>
#include <cctype>
#include <memory>
#include <string_view>

#include "units/error.h"

namespace squaresight {
namespace {

constexpr const char* password_advice =
    "leave it out, and put it into the environment variable PGPASSWORD or into the pass file "
    "(~/.pgpass)";

[[noreturn]] void refuse_password() {
    throw InputError("--store", "the address holds a password, which others could read",
                     password_advice);
}

std::string lower(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(),
                   [](unsigned char letter) { return static_cast<char>(std::tolower(letter)); });
    return text;
}

/// "name='value'" with quotes and backslashes escaped, as libpq reads it.
std::string setting(std::string_view name, std::string_view value) {
    std::string text = fmt::format("{}='", name);
    for (const char letter : value) {
        text += letter == '\'' || letter == '\\' ? std::string("\\") + letter : std::string{letter};
    }
    return text + "' ";
}

struct FreeOptions {
    void operator()(PQconninfoOption* options) const { PQconninfoFree(options); }
};

StoreAddress postgresql_address(const std::string& text) {
    const std::unique_ptr<PQconninfoOption, FreeOptions> options(
        PQconninfoParse(text.c_str(), nullptr));
    if (!options) {
        throw InputError("--store", "the address of the PostgreSQL database cannot be read",
                         "write it as postgresql://user@host:5432/database, without a password");
    }
    StoreAddress address;
    address.postgresql = true;
    std::string database, host;
    for (const auto* option = options.get(); option->keyword != nullptr; ++option) {
        const std::string_view name = option->keyword;
        const std::string_view value = option->val == nullptr ? "" : option->val;
        if (value.empty()) {
            continue;
        }
        const bool secret = name.find("password") != std::string_view::npos && name != "passfile";
        if (secret || (name == "user" && value.find(':') != std::string_view::npos)) {
            refuse_password();
        }
        database = name == "dbname" ? std::string(value) : database;
        host = name == "host" ? std::string(value) : host;
        if (name != "client_encoding") {
            address.connect += setting(name, value);
        }
    }
    address.connect += setting("client_encoding", "UTF8");
    address.name =
        fmt::format("PostgreSQL database '{}'{}", database.empty() ? "(usual)" : database,
                    host.empty() ? "" : " on " + host);
    return address;
}

}  // namespace

StoreAddress parse_store_address(const std::string& text) {
    const std::string lowered = lower(text);
    if (lowered.starts_with("postgresql://") || lowered.starts_with("postgres://")) {
        const auto scheme = lowered.find("://");
        return postgresql_address(lowered.substr(0, scheme) + text.substr(scheme));
    }
    if (lowered.find("password=") != std::string::npos) {
        refuse_password();
    }
    if (text.find("://") != std::string::npos || lowered.starts_with("postgres")) {
        throw InputError("--store", "is an address of a kind that is not known",
                         "name an SQLite file, or postgresql://user@host/database");
    }
    if (text.empty() || text.find('"') != std::string::npos ||
        text.find('\0') != std::string::npos) {
        throw InputError("--store", "is no usable file name", "name a file without quotes");
    }
    StoreAddress address;
    address.name = text;
    address.file = text;
    return address;
}

}  // namespace squaresight
