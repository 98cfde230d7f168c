#pragma once
#include <string>
#include <vector>

namespace squaresight::bay {

enum class Language { english, spanish };

/// The language that a browser asks for first among those that are there (RFC 9110,
/// Accept-Language, with its weights); English where it asks for none of them.
Language chosen_language(const std::string& accept_language);

const char* language_tag(Language language);  ///< "en", "es"

/// A sentence or label of the page. std::out_of_range for a key that does not exist.
const std::string& message(Language language, const std::string& key);

struct Message {
    std::string key, english, spanish;
};

/// Every message, in the catalogue's order.
const std::vector<Message>& messages();

}  // namespace squaresight::bay
