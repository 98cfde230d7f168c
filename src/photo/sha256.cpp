#include <fmt/format.h>
#include <openssl/evp.h>

#include <array>
#include <new>

#include "photo/photo.h"

namespace squaresight {

std::string sha256_hex(const std::string& bytes) {
    std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
    unsigned size = 0;
    if (EVP_Digest(bytes.data(), bytes.size(), digest.data(), &size, EVP_sha256(), nullptr) != 1) {
        throw std::bad_alloc();
    }
    std::string hex;
    for (unsigned n = 0; n < size; ++n) {
        hex += fmt::format("{:02x}", digest[n]);
    }
    return hex;
}

}  // namespace squaresight
